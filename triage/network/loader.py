"""Strict reader of network files (networks/README.md): all problems of a file at once.

A file is read in three steps, each of which goes on after a problem: YAML with line marks
(``yaml_marks``), entries by themselves (``schema``, ``files``), entries against each other
(``build_*``, ``checks``). O(n) in the length of the files, about 0.02 ms a line.
"""

from pathlib import Path

from triage.errors import NetworkFileError
from triage.network.build import build_network
from triage.network.files import read_entries
from triage.network.report import Report
from triage.network.shipped import shown_path
from triage.network.values import FaultNetwork


def read_network(path: str | Path) -> FaultNetwork:
    """Read a network file and the fragments it includes.

    Parameters
    ----------
    path : str or Path
        File of a network. Fragments are looked up in ``fragments/`` beside it, then among those
        that are shipped.

    Returns
    -------
    FaultNetwork
        With all names resolved to numbers; costs in minor money units.

    Raises
    ------
    NetworkFileError
        The file or a fragment has problems; the error lists every one with its line.
    """
    network, problems = _read(Path(path))
    place = shown_path(Path(path))
    if network is None:
        is_fragment = "got a fragment by itself; expected the file of a network."
        raise NetworkFileError(place, problems or (f"{place}:1: {is_fragment}",))
    return network


def read_network_text(text: str, network_id: str) -> FaultNetwork:
    """Read a network from the text of one file that includes nothing of its own folder.

    Parameters
    ----------
    text : str
        As ``triage.network.dump.dump_network`` writes it.
    network_id : str
        Which the text has to name, as the file of a network has its name.

    Raises
    ------
    NetworkFileError
        The text has problems; the error lists every one with its line.
    """
    place = f"{network_id}.yaml"
    network, problems = _read(Path(place), text)
    if network is None:
        raise NetworkFileError(place, problems or (f"{place}:1: got a fragment.",))
    return network


def check_file(path: str | Path) -> tuple[str, ...]:
    """Problems of a network file or a fragment, one line each; empty if it is good.

    A fragment is checked as far as it can be by itself: a name that is defined neither in it nor
    in what it includes is no problem.
    """
    _, problems = _read(Path(path))
    return problems


def _read(path: Path, text: str | None = None) -> tuple[FaultNetwork | None, tuple[str, ...]]:
    report = Report()
    entries = read_entries(path, report, text)
    network = build_network(entries, report)
    return network, report.problems
