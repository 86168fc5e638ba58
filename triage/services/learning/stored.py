"""Closed jobs in the store as records, and records as learning sees them."""

from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from datetime import datetime

from triage.inference.evidence import Finding
from triage.learning.values import CallBack, ClosedJob, Complaint, ConfirmedCause
from triage.network.renames import RenameTable, shipped_renames
from triage.network.values import FaultNetwork
from triage.services.booking.promise import promised_of
from triage.services.call_log.events import FindingMade
from triage.services.calls.calls import Database
from triage.services.closing.for_learning import CONFIRMATIONS, OUTCOMES
from triage.services.closing.keeping import given_of
from triage.services.closing.story import story_of
from triage.services.closing.values import CallBackKind
from triage.services.learning.ids import IdsOf, under
from triage.services.learning.records import JobRecord
from triage.services.networks.scope import OTHER_KINDS
from triage.store.calls import StoredCall
from triage.store.closings import ClosingFilter, StoredClosing
from triage.store.imports import walk_jobs

CALLER, TECHNICIAN = "caller", "technician"


def stored_records(
    database: Database, network_id: str = "", since: datetime | None = None
) -> tuple[JobRecord, ...]:
    """Closed jobs of one appliance kind, or of all that the shop repairs, oldest first.

    Jobs of files and of the program alike; ``job`` is the number here.
    """
    wanted = ClosingFilter(network_id=network_id, since=since)
    with database.reading() as session:
        return tuple(
            record_of(closing, call, timed)
            for closing, call, timed in walk_jobs(session, wanted)
            if closing.network_id not in OTHER_KINDS
        )


def record_of(closing: StoredClosing, call: StoredCall, timed: Mapping[str, float]) -> JobRecord:
    """Record of a job in the store; ``timed`` are minutes of its steps that a file told."""
    story, given, data = story_of(call), given_of(closing.data), closing.data
    findings = [
        (one.event.observation, one.event.answer)
        for one in story.before_first_repair
        if isinstance(one.event, FindingMade)
    ]
    return JobRecord(
        job=str(closing.call_id),
        source=closing.source,
        appliance=closing.network_id,
        network_version=call.network_version,
        opened_at=closing.opened_at,
        closed_at=closing.closed_at,
        taken_by=closing.opened_by,
        closed_by=closing.closed_by,
        outcome=given.outcome,
        findings=tuple(findings),
        causes=given.causes,
        is_unsure=given.is_unsure,
        repairs=given.repairs,
        verification=given.verification,
        parts=given.parts,
        minutes=given.minutes,
        step_minutes={**story.minutes, **timed},
        visits=given.visits,
        callback_of=str(data.callback_of_id or ""),
        callback_kind=given.callback_kind,
        fee_minor=data.fee_minor,
        labour_minor=data.labour_minor,
        tax_minor=data.tax_minor,
        total_minor=data.total_minor,
        currency=data.currency,
        promised=promised_of(data.promised),
    )


def jobs_to_learn(
    records: Iterable[JobRecord],
    network: FaultNetwork,
    *,
    renames: RenameTable | None = None,
    left_out: Counter[str] | None = None,
) -> tuple[ClosedJob, ...]:
    """Jobs of a network as learning sees them, with their ids as the network has them today.

    A job that was called back says so. ``left_out`` counts what the network does not have.
    """
    ids = IdsOf(network, renames or shipped_renames())
    own = [record for record in records if record.appliance == network.id]
    backs = _call_backs(own)
    return tuple(
        _closed_job(under(record, ids, left_out), network, backs.get(_key(record)))
        for record in own
    )


def _call_backs(records: Sequence[JobRecord]) -> dict[tuple[str, str], CallBack]:
    """First call-back of each job, by source and number."""
    closed = {_key(record): record for record in records}
    found: dict[tuple[str, str], CallBack] = {}
    for record in records:
        earlier = closed.get((record.source, record.callback_of)) or _by_number(record, closed)
        if earlier is None or _key(earlier) in found:
            continue
        is_same = record.callback_kind is CallBackKind.SAME
        found[_key(earlier)] = CallBack(
            days=max(0, (record.opened_at - earlier.closed_at).days),
            complaint=Complaint.SAME if is_same else Complaint.NEW,
        )
    return found


def _by_number(record: JobRecord, closed: Mapping[tuple[str, str], JobRecord]) -> JobRecord | None:
    """Earlier job that came from elsewhere: numbers in the store are those of calls."""
    if not record.callback_of:
        return None
    return next((one for key, one in closed.items() if key[1] == record.callback_of), None)


def _key(record: JobRecord) -> tuple[str, str]:
    return record.source, record.job


def _closed_job(record: JobRecord, network: FaultNetwork, back: CallBack | None) -> ClosedJob:
    is_unsure = record.is_unsure and len(record.causes) > 1
    suspected = {cause.cause: cause.weight for cause in record.causes} if is_unsure else {}
    total = sum(suspected.values())
    scale = 1.0 / total if total > 1.0 else 1.0
    return ClosedJob(
        id=f"{record.source} {record.job}",
        network=record.appliance,
        network_version=record.network_version,
        closed_at=record.closed_at,
        outcome=OUTCOMES[record.outcome],
        findings=tuple(
            Finding(name, answer, _by(network, name)) for name, answer in record.findings
        ),
        causes=()
        if is_unsure
        else tuple(
            ConfirmedCause(mode=cause.cause, confirmation=CONFIRMATIONS[cause.degree])
            for cause in record.causes
        ),
        suspected={name: weight * scale for name, weight in suspected.items()},
        chose_diagnosis=tuple(
            dict.fromkeys(name for cause in record.causes for name in cause.chosen_by)
        ),
        minutes=dict(record.step_minutes),
        call_back=back,
        person=record.taken_by,
    )


def _by(network: FaultNetwork, observation: str) -> str:
    return TECHNICIAN if network.observations[observation].channel.is_on_site else CALLER
