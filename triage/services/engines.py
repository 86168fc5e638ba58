"""Engines by network name, built once per process."""

from functools import lru_cache

from triage.inference.engine import Engine
from triage.network.catalogue import load_network, network_names


@lru_cache(maxsize=16)
def engine_for(name_or_path: str) -> Engine:
    """Engine of a shipped network, or of the file at a path.

    Raises
    ------
    UnknownNetworkError, NetworkFileError
    """
    return Engine(load_network(name_or_path))


def network_choices() -> tuple[tuple[str, str], ...]:
    """Id and title of every shipped network, in the order of their titles."""
    titles = ((name, load_network(name).title) for name in network_names())
    return tuple(sorted(titles, key=lambda choice: choice[1]))
