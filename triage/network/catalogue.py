"""The network files that are shipped, by name."""

from functools import cache
from pathlib import Path

from triage.errors import UnknownNetworkError
from triage.network.shipped import shipped_folder
from triage.network.values import FaultNetwork


def network_names() -> tuple[str, ...]:
    """Names of the shipped networks, sorted; fragments are not among them."""
    return tuple(sorted(path.stem for path in shipped_folder().glob("*.yaml")))


def network_source(name: str) -> Path:
    """File of a shipped network, or ``UnknownNetworkError``."""
    known = network_names()
    if name not in known:
        raise UnknownNetworkError(name, known)
    return shipped_folder() / f"{name}.yaml"


def load_network(name_or_path: str | Path) -> FaultNetwork:
    """Load a fault network.

    Parameters
    ----------
    name_or_path : str or Path
        Name of a shipped network, or path of a ``.yaml`` file. A shipped network is read once per
        process.

    Returns
    -------
    FaultNetwork
        See ``triage.network.loader.read_network``.

    Raises
    ------
    UnknownNetworkError
        No network of that name is shipped.
    NetworkFileError
        The file has problems; the error lists every one with its line.
    """
    if isinstance(name_or_path, Path) or name_or_path.endswith((".yaml", ".yml")):
        return _read(Path(name_or_path))
    return _shipped(network_source(name_or_path))


@cache
def _shipped(path: Path) -> FaultNetwork:
    return _read(path)


def _read(path: Path) -> FaultNetwork:
    # pydantic takes 70 ms to import, and commands that only name the networks do without it.
    from triage.network.loader import read_network

    return read_network(path)
