"""Claims about the whole story by the API alone: from the phone call to the closed job."""

from typing import Any

from flask import Flask

from tests.web.program import WASHER, Program, opened, program, safe, step, to_questions, with_van
from triage.services.job.events import SENT_KINDS
from webform.api.document import document


def booked(app: Flask, desk: Program) -> Any:
    """Visit 1 of call 1, at the first free time."""
    with_van(app)
    shown = step(desk, to_questions(desk), "end", outcome="visit")
    free = desk.get("/calls/1/slots")
    slot = free["days"][0]["slots"][0]
    times = {"van": slot["van"], "starts_at": slot["starts_at"], "minutes": free["minutes"]}
    return step(desk, shown, "visits", **times)


def entered(site: Program, version: int, **entry: Any) -> Any:
    """Job 1 after an entry on top of a version."""
    body = {"client_id": f"entry-{version}", "shown_version": version, "entry": entry}
    return site.post("/jobs/1/enter", body)


def test_nothing_is_ranked_before_the_safety_questions_are_answered(app: Flask) -> None:
    desk = program(app)

    before = opened(desk)
    plan = desk.refused("GET", "/calls/1/plan")
    job = desk.refused("GET", "/jobs/1")
    after = step(desk, before, "safety", answers=safe(desk))

    assert (before["step"], before["ranking"], before["question"]) == ("safety", None, None)
    assert plan["type"] == job["type"] == "/api/v1/problems#safety-first"
    assert after["ranking"]["causes"][0]["mode"]
    assert after["question"]["wording"].endswith("?")
    assert after["signs_suggested"][0]["observation"] == "says_water_left"


def test_danger_stops_the_call_and_says_what_to_say(app: Flask) -> None:
    desk = program(app)

    shown = step(desk, opened(desk), "safety", answers=safe(desk) | {"gas_smell": True})

    assert (shown["step"], shown["ranking"]) == ("stopped", None)
    assert shown["outcome"]["outcome"] == "stopped_for_safety"
    assert shown["safety"]["raised"][0]["class"] == "leave_and_call"
    assert shown["safety"]["raised"][0]["script"]


def test_danger_that_was_made_safe_lets_the_call_go_on_with_a_name(app: Flask) -> None:
    desk = program(app)
    shown = step(desk, opened(desk), "safety", answers=safe(desk) | {"flooding": True})

    after = step(desk, shown, "made-safe", name="Ada Fenwick")

    assert (shown["step"], shown["safety"]["verdict"]) == ("make_safe", "confirm")
    assert after["safety"]["confirmed_by"] == "Ada Fenwick"
    assert after["ranking"] is not None


def test_answer_counts_is_taken_back_and_is_passed_over(app: Flask) -> None:
    desk = program(app)
    shown = to_questions(desk)
    asked = shown["question"]
    given = {"observation": asked["observation"], "answer": next(iter(asked["answers"]))}

    answered = step(desk, shown, "answers", **given)
    undone = step(desk, answered, "undo", observation=asked["observation"])
    skipped = step(desk, undone, "skip", observation=asked["observation"])

    assert [one["observation"] for one in answered["answers"]][-1] == asked["observation"]
    assert undone["ranking"]["causes"] == shown["ranking"]["causes"]
    assert skipped["skipped"] == [asked["observation"]]
    assert skipped["question"]["observation"] != asked["observation"]


def test_call_tells_why_the_shop_may_not_help_and_who_helps_instead(app: Flask) -> None:
    desk = program(app)
    shown = step(desk, opened(desk), "safety", answers=safe(desk))

    refused = step(desk, shown, "help", warranty="yes", access=["closet"])
    helped = step(desk, refused, "help-anyway", reason="Bought from us")

    assert refused["step"] == "refuse"
    assert refused["refusals"][0]["referral"] == "Service of the maker"
    assert helped["refusals"] == []
    assert helped["help"]["helped_anyway"] == "Bought from us"


def test_call_of_a_customer_on_record_knows_the_machine_and_keeps_notes(app: Flask) -> None:
    desk = program(app)
    customer = desk.post("/customers", {"name": "Zoë Åström", "phone": "(202) 555-0143"})
    machine = {"network": WASHER, "bought_year": 2019, "plate": "QD-100"}
    known = desk.post("/customers/1/machines", machine)
    shown = step(desk, opened(desk), "safety", answers=safe(desk))

    linked = step(desk, shown, "customer", customer=1, machine=known["machines"][0]["machine"])
    noted = step(desk, linked, "notes", text="Dog in the yard")

    assert customer["phone_e164"] == "+12025550143"
    assert desk.get("/customers?q=astrom")["customers"] == [known]
    assert (linked["customer"], linked["machine"]) == (1, 1)
    assert [one["from_record"] for one in linked["answers"]] == [True]
    assert [one["text"] for one in noted["notes"]] == ["Dog in the yard"]


def test_visit_is_booked_moved_told_late_and_cancelled(app: Flask) -> None:
    desk = program(app)
    visit = booked(app, desk)
    times = {"van": 1, "starts_at": "2026-03-03T12:00:00+02:00", "minutes": 60}
    first = visit["version"]

    moved = desk.post("/visits/1/move", {"client_id": "m", "shown_version": first, **times})
    delay = {"client_id": "l", "shown_version": first + 1, "minutes": 30}
    late = desk.post("/visits/1/late", delay)
    ticket = {"client_id": "c", "shown_version": first + 2}
    cancelled = desk.post("/visits/1/cancel", {**ticket, "reason": "Customer is away"})

    assert (visit["state"], visit["call"]) == ("booked", 1)
    assert moved["starts_at"] == "2026-03-03T10:00:00Z"
    assert moved["ends_at"] == "2026-03-03T11:00:00Z"
    assert (late["late_minutes"], late["window_starts_at"]) == (30, "2026-03-03T10:30:00Z")
    assert cancelled["state"] == "cancelled"
    assert desk.get("/visits?day=2026-03-03")["vans"][0]["visits"] == []


def test_job_goes_from_the_call_to_the_closing(app: Flask) -> None:
    desk, site = program(app, "dispatcher"), program(app, "technician")
    booked(app, desk)
    job = site.get("/jobs/1")
    test = job["next_step"]["steps"][0]

    came = entered(site, job["version"], kind="job_arrived")
    result = next(iter(test["answers"]))
    found = entered(site, came["version"], kind="finding", observation=test["id"], answer=result)
    pieces = [{"part": "drain_pump"}]
    repaired = entered(
        site,
        found["version"],
        kind="job_repair",
        repair="replace_drain_pump",
        pieces=pieces,
        verified="works",
    )
    draft = site.get("/jobs/1/closing/draft")
    ticket = {"client_id": "close", "shown_version": repaired["version"]}
    closed = site.post("/jobs/1/closing", {**ticket, **draft["draft"]})

    assert desk.get("/visits?van=1")["vans"][0]["visits"][0]["visit"] == 1
    assert [one["observation"] for one in found["made"]][-1] == test["id"]
    assert repaired["made"][-1]["repair"] == "replace_drain_pump"
    assert draft["draft"]["causes"][0]["degree"] == "works_after_repair"
    assert closed["closing"] == draft["draft"]
    assert closed["total_minor"] > closed["closing"]["fee_minor"] > 0
    assert desk.get("/visits/1")["state"] == "done"
    assert site.get("/jobs/1")["is_closed"]


def test_owner_reads_closed_jobs_page_by_page_without_names(app: Flask) -> None:
    owner = program(app)
    step(
        owner, step(owner, opened(owner), "safety", answers=safe(owner)), "end", outcome="declined"
    )
    draft = owner.get("/jobs/1/closing/draft")
    body = {"client_id": "close", "shown_version": draft["version"], **draft["draft"]}
    owner.post("/jobs/1/closing", body)

    page = owner.get("/closed-jobs?outcome=declined&since=2026-03-01T00:00:00Z")
    none = owner.get("/closed-jobs?before=2026-03-01T00:00:00Z&page=7")

    assert (page["count"], page["pages"]) == (1, 1)
    assert page["closed_jobs"][0]["outcome"] == "declined"
    assert "Blue door" not in str(page)
    assert (none["closed_jobs"], none["page"]) == ([], 1)


def test_entries_kept_without_signal_are_recorded_once_and_each_says_what_became_of_it(
    app: Flask,
) -> None:
    site = program(app)
    version = booked(app, site)["version"]
    kept = {"shown_version": version, "made_at": "2026-03-02T08:30:00Z"}
    arrived = {"client_id": "a", **kept, "entry": {"kind": "job_arrived"}}
    wrong = {"kind": "finding", "observation": "tests_drain_pump", "answer": "sings"}
    entries = {"entries": [arrived, {"client_id": "b", **kept, "entry": wrong}]}

    first = site.post("/jobs/1/entries", entries)
    again = site.post("/jobs/1/entries", entries)

    assert [one["reception"] for one in first["entries"]] == ["stored", "refused"]
    assert [one["reception"] for one in again["entries"]] == ["stored_before", "refused"]
    assert [one["client_id"] for one in first["entries"]] == ["a", "b"]
    assert 'Unknown answer "sings"' in first["entries"][1]["message"]
    assert first["version"] == again["version"] == version + 1


def test_every_kind_of_entry_that_a_job_takes_can_be_sent() -> None:
    kinds = document()["components"]["schemas"]["EntryGiven"]["properties"]["entry"]

    assert set(kinds["discriminator"]["mapping"]) == set(SENT_KINDS)


def test_network_that_never_changed_has_the_version_that_calls_keep(app: Flask) -> None:
    owner = program(app)
    before = owner.get(f"/appliances/{WASHER}/versions")

    opened(owner)
    after = owner.get(f"/appliances/{WASHER}/versions")

    assert before["versions"] == []
    assert [one["origin"] for one in after["versions"]] == ["shipped"]
    assert after["versions"][0]["is_in_use"]
    assert after["in_use"] == before["in_use"]
