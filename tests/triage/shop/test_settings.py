"""Settings of a shop: read strictly, shown as a file, and what they do to costs and networks."""

import re
from dataclasses import replace
from pathlib import Path

import pytest

from triage.errors import SettingsFileError
from triage.network.catalogue import load_network
from triage.network.values import OnVan
from triage.planning.shop.costs import DEFAULT_COSTS, CostModel
from triage.planning.shop.settings import (
    COMMON_PRACTICE,
    DEFAULT_SETTINGS,
    NEW_MACHINES,
    SHOP_SOURCE,
    PartSettings,
    ShopSettings,
)
from triage.services.settings.reading import check_settings, read_settings
from triage.services.settings.schema import SETTINGS, Setting
from triage.services.settings.text import settings_as_yaml

PAGE = Path(__file__).resolve().parents[3] / "docs" / "settings.md"
WASHER = "top_load_washer"

EVERYTHING = """\
format: 1
currency: USD
source: our books, 2025
costs: {technician_per_hour: 52.5, trip: 40}
prices: {part_mark_up: 2}
warranty: {labour_days: 60}
unrepaired: {cost: 300}
new_machines:
  top_load_washer: {price: 650}
parts:
  lid_lock: {cost: [25, 60], price: 110, stock: 2}
  suspension_set: {stock: 0, fits: 0.8, cost: 50.25}
  drive_belt: {on_van: ordered}
  drain_pump:
    numbers:
      P-100: {plates: ["AB 4*", "AB 5?0"], share: 0.6, stock: 1, cost: 31.50}
      P-200: {plates: ["CD*"], share: 0.3}
minutes:
  repairs: {replace_lid_lock: 20}
  observations: {tests_drain_pump: 3}
"""


def _file(folder: Path, text: str) -> Path:
    path = folder / "shop.yaml"
    path.write_text(text, encoding="utf-8")
    return path


def _problems(folder: Path, text: str) -> list[str]:
    path = _file(folder, text)
    return [line.removeprefix(f"{path}:") for line in check_settings(path).problems]


def _everything(folder: Path) -> ShopSettings:
    return read_settings(_file(folder, EVERYTHING))


def test_file_with_nothing_in_it_gives_the_defaults(tmp_path: Path) -> None:
    assert read_settings(_file(tmp_path, "format: 1\n")) == DEFAULT_SETTINGS


def test_costs_of_a_top_load_washer_are_the_default_costs() -> None:
    assert DEFAULT_SETTINGS.costs_for(WASHER) == DEFAULT_COSTS


@pytest.mark.parametrize("kind", NEW_MACHINES)
def test_leaving_a_machine_unrepaired_costs_half_of_a_new_one_installed(kind: str) -> None:
    costs = DEFAULT_SETTINGS.costs_for(kind)

    assert costs.replacement_minor == NEW_MACHINES[kind].installed_minor
    assert costs.unrepaired_minor == costs.replacement_minor / 2


def test_kind_without_a_new_machine_takes_the_default_replacement() -> None:
    assert DEFAULT_SETTINGS.costs_for("mangle").replacement_minor == CostModel().replacement_minor


def test_money_of_the_file_becomes_whole_minor_units(tmp_path: Path) -> None:
    settings = _everything(tmp_path)

    assert settings.costs.technician_minor_per_hour == 5250
    assert settings.parts["suspension_set"].cost_minor == (5025, 5025)
    assert settings.parts["drain_pump"].variants[0].cost_minor == 3150


def test_what_a_file_leaves_out_keeps_its_default(tmp_path: Path) -> None:
    settings = _everything(tmp_path)

    assert settings.costs.return_trip_minor == DEFAULT_COSTS.return_trip_minor
    assert settings.new_machines[WASHER] == replace(NEW_MACHINES[WASHER], price_minor=65000)
    assert settings.warranty_parts_days == 90


def test_own_price_of_a_part_replaces_cost_times_mark_up(tmp_path: Path) -> None:
    network = load_network(WASHER)
    repair = network.repairs["replace_lid_lock"]
    parts = (network.parts["lid_lock"],)
    costs = _everything(tmp_path).costs_for(WASHER)

    low, high = (costs.price_minor(repair, parts, high=high) for high in (False, True))

    labour = repair.minutes * costs.labour_price_minor_per_hour / 60
    assert low == high == round(costs.service_fee_minor + labour + 11000)


def test_network_takes_the_costs_places_and_minutes_of_the_shop(tmp_path: Path) -> None:
    network = _everything(tmp_path).applied_to(load_network(WASHER))

    assert network.parts["lid_lock"].cost == (2500, 6000)
    assert network.parts["lid_lock"].provenance.source == SHOP_SOURCE
    assert network.sources[SHOP_SOURCE] == "our books, 2025"
    assert network.parts["drive_belt"].on_van is OnVan.ORDERED
    assert network.repairs["replace_lid_lock"].minutes == 20
    assert network.observations["tests_drain_pump"].minutes == 3


def test_network_stays_itself_when_the_shop_sets_nothing_of_it() -> None:
    network = load_network(WASHER)

    assert DEFAULT_SETTINGS.applied_to(network) is network


@pytest.mark.parametrize(
    ("part", "stock", "place"),
    [
        ("lid_lock", 0, OnVan.SOMETIMES),  # usually there, but none is left
        ("lid_lock", 1, OnVan.USUALLY),
        ("gearcase", 1, OnVan.USUALLY),  # ordered as a rule, but one is there
        ("gearcase", 0, OnVan.ORDERED),
    ],
)
def test_stock_says_where_a_part_is(part: str, stock: int, place: OnVan) -> None:
    settings = ShopSettings(parts={part: PartSettings(stock=stock)})

    assert settings.applied_to(load_network(WASHER)).parts[part].on_van is place


@pytest.mark.parametrize("text", ["format: 1\n", EVERYTHING])
def test_settings_shown_as_a_file_are_read_back_the_same(text: str, tmp_path: Path) -> None:
    settings = read_settings(_file(tmp_path, text))

    again = read_settings(_file(tmp_path, settings_as_yaml(settings)))

    assert again == settings


def test_every_number_shown_says_where_it_comes_from(tmp_path: Path) -> None:
    shown = settings_as_yaml(_everything(tmp_path))

    lines = {setting.name: setting for setting in SETTINGS}
    for name, setting in lines.items():
        line = next(line for line in shown.splitlines() if line.startswith(f"  {name}:"))
        assert "(our books, 2025)" in line or f"({setting.source})" in line
    assert "trip: 40  # USD, 0 to 1000: own cost of a trip" in shown
    assert (
        "return_trip: 100  # USD, 0 to 2000: own cost of coming again: trip, setting up " in shown
    )
    assert COMMON_PRACTICE in shown


def test_all_problems_of_a_file_come_at_once_with_their_lines(tmp_path: Path) -> None:
    text = """\
format: 1
currency: EUR
costs:
  technican_per_hour: 4500
  trip: 10.555
prices: 5
warranty: {parts_days: 1.5}
parts:
  drain_pmp: {stock: 1}
minutes: {repairs: {replace_lid_lok: 5}}
"""

    problems = _problems(tmp_path, text)

    assert [line.split(":")[0] for line in problems] == [*"2445679", "10"]


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("cost: {}", 'unknown key "cost"; expected one of "format"'),
        ("cost: {}", 'Did you mean "costs"?'),
        ("costs: {trip: 4500}", "costs.trip: got 4500; expected at most 1000."),
        ("costs: {trip: -1}", "costs.trip: got -1; expected at least 0."),
        ("costs: {trip: yes}", 'costs.trip: got "yes"; expected a number.'),
        ("costs: {trip: .nan}", "costs.trip: got nan; expected a finite number."),
        ("costs: {trip: 1.005}", "costs.trip: got 1.005; expected at most two decimals."),
        ("costs: {tripp: 5}", 'Did you mean "trip"?'),
        ("costs: 5", "costs: got 5; expected a mapping"),
        ("currency: EUR", 'currency: got "EUR"; expected "USD", in which the networks give'),
        ("currency: euro", 'got "euro"; expected an ISO 4217 code'),
        ("unrepaired: {}", "got both or neither; expected"),
        ("new_machines: {mangle: {price: 5}}", 'unknown appliance kind "mangle"'),
        ("new_machines: {gas_dryr: {price: 5}}", 'Did you mean "gas_dryer"?'),
        ("parts: [drain_pump]", "parts: got a list of 1; expected a mapping"),
        ("parts: {drain_pmp: {}}", 'Did you mean "drain_pump"?'),
        ("parts: {drain_pump: {cost: [9, 5]}}", "got 9 before 5; expected the lower end first."),
        ("parts: {drain_pump: {cost: cheap}}", 'parts.drain_pump.cost: got "cheap"; expected'),
        ("parts: {drain_pump: {on_van: usualy}}", 'Did you mean "usually"?'),
        ("parts: {drain_pump: {stock: 1.5}}", "got 1.5; expected a whole number."),
        ("parts: {drain_pump: {numbers: {A: {plates: ['*']}}}}", "else it fits every plate."),
        ("parts: {drain_pump: {numbers: {A: {plates: []}}}}", "got a list of 0"),
        (
            "parts: {drain_pump: {stock: 1, numbers: {A: {plates: [A1]}}}}",
            "expected them with each number.",
        ),
        (
            "parts: {drain_pump: {numbers: {A: {plates: [A1], share: 0.5}, B: {plates: [B1]}}}}",
            "got a share for some numbers only",
        ),
        (
            "parts: {drain_pump: {numbers: {A: {plates: [A1], share: 0.7}, "
            "B: {plates: [B1], share: 0.7}}}}",
            "got shares that sum to 1.4; expected at most 1.",
        ),
        (
            "parts: {drain_pump: {numbers: {A: {plates: [A1]}, B: {plates: [a1]}}}}",
            'got "a1" again; expected it under one number (also under "A").',
        ),
        ("minutes: {repairs: {replace_lid_lok: 5}}", 'Did you mean "replace_lid_lock"?'),
        ("minutes: {observations: {tests_drain_pump: 0}}", "got 0; expected more than 0."),
    ],
)
def test_problem_says_what_it_got_and_what_was_expected(
    text: str, message: str, tmp_path: Path
) -> None:
    problems = _problems(tmp_path, f"format: 1\n{text}\n")

    assert len(problems) == 1
    assert message in problems[0]
    assert problems[0].startswith("2: ")


@pytest.mark.parametrize("setting", SETTINGS, ids=lambda setting: setting.key)
def test_number_outside_its_range_is_refused_and_its_ends_are_taken(
    setting: Setting, tmp_path: Path
) -> None:
    def problems(value: float) -> list[str]:
        text = f"format: 1\n{setting.section}: {{{setting.name}: {value:g}}}\n"
        return _problems(tmp_path, text)

    assert problems(setting.low) == problems(setting.high) == []
    assert len(problems(setting.high + 1)) == len(problems(setting.low - 1)) == 1
    assert setting.low <= setting.default <= setting.high


def test_file_that_cannot_be_read_is_one_problem(tmp_path: Path) -> None:
    with pytest.raises(SettingsFileError, match=r"1 problem\n.*expected YAML"):
        read_settings(tmp_path / "missing.yaml")


def test_names_of_an_own_network_are_known_when_it_is_given(tmp_path: Path) -> None:
    own = load_network(
        Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml"
    )
    part = next(name for name in own.parts if name not in load_network(WASHER).parts)
    path = _file(tmp_path, f"format: 1\nparts: {{{part}: {{stock: 1}}}}\n")

    assert check_settings(path).problems
    assert check_settings(path, [own]).problems == ()


@pytest.mark.parametrize(
    ("text", "remark"),
    [
        ("prices: {labour_per_hour: 40}", "sold for less than an hour of a technician costs"),
        ("costs: {return_trip: 30}", "Coming again costs less than coming"),
        ("prices: {service_fee: 20}", "does not cover the cost of the trip"),
        ("parts: {drain_pump: {price: 20}}", '"drain_pump" is sold for less than it may cost'),
        (
            "parts: {drain_pump: {numbers: {A: {plates: [A1], share: 0.3}}}}",
            "fit less than half of the machines",
        ),
    ],
)
def test_what_looks_like_a_slip_is_remarked_and_taken(
    text: str, remark: str, tmp_path: Path
) -> None:
    found = check_settings(_file(tmp_path, f"format: 1\n{text}\n"))

    assert found.problems == ()
    assert len(found.remarks) == 1
    assert remark in found.remarks[0]


def test_numbers_without_shares_are_equally_common(tmp_path: Path) -> None:
    numbers = "{A: {plates: [A1]}, B: {plates: [B1]}}"
    path = _file(tmp_path, f"format: 1\nparts: {{drain_pump: {{numbers: {numbers}}}}}\n")

    variants = read_settings(path).parts["drain_pump"].variants

    assert [variant.share for variant in variants] == [0.5, 0.5]


def test_page_has_every_number_with_default_unit_range_and_source() -> None:
    page = PAGE.read_text(encoding="utf-8")

    rows = re.findall(r"^\| `(\w+\.\w+)` \| (.+) \|$", page, re.M)

    expected = [
        (s.key, f"{s.default} | {s.unit} | {s.low:g} to {s.high:g} | {s.meaning} | {s.source}")
        for s in SETTINGS
    ]
    assert rows == expected


def test_page_has_every_new_machine() -> None:
    page = PAGE.read_text(encoding="utf-8")

    rows = re.findall(r"^\| `(\w+)` \| (\d+) \| (\d+) \| (\d+) \|$", page, re.M)

    assert rows == [
        (kind, f"{m.price_minor // 100}", f"{m.installation_minor // 100}", f"{m.life_years:g}")
        for kind, m in NEW_MACHINES.items()
    ]


def test_example_of_the_page_is_good(tmp_path: Path) -> None:
    example = re.search(r"```yaml\n(.*?)```", PAGE.read_text(encoding="utf-8"), re.S)

    assert example is not None
    found = check_settings(_file(tmp_path, example.group(1)))
    assert found.problems == found.remarks == ()
