"""Claims about ranking and planning without a stored call; other models hold every key told."""

from collections.abc import Callable, Iterator
from typing import Any

import pytest
from flask import Flask
from pydantic import BaseModel

from tests.web.conftest import NINE
from tests.web.program import WASHER, program, safe
from triage.planning.shop.fitting import Variant
from triage.planning.shop.settings import PartSettings, ShopSettings
from triage.services.calls.calls import Entry, Submission, find_calls
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.settings import save_settings
from webform.api.models.appliances import Observations
from webform.api.models.plans import BranchesTold, NextStepTold, PlanTold, RankingTold
from webform.desk import EXTENSION

PUMP = [{"observation": "says_water_left", "answer": "volunteered"}]
ADDRESSES = {
    "rank": RankingTold,
    "plan": PlanTold,
    "branches": BranchesTold,
    "next-step": NextStepTold,
}


def unknown_keys(model: type[BaseModel], told: Any) -> Iterator[str]:
    """Keys that are told and that the document does not name."""
    read = model.model_validate(told)
    yield from _extra(read)


def _extra(value: Any) -> Iterator[str]:
    if isinstance(value, BaseModel):
        yield from value.model_extra or {}
        for name in type(value).model_fields:
            yield from _extra(getattr(value, name))
    if isinstance(value, list):
        for one in value:
            yield from _extra(one)


@pytest.mark.parametrize("address", ADDRESSES)
def test_every_key_that_is_told_of_a_plan_stands_in_the_document(app: Flask, address: str) -> None:
    desk = program(app)
    case = {"safety": {"answers": safe(desk)}, "findings": PUMP}

    told = desk.post(f"/appliances/{WASHER}/{address}", case)

    assert (told["network"], list(unknown_keys(ADDRESSES[address], told))) == (WASHER, [])


def test_every_key_that_is_told_of_observations_stands_in_the_document(app: Flask) -> None:
    told = program(app).get("/appliances/gas_dryer/observations?channel=meter")

    assert {one["channel"] for one in told["observations"]} == {"meter"}
    assert list(unknown_keys(Observations, told)) == []


@pytest.mark.parametrize("address", ADDRESSES)
def test_case_without_safety_answers_is_not_ranked(app: Flask, address: str) -> None:
    desk = program(app)
    open_danger = {"answers": safe(desk) | {"flooding": True}}

    for safety in ({"answers": {}}, open_danger):
        case = {"safety": safety, "findings": PUMP}
        problem = desk.refused("POST", f"/appliances/{WASHER}/{address}", json=case)
        assert (problem["status"], problem["title"]) == (409, "Safety first")

    confirmed = {"safety": {**open_danger, "confirmed_by": "Ada Fenwick"}, "findings": PUMP}
    assert desk.post(f"/appliances/{WASHER}/{address}", confirmed)


@pytest.mark.parametrize(
    ("address", "cost"),
    [
        ("branches", lambda told: told["gap"]["cost_at_most_minor"]),
        ("next-step", lambda told: told["expected_minor"]),
    ],
)
def test_machine_whose_number_is_not_aboard_costs_a_return_trip_more_often(
    app: Flask, address: str, cost: Callable[[Any], float]
) -> None:
    shop = app.extensions[EXTENSION].database
    numbers = (Variant(number="P-1", plates=("AB*",), share=0.5, stock=1),)
    numbers += (Variant(number="P-2", plates=("CD*",), share=0.5, stock=0),)
    settings = ShopSettings(parts={"lid_lock": PartSettings(variants=numbers)})
    entry = Entry(submission=Submission("s-1", 0), at=NINE, by="boss")
    save_settings(shop, settings_as_yaml(settings), "two numbers", entry)
    desk = program(app)
    case = {"safety": {"answers": safe(desk)}, "findings": PUMP}

    costs = [
        cost(desk.post(f"/appliances/{WASHER}/{address}", {**case, "plate": plate}))
        for plate in ("ab-412", "cd 7", "")
    ]

    aboard, ordered, unread = costs
    assert aboard < unread < ordered


def test_ranking_a_case_stores_nothing_and_a_repair_counts_in_its_order(app: Flask) -> None:
    desk = program(app)
    done = [*PUMP, {"repair": "replace_drain_pump"}]
    case = {"safety": {"answers": safe(desk)}}

    before = desk.post(f"/appliances/{WASHER}/rank", {**case, "findings": PUMP, "limit": 3})
    after = desk.post(f"/appliances/{WASHER}/rank", {**case, "findings": done, "limit": 100})

    pump = {one["mode"]: one["probability"] for one in after["causes"]}["drain_pump.burnt"]
    assert len(before["causes"]) == 3
    assert pump < 0.1 < before["causes"][0]["probability"]
    assert find_calls(app.extensions[EXTENSION].database, since=NINE) == ()


@pytest.mark.parametrize(
    ("finding", "kind"),
    [
        ({"observation": "says_nothing", "answer": "yes"}, "unknown-observation"),
        ({"observation": "says_water_left", "answer": "maybe"}, "unknown-answer"),
        ({"observation": "says_water_left", "answer": 3.0}, "unknown-answer"),
        ({"observation": "meters_supply", "answer": "much"}, "reading"),
        ({"observation": "meters_supply", "answer": 1200}, "reading-out-of-span"),
        ({"repair": "pray"}, "unknown-repair"),
    ],
)
def test_case_with_what_the_network_does_not_have_names_it(
    app: Flask, finding: dict[str, Any], kind: str
) -> None:
    desk = program(app)
    case = {"safety": {"answers": safe(desk)}, "findings": [finding]}

    problem = desk.refused("POST", f"/appliances/{WASHER}/rank", json=case)

    assert (problem["status"], problem["type"]) == (422, f"/api/v1/problems#{kind}")


def test_machine_that_the_shop_does_not_repair_is_referred_and_not_ranked(app: Flask) -> None:
    desk = program(app)
    case = {"safety": {"answers": safe(desk, "heat_pump_dryer")}}

    kind = desk.get("/appliances/heat_pump_dryer")
    problem = desk.refused("POST", "/appliances/heat_pump_dryer/rank", json=case)
    versions = desk.refused("GET", "/appliances/heat_pump_dryer/versions")

    assert not kind["is_repaired"]
    assert kind["referral"].startswith("Service of the maker")
    assert desk.get("/appliances/heat_pump_dryer/observations")["observations"] == []
    assert problem["title"] == versions["title"] == "Out of scope"


@pytest.mark.parametrize("name", ["heat_pump", "drum.yaml", "..%2Fshop.yaml"])
@pytest.mark.parametrize("rest", ["", "/observations", "/versions"])
def test_name_of_no_appliance_opens_no_file(app: Flask, name: str, rest: str) -> None:
    problem = program(app).refused("GET", f"/appliances/{name}{rest}")

    assert problem["status"] == 404
    assert "yaml" not in problem["detail"]
