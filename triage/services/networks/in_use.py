"""Versions of fault networks: which one is in use, and any that ever was.

A network comes with the program as a file; the shop's own versions are texts in the store. Both
have numbers, and a version never changes: what a call was told follows from its events and the
version that stands with them. A shipped version is kept in the store, too, as soon as a call uses
it, so that it is still there after an update of the program.

Where nothing was ever put in use, the file that came with the program is.
"""

from dataclasses import replace
from datetime import datetime
from functools import cache, lru_cache
from hashlib import sha256
from pathlib import Path
from typing import TYPE_CHECKING

from triage.errors import UnknownVersionError
from triage.inference.engine import Engine
from triage.network.catalogue import load_network
from triage.network.dump import dump_network
from triage.network.values import FaultNetwork
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.networks.engines import engine_for, engine_under
from triage.services.networks.scope import OTHER_KINDS
from triage.store.database import Database
from triage.store.networks import (
    NewVersion,
    add_version,
    highest_version,
    list_versions,
    newest_use,
    shipped_version,
    version_text,
)

if TYPE_CHECKING:
    from sqlalchemy.orm import Session

VERSIONS_KEPT = 24  # engines of versions, per process
SHIPPED = "shipped"


def network_in_use(database: Database, network_id: str) -> FaultNetwork:
    """Network that new calls use; of another kind of machine, the one whose dangers it has.

    Raises
    ------
    UnknownNetworkError
        No network of that name is shipped.
    """
    return engine_in_use(database, network_id).network


def engine_in_use(
    database: Database, network_id: str, settings: ShopSettings = DEFAULT_SETTINGS
) -> Engine:
    """Engine of the network that new calls use, under the settings of the shop."""
    name = own_network(network_id)
    with database.reading() as session:
        version = number_in_use(session, name)
    return engine_of_version(database, name, version, settings)


def network_version(database: Database, network_id: str, version: int) -> FaultNetwork:
    """Version of a network, or ``UnknownVersionError``."""
    return engine_of_version(database, network_id, version).network


def engine_of_version(
    database: Database,
    network_id: str,
    version: int,
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> Engine:
    """Engine of a version of a network, under the settings of a shop.

    Raises
    ------
    UnknownNetworkError, UnknownVersionError
    """
    return engine_under(_engine(database, own_network(network_id), version), settings)


def engine_of_call(
    database: Database,
    network_id: str,
    version: int,
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> Engine:
    """Engine of the version that a call was opened with.

    A call from before versions were kept may name one that nobody has any more; it goes on with
    the version in use.
    """
    try:
        return engine_of_version(database, network_id, version, settings)
    except UnknownVersionError:
        return engine_in_use(database, network_id, settings)


def network_of_call(database: Database, network_id: str, version: int) -> FaultNetwork:
    """Network of the version that a call was opened with; see ``engine_of_call``.

    It is read without an engine, for pages that only name things.
    """
    try:
        return _network(database, own_network(network_id), version)
    except UnknownVersionError:
        return network_in_use(database, network_id)


def own_network(name: str) -> str:
    """Name of the network of a machine; of another kind, of the one whose dangers it has."""
    return OTHER_KINDS[name].dangers_of if name in OTHER_KINDS else name


def number_in_use(session: "Session", network_id: str) -> int:
    """Number of the version that new calls use."""
    use = newest_use(session, network_id)
    return number_of_shipped(session, network_id) if use is None else use.version


def number_of_shipped(session: "Session", network_id: str) -> int:
    """Number of the version that came with the program: the one of its file, unless it is taken."""
    filed = load_network(network_id).version
    kept = list_versions(session, network_id)
    if not kept:
        return filed
    found = shipped_version(session, network_id, shipped_digest(network_id))
    if found is not None:
        return found
    taken = {one.version for one in kept}
    return filed if filed not in taken else highest_version(session, network_id) + 1


def keep_shipped(session: "Session", network_id: str, at: datetime, by: str) -> int:
    """Keep the version that came with the program, unless it is; gives its number."""
    number = number_of_shipped(session, network_id)
    if shipped_version(session, network_id, shipped_digest(network_id)) is None:
        add_version(
            session,
            NewVersion(
                network_id=network_id,
                version=number,
                parent_version=0,
                origin=SHIPPED,
                digest=shipped_digest(network_id),
                text=_shipped_text(network_id, number),
                state="approved",
                why={},
                at=at,
                by=by,
                reason="Came with the program.",
            ),
        )
    return number


def digest_of(text: str) -> str:
    """Digest by which a text is recognised."""
    return sha256(text.encode()).hexdigest()


@cache
def shipped_digest(network_id: str) -> str:
    """Digest of the network that came with the program."""
    return digest_of(_shipped_text(network_id, load_network(network_id).version))


@cache
def _shipped_text(network_id: str, number: int) -> str:
    return dump_network(_numbered(load_network(network_id), number))


@lru_cache(maxsize=VERSIONS_KEPT)
def _engine(database: Database, network_id: str, version: int) -> Engine:
    network, shipped = _network(database, network_id, version), engine_for(network_id)
    return shipped if network is shipped.network else Engine(network)


@lru_cache(maxsize=VERSIONS_KEPT)
def _network(database: Database, network_id: str, version: int) -> FaultNetwork:
    from triage.network.loader import read_network_text  # pydantic takes 70 ms to load

    with database.reading() as session:
        text = version_text(session, network_id, version)
        known = [one.version for one in list_versions(session, network_id)]
        own = number_of_shipped(session, network_id)
    if version == own:
        return _numbered(load_network(network_id), version)
    if text is None:
        raise UnknownVersionError(network_id, version, [*known, own])
    return read_network_text(text, Path(network_id).stem)


def _numbered(network: FaultNetwork, version: int) -> FaultNetwork:
    return network if network.version == version else replace(network, version=version)
