"""A later version of the washer's network in which everything is called otherwise."""

from dataclasses import replace
from datetime import datetime

from triage.network.catalogue import load_network
from triage.network.dump import dump_network
from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.networks.in_use import digest_of
from triage.store.networks import NewVersion, StoredUse, add_use, add_version

WASHER = "top_load_washer"
LATER = 2
MARK = "NEW NAME "


def renamed_washer() -> FaultNetwork:
    """Washer whose causes, repairs, parts, observations and dangers have another title."""
    network = load_network(WASHER)
    changed = {
        name: {
            one: replace(entry, title=f"{MARK}{entry.title}")
            for one, entry in getattr(network, name).items()
        }
        for name in ("components", "repairs", "parts", "observations", "safety_flags")
    }
    return replace(network, version=LATER, **changed)


def put_in_use(database: Database, at: datetime) -> None:
    """Put the renamed network in use for new calls."""
    text = dump_network(renamed_washer())
    with database.writing() as session:
        add_version(
            session,
            NewVersion(
                network_id=WASHER,
                version=LATER,
                parent_version=1,
                origin="learned",
                digest=digest_of(text),
                text=text,
                state="approved",
                why={},
                at=at,
                by="boss",
                reason="Other words",
            ),
        )
        add_use(
            session,
            StoredUse(network_id=WASHER, version=LATER, since=at, by="boss", reason="Other words"),
        )
