"""What the ids of a call mean: titles of the version it was opened with.

A later version may call the same thing otherwise, and may have dropped it. An old call goes on
saying what it said. An id that its version does not have, such as one that was renamed when a job
came in from a file, takes the title of the version in use; one that neither has stands for itself.
"""

from collections.abc import Iterable, Mapping

from triage.network.values import FaultNetwork, NetworkIndex
from triage.services.networks.in_use import network_in_use, network_of_call
from triage.services.networks.scope import OTHER_KINDS
from triage.store.database import Database


def titles_of_call(database: Database, network_id: str, version: int) -> Mapping[str, str]:
    """Title of every cause, repair, part and observation, by id; none of other kinds of machines.

    Parameters
    ----------
    database : Database
    network_id : str
        Appliance kind of the call.
    version : int
        Version of the network that stands with the call.
    """
    if network_id in OTHER_KINDS:
        return {}
    now = network_in_use(database, network_id)
    then = network_of_call(database, network_id, version)
    return _titles(then) if then is now else {**_titles(now), **_titles(then)}


def titles_of_versions(
    database: Database, versions: Iterable[tuple[str, int]]
) -> Mapping[tuple[str, int], Mapping[str, str]]:
    """Titles of each network and version that a list of calls names; each is looked up once."""
    return {one: titles_of_call(database, *one) for one in set(versions)}


def _titles(network: FaultNetwork) -> Mapping[str, str]:
    index = NetworkIndex(network)
    return {
        **{entry.id: entry.title for entry in network.repairs.values()},
        **{entry.id: entry.title for entry in network.parts.values()},
        **{entry.id: entry.title for entry in network.observations.values()},
        **{mode: index.mode_title(mode) for mode in index.modes},
    }


def title_of(titles: Mapping[str, str], name: str) -> str:
    """Title of an id; its own words where nobody knows it any more.

    >>> title_of({"clear_drain_pump": "Clear the drain pump"}, "belt.worn_out")
    'belt: worn out'
    """
    return titles.get(name) or name.replace(".", ": ").replace("_", " ")
