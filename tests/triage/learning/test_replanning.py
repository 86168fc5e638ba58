"""Past calls planned with two versions: what is told differently, in how many, within a time."""

import json
from dataclasses import replace
from datetime import datetime
from itertools import count

import pytest

from tests.triage.learning.learning_shop import NOW, STAMP, WASHER, made_up_jobs, take_in
from triage.errors import NoJobsError
from triage.inference.engine import Engine
from triage.learning.values import ClosedJob
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.learning.editing import Edit
from triage.services.learning.replanning import (
    Replanned,
    ReplannedCall,
    Told,
    replanned,
    replanned_as_json,
    replanned_from_json,
    replanned_with,
)
from triage.services.learning.stored import jobs_to_learn
from triage.services.learning.versions import propose_edit, start_keeping
from triage.services.learning.work import Work, ask_for, newest_replanned, state_of, work_off
from triage.services.networks.engines import engine_for

BURNT = Told(ending="Book a visit", parts=("Drain pump",), slot=75, question="Hums?")


def numbered(jobs: int) -> list[tuple[int, ClosedJob]]:
    found = jobs_to_learn(made_up_jobs(jobs), engine_for(WASHER).network)
    return list(enumerate(found, start=1))


def call(after: Told) -> ReplannedCall:
    return ReplannedCall(call_id=7, day="2026-01-05", before=BURNT, after=after)


def other_version() -> Engine:
    """Engine of a version in which every test and repair takes three times as long."""
    network = engine_for(WASHER).network
    repairs = {k: replace(one, minutes=3 * one.minutes) for k, one in network.repairs.items()}
    return Engine(replace(network, version=network.version + 1, repairs=repairs))


@pytest.mark.parametrize(
    ("after", "changed"),
    [
        (BURNT, ()),
        (replace(BURNT, ending="Refer to another trade"), ("ending",)),
        (replace(BURNT, parts=()), ("parts",)),
        (replace(BURNT, slot=90, question=""), ("slot", "question")),
    ],
)
def test_call_says_what_is_told_differently(after: Told, changed: tuple[str, ...]) -> None:
    assert call(after).changed == changed


def test_comparison_is_kept_and_read_back_as_it_was() -> None:
    found = Replanned(
        version_before=1,
        version_after=2,
        past=9,
        sample=3,
        unusable=1,
        is_cut_short=False,
        calls=(call(BURNT), call(replace(BURNT, slot=90))),
    )

    kept = json.loads(json.dumps(replanned_as_json(found)))

    assert replanned_from_json(kept) == found
    assert kept["changed"] == {"ending": 0, "parts": 0, "slot": 1, "question": 0}


def test_same_version_tells_the_same_and_longer_repairs_lengthen_slots() -> None:
    engine, jobs = engine_for(WASHER), numbered(12)

    same = replanned(engine, engine, jobs, DEFAULT_SETTINGS, calls_max=2)
    longer = replanned(engine, other_version(), jobs, DEFAULT_SETTINGS, calls_max=2)

    assert [one.changed for one in same.calls] == [(), ()]
    assert [one.call_id for one in longer.calls] == [one.call_id for one in same.calls]
    assert (longer.past, longer.sample, longer.is_cut_short) == (12, 2, False)
    assert dict(longer.counts)["slot"] >= 1
    for one in longer.calls:
        if one.before.ending == one.after.ending:
            assert one.after.slot > one.before.slot


def test_no_call_is_begun_once_the_time_is_over() -> None:
    engine, told = engine_for(WASHER), []
    ticks = count(0.0, 40.0)

    found = replanned(
        engine,
        engine,
        numbered(12),
        DEFAULT_SETTINGS,
        tell=lambda *step: told.append(step),
        calls_max=6,
        seconds_max=60.0,
        seconds=lambda: next(ticks),
    )

    assert len(found.calls) == 1  # begun at 40 s; at 80 s it is too late
    assert found.is_cut_short
    assert told == [("Planning past calls with both versions", 0, 6)]


def test_version_is_compared_with_the_one_in_use_when_it_was_made(database: Database) -> None:
    take_in(database, 3)
    version = propose_edit(
        database,
        WASHER,
        Edit(
            key="share:drain_pump.burnt",
            value=0.3,
            reason="Met often",
            source="a count",
            grade="measured",
            equivalent_sample_size=None,
        ),
        STAMP,
    )
    entry = Entry(submission=Submission("page", 0), at=NOW, by=STAMP.by)
    number, _ = ask_for(database, Work.REPLAN, WASHER, {"version": version}, entry)

    work_off(database, number, clock)

    run = state_of(database, number, NOW).run
    found = newest_replanned(database, WASHER, version)
    assert (run.state, run.steps_done, run.steps) == ("done", 2, 3)
    assert found is not None
    assert (found.version_before, found.version_after, len(found.calls)) == (1, version, 3)
    assert newest_replanned(database, WASHER, 1) is None


def test_shop_without_jobs_has_no_calls_to_plan(database: Database) -> None:
    take_in(database, 1)

    with pytest.raises(NoJobsError, match="expected at least one"):
        replanned_with(database, "gas_dryer", start_keeping(database, "gas_dryer", STAMP))


def clock() -> datetime:
    return NOW
