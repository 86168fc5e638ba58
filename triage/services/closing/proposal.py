"""What is filled in when the page that closes a job is opened."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from itertools import groupby

from triage.inference.engine import Cause, Engine
from triage.network.values import FaultNetwork, RepairBy
from triage.planning.shop.settings import PartSettings, ShopSettings
from triage.services.call_log.events import CallOutcome
from triage.services.closing.amounts import half_up, minor_of_minutes
from triage.services.closing.causes import LIKELY, is_no_fault, proposed_causes
from triage.services.closing.story import Story
from triage.services.closing.values import CallBackKind, ClosingGiven, ClosingOutcome, PartUsed
from triage.services.job.events import Verified
from triage.store.closings import StoredClosing, VisitTimes

STILL_THERE = timedelta(hours=1)  # after the last entry: closing belongs to the visit
# How the call ended says how the job ended where nobody came.
OF_CALL = {
    CallOutcome.SOLVED_BY_PHONE: ClosingOutcome.SOLVED_BY_PHONE,
    CallOutcome.NORMAL_EXPLAINED: ClosingOutcome.NO_FAULT_FOUND,
    CallOutcome.DECLINED: ClosingOutcome.DECLINED,
    CallOutcome.VISIT_NOT_WORTH_REPAIRING: ClosingOutcome.DECLINED,
    CallOutcome.REFER_OUT: ClosingOutcome.REFERRED_OUT,
    CallOutcome.STOPPED_FOR_SAFETY: ClosingOutcome.REFERRED_OUT,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class EarlierJob:
    """An earlier job of the same customer, to which the present one may be a call-back.

    ``days`` lie between its end and the present call. ``is_same_machine`` holds only where both
    machines are on record.
    """

    call_id: int
    days: int
    network_id: str
    causes: tuple[str, ...]
    parts: frozenset[str]
    is_same_machine: bool
    has_same_complaint: bool


def earlier_job(
    closed: StoredClosing, machine_id: int | None, story: Story, its_story: Story | None
) -> EarlierJob:
    """Earlier job as it is offered; the complaint is the same if a sign was named both times."""
    named = set() if its_story is None else its_story.volunteered
    return EarlierJob(
        call_id=closed.call_id,
        days=max(0, (story.call.opened_at - closed.closed_at).days),
        network_id=closed.network_id,
        causes=tuple(str(entry["cause"]) for entry in closed.data.causes),
        parts=frozenset(part.part_id for part in closed.data.parts),
        is_same_machine=machine_id is not None and closed.machine_id == machine_id,
        has_same_complaint=bool(named & story.volunteered),
    )


def proposed(
    story: Story,
    engine: Engine,
    settings: ShopSettings,
    ranked: Sequence[Cause],
    visits: Sequence[VisitTimes],
    earlier: Sequence[EarlierJob],
    now: datetime,
) -> ClosingGiven:
    """Closing of a job before anybody has touched it."""
    outcome = _outcome(story, engine, ranked)
    came = _times_came(story, visits, now)
    parts = _parts(story, engine.network, settings, _guaranteed(earlier, settings))
    back, kind = _call_back(story, earlier, settings)
    is_free = back is not None and _is_own_guarantee(back, kind, settings)
    fee = 0 if came == 0 or is_free else settings.costs.service_fee_minor
    is_repaired = outcome is ClosingOutcome.REPAIRED and came > 0
    return ClosingGiven(
        outcome=outcome,
        causes=proposed_causes(story, engine, ranked) if came or story.repairs else (),
        repairs=tuple(dict.fromkeys(done.repair for done in story.repairs)),
        verification=story.repairs[-1].verified if story.repairs else Verified.NOT_RUN,
        parts=parts if is_repaired else (),
        minutes=_minutes(story, visits, now),
        visits=came,
        fee_minor=fee,
        labour_minor=_labour(story, engine, settings, parts) if is_repaired and not is_free else 0,
        callback_of=0 if back is None else back.call_id,
        callback_kind=kind,
        note=story.outcome_note if came == 0 else "",
    )


def _outcome(story: Story, engine: Engine, ranked: Sequence[Cause]) -> ClosingOutcome:
    if story.was_declined:
        return ClosingOutcome.DECLINED
    if any(done.verified is not Verified.STILL_BROKEN for done in story.repairs):
        return ClosingOutcome.REPAIRED
    if story.outcome in OF_CALL:
        return OF_CALL[story.outcome]
    if ranked and ranked[0].probability >= LIKELY:
        first = ranked[0].mode
        if is_no_fault(engine, first):
            return ClosingOutcome.NO_FAULT_FOUND
        repairs = engine.compiled.index.repairs_of[first]
        if repairs and all(repair.by is RepairBy.LICENSED_TRADE for repair in repairs):
            return ClosingOutcome.REFERRED_OUT
    return ClosingOutcome.REPAIRED


def _times_came(story: Story, visits: Sequence[VisitTimes], now: datetime) -> int:
    """How often somebody was there."""
    came = sum(1 for one in visits if one.state != "no_show" and one.starts_at <= now)
    if came == 0 and (story.times or story.outcome is CallOutcome.VISIT):
        return 1
    return came


def _minutes(story: Story, visits: Sequence[VisitTimes], now: datetime) -> float | None:
    """Minutes on site: from the first to the last entry of each day, else the slots that were kept.

    The day's work goes on until the job is closed, if that is soon after the last entry.
    """
    if story.stays:
        return _minutes_stayed(story, now)
    total = 0.0
    for _, of_day in groupby(sorted(story.times), key=lambda at: at.date()):
        entries = list(of_day)
        last = entries[-1]
        end = now if last <= now <= last + STILL_THERE else last
        begun = [one.starts_at for one in visits if one.starts_at.date() == last.date()]
        start = min([entries[0], *(at for at in begun if at <= entries[0])])
        total += (end - start).total_seconds() / 60
    if total > 0:
        return float(round(total))
    kept = [one for one in visits if one.state != "no_show" and one.starts_at <= now]
    slots = sum((one.ends_at - one.starts_at).total_seconds() / 60 for one in kept)
    return float(round(slots)) if kept else None


def _minutes_stayed(story: Story, now: datetime) -> float:
    """Minutes from arriving to leaving; a stay that has not ended lasts until now, if it may."""
    total = 0.0
    for came, left in story.stays:
        last = max([came, *(at for at in story.times if at >= came)])
        end = left or (now if last <= now <= last + STILL_THERE else last)
        total += (end - came).total_seconds() / 60
    return float(max(1, round(total)))


def _labour(story: Story, engine: Engine, settings: ShopSettings, parts: Sequence[PartUsed]) -> int:
    """Price of the work: what an agreed price leaves for it, else by the repairs."""
    costs = settings.costs
    if story.quote_minor is not None:
        pieces = sum(part.pieces * part.price_minor for part in parts)
        return max(0, story.quote_minor - costs.service_fee_minor - pieces)
    repairs = (engine.network.repairs.get(done.repair) for done in story.repairs)
    minutes = sum(
        repair.minutes
        for repair in repairs
        if repair is not None and repair.by is RepairBy.TECHNICIAN
    )
    return minor_of_minutes(minutes, costs.labour_price_minor_per_hour)


def _parts(
    story: Story, network: FaultNetwork, settings: ShopSettings, guaranteed: frozenset[str]
) -> tuple[PartUsed, ...]:
    """Parts that were fitted; one that is still guaranteed costs the customer nothing."""
    return tuple(
        PartUsed(
            part=piece.part,
            variant=piece.variant,
            pieces=piece.pieces,
            price_minor=0
            if piece.part in guaranteed
            else price_of_part(network, settings, piece.part, piece.variant),
            was_aboard=piece.part not in story.ordered,
        )
        for done in story.repairs
        for piece in done.pieces
        if piece.part in network.parts
    )


def price_of_part(network: FaultNetwork, settings: ShopSettings, part: str, variant: str) -> int:
    """Price of a piece to the customer: the shop's own, else what it costs, marked up."""
    own = settings.parts.get(part, PartSettings())
    if own.price_minor is not None:
        return own.price_minor
    known = next((one.cost_minor for one in own.variants if one.number == variant), None)
    low, high = network.parts[part].cost
    cost = (low + high) / 2 if known is None else known
    return half_up(cost * settings.costs.part_mark_up)


def _guaranteed(earlier: Sequence[EarlierJob], settings: ShopSettings) -> frozenset[str]:
    """Parts that an earlier job fitted to the same machine and that are still guaranteed."""
    fitted = (
        one.parts
        for one in earlier
        if one.is_same_machine and one.days <= settings.warranty_parts_days
    )
    return frozenset(part for parts in fitted for part in parts)


def _call_back(
    story: Story, earlier: Sequence[EarlierJob], settings: ShopSettings
) -> tuple[EarlierJob | None, CallBackKind]:
    """Earlier job that this one follows up, as the phone judged it.

    Where nobody judged, the last job on the same machine while own work on it is guaranteed.
    """
    if story.callback is not None:
        judged = next((one for one in earlier if one.call_id == story.callback.call_id), None)
        is_same = story.callback.verdict == CallBackKind.SAME
    else:
        judged = next((one for one in earlier if one.is_same_machine), None)
        if judged is not None and judged.days > settings.warranty_labour_days:
            judged = None
        is_same = judged is not None and judged.has_same_complaint
    if judged is None:
        return None, CallBackKind.NONE
    return judged, CallBackKind.SAME if is_same else CallBackKind.NEW


def _is_own_guarantee(back: EarlierJob, kind: CallBackKind, settings: ShopSettings) -> bool:
    return kind is CallBackKind.SAME and back.days <= settings.warranty_labour_days
