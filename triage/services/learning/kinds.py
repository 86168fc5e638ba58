"""Other appliance kinds that a shop repairs, with their closed jobs: what a network may borrow."""

from collections.abc import Sequence

from triage.learning.pooling import KindJobs
from triage.network.catalogue import load_network, network_names
from triage.services.calls.calls import Database
from triage.services.learning.records import JobRecord
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import base_of
from triage.services.networks.in_use import network_in_use


def other_kinds(database: Database, network_id: str) -> tuple[KindJobs, ...]:
    """Every other kind with closed jobs, from before any of them was counted."""
    found = []
    for name in network_names():
        records = () if name == network_id else stored_records(database, name)
        if records:
            base = base_of(database, name, network_in_use(database, name).version)
            found.append((base, jobs_to_learn(records, base)))
    return tuple(found)


def other_kinds_among(records: Sequence[JobRecord], network_id: str) -> tuple[KindJobs, ...]:
    """Every other kind with jobs among these records, as it came with the program."""
    names = {record.appliance for record in records} - {network_id}
    kinds = [load_network(name) for name in network_names() if name in names]
    return tuple((kind, jobs_to_learn(records, kind)) for kind in kinds)
