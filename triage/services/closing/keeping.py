"""Between a closing as it is filled in and as it is kept."""

from collections.abc import Mapping
from dataclasses import asdict
from typing import Any

from triage.errors import NotClosableError, UnknownPartError
from triage.inference.engine import Engine
from triage.network.values import FaultNetwork, NetworkIndex
from triage.planning.shop.settings import ShopSettings
from triage.services.closing.amounts import amounts
from triage.services.closing.causes import what_spoke_for
from triage.services.closing.story import Story, evidence_of, story_of
from triage.services.closing.values import (
    CallBackKind,
    CauseClosed,
    ClosingGiven,
    ClosingOutcome,
    Degree,
    PartUsed,
)
from triage.services.job.events import Verified
from triage.services.networks.scope import OTHER_KINDS
from triage.services.settings.shop_front import ShopFront
from triage.store.calls import StoredCall
from triage.store.closings import ClosingData, StoredPart

MOST_MINOR = 2_000_000  # no line of a household repair costs more than 20,000 units
MOST_MINUTES = 2_880  # two days on site
MOST_PIECES = 100


def data_of(
    call: StoredCall,
    given: ClosingGiven,
    engine: Engine,
    settings: ShopSettings,
    front: ShopFront,
    promise: Mapping[str, Any],
) -> ClosingData:
    """What is kept of a closing: what was given, the sums, what was promised.

    Raises
    ------
    NotClosableError
    UnknownModeError, UnknownRepairError, UnknownPartError
    """
    network = engine.network
    check_given(call, given, network)
    sums = amounts(
        fee_minor=given.fee_minor,
        labour_minor=given.labour_minor,
        parts_minor=[(part.pieces, part.price_minor) for part in given.parts],
        front=front,
    )
    return ClosingData(
        outcome=given.outcome.value,
        causes=_causes(story_of(call), given, engine),
        repairs=list(given.repairs),
        is_unsure=given.is_unsure,
        verification=given.verification.value,
        minutes=given.minutes,
        visits=given.visits,
        callback_of_id=given.callback_of or None,
        callback_kind=given.callback_kind.value,
        labour_minor=given.labour_minor,
        fee_minor=given.fee_minor,
        tax_minor=sums.tax_minor,
        total_minor=sums.total_minor,
        currency=settings.currency,
        note=given.note,
        promised=dict(promise),
        network_version=network.version,
        parts=tuple(
            StoredPart(
                part_id=part.part,
                variant=part.variant,
                pieces=part.pieces,
                price_minor=part.price_minor,
                was_aboard=part.was_aboard,
            )
            for part in given.parts
        ),
    )


def check_given(call: StoredCall, given: ClosingGiven, network: FaultNetwork) -> None:
    """Refuse what a closing cannot hold.

    Raises
    ------
    NotClosableError
    UnknownModeError, UnknownRepairError, UnknownPartError
    """
    if call.network_id in OTHER_KINDS:
        if given.outcome not in (ClosingOutcome.DECLINED, ClosingOutcome.REFERRED_OUT):
            raise NotClosableError(call.id, "the shop does not repair such machines; refer it")
        if given.causes or given.repairs or given.parts:
            raise NotClosableError(call.id, "causes, repairs and parts are not known of others")
    index = NetworkIndex(network)
    for cause in given.causes:
        index.mode(cause.cause)
    for repair in given.repairs:
        index.repair(repair)
    for part in given.parts:
        if part.part not in network.parts:
            raise UnknownPartError(part.part, list(network.parts))
    reason = _contradiction(call, given) or _out_of_range(given)
    if reason:
        raise NotClosableError(call.id, reason)


def _contradiction(call: StoredCall, given: ClosingGiven) -> str:
    """Why a closing contradicts itself; empty if it does not."""
    if given.is_unsure and len(given.causes) < 2:
        return "unsure means that it was one of several causes; choose at least two"
    names = [cause.cause for cause in given.causes]
    if len(set(names)) < len(names):
        return "a cause stands there twice"
    if given.callback_of == call.id:
        return "a job is no call-back of itself"
    if bool(given.callback_of) != (given.callback_kind is not CallBackKind.NONE):
        return "a call-back needs the earlier job and whether the complaint is the same"
    return ""


def _out_of_range(given: ClosingGiven) -> str:
    sums = [given.fee_minor, given.labour_minor, *(part.price_minor for part in given.parts)]
    if not all(0 <= amount <= MOST_MINOR for amount in sums):
        return "an amount is below 0 or above what any household repair costs"
    if given.minutes is not None and not 0 < given.minutes <= MOST_MINUTES:
        return "the minutes are not above 0 or more than two days"
    if not all(0 < part.pieces <= MOST_PIECES for part in given.parts):
        return f"pieces of a part are not between 1 and {MOST_PIECES}"
    return ""


def _causes(story: Story, given: ClosingGiven, engine: Engine) -> list[dict[str, Any]]:
    """Causes as they are kept; unsure ones share the weight alike.

    Equal weights, since learning takes them as likelihoods: the chances of the ranking would feed
    what the network believes already back into it.
    """
    if not given.causes:
        return []
    evidence = evidence_of(story.before_first_repair, engine.network)
    weight = 1.0 / len(given.causes) if given.is_unsure else 1.0
    return [
        {
            "cause": cause.cause,
            "degree": cause.degree.value,
            "weight": round(weight, 6),
            "chosen_by": list(what_spoke_for(engine, evidence, cause.cause)),
        }
        for cause in given.causes
    ]


def given_of(data: ClosingData) -> ClosingGiven:
    """What was filled in, from what is kept."""
    return ClosingGiven(
        outcome=ClosingOutcome(data.outcome),
        causes=tuple(
            CauseClosed(
                str(entry["cause"]),
                Degree(entry["degree"]),
                float(entry["weight"]),
                tuple(entry.get("chosen_by", ())),
            )
            for entry in data.causes
        ),
        is_unsure=data.is_unsure,
        repairs=tuple(str(name) for name in data.repairs),
        verification=Verified(data.verification),
        parts=tuple(
            PartUsed(
                part=part.part_id,
                variant=part.variant,
                pieces=part.pieces,
                price_minor=part.price_minor,
                was_aboard=part.was_aboard,
            )
            for part in data.parts
        ),
        minutes=data.minutes,
        visits=data.visits,
        fee_minor=data.fee_minor,
        labour_minor=data.labour_minor,
        callback_of=data.callback_of_id or 0,
        callback_kind=CallBackKind(data.callback_kind),
        note=data.note,
    )


def difference(before: ClosingData, after: ClosingData) -> dict[str, Any]:
    """What a correction replaced, by field; the note is left out, since it may name people."""
    old, new = asdict(before), asdict(after)
    return {name: _plain(old[name]) for name in old if old[name] != new[name] and name != "note"}


def _plain(value: Any) -> Any:
    return [dict(one) for one in value] if isinstance(value, tuple) else value
