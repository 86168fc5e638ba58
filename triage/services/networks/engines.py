"""Engines by network and shop settings, built once per process."""

from functools import lru_cache

from triage.inference.engine import Engine
from triage.network.catalogue import load_network, network_names
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings

NETWORKS_KEPT = 16
SETTINGS_KEPT = 32  # engines of networks under settings of their own


def engine_for(name_or_path: str, settings: ShopSettings = DEFAULT_SETTINGS) -> Engine:
    """Engine of a shipped network, or of the file at a path, under the settings of a shop.

    Settings that change nothing of the network share its engine.

    Raises
    ------
    UnknownNetworkError, NetworkFileError
    """
    return engine_under(_engine_as_filed(name_or_path), settings)


@lru_cache(maxsize=SETTINGS_KEPT)
def engine_under(engine: Engine, settings: ShopSettings) -> Engine:
    """Engine of the same network under the settings of a shop; itself if they change nothing."""
    own = settings.applied_to(engine.network)
    return engine if own is engine.network else Engine(own)


@lru_cache(maxsize=NETWORKS_KEPT)
def _engine_as_filed(name_or_path: str) -> Engine:
    return Engine(load_network(name_or_path))


def network_choices() -> tuple[tuple[str, str], ...]:
    """Id and title of every shipped network, in the order of their titles."""
    titles = ((name, load_network(name).title) for name in network_names())
    return tuple(sorted(titles, key=lambda choice: choice[1]))
