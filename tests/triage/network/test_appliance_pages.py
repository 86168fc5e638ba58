"""Pages and pictures under docs/ that are written from the networks."""

import re
from dataclasses import replace
from functools import cache
from itertools import pairwise
from pathlib import Path

import pytest

from tests import builders
from triage.network.catalogue import load_network, network_names
from triage.network.datasheet.coverage import coverage_page
from triage.network.datasheet.markdown import table
from triage.network.datasheet.page import COMMAND, appliance_page
from triage.network.values import (
    Channel,
    ComponentKind,
    FaultNetwork,
    NetworkIndex,
    Reading,
    TableRow,
)
from triage.network.write_docs import docs_folder, generated_files, write_docs

SMALL_WASHER = Path(__file__).parent / "networks_files" / "small_washer.yaml"


FILES = [
    "appliances/README.md",
    *(f"appliances/{name}.md" for name in network_names()),
    *(f"pictures/network-{name}.svg" for name in network_names()),
]


@cache
def generated() -> dict[str, str]:
    return dict(generated_files())


def small_page() -> str:
    return appliance_page(load_network(SMALL_WASHER))


def row_with(page: str, text: str) -> list[str]:
    """Cells of the only table row that has the text."""
    rows = [line for line in page.splitlines() if line.startswith("| ") and text in line]
    assert len(rows) == 1, rows
    return [cell.strip() for cell in rows[0].strip("|").split(" | ")]


def cells_count(line: str) -> int:
    """Number of cells of a table row; a bar after a backslash is text."""
    return len(re.findall(r"(?<!\\)\|", line)) - 1


def section_of(page: str, heading: str) -> str:
    """Text below a heading, up to the next one of the same level or above."""
    level = heading.split()[0]
    found = re.search(
        rf"^{re.escape(heading)}.*?\n(.*?)(?=^#{{2,{len(level)}}} |\Z)", page, re.M | re.S
    )
    assert found is not None, f"no heading {heading!r}"
    return found.group(1)


def test_every_shipped_network_has_a_page_and_a_picture() -> None:
    names = list(generated())

    assert sorted(names) == sorted(FILES)


@pytest.mark.parametrize("name", FILES)
def test_committed_file_is_what_the_networks_say(name: str) -> None:
    path = docs_folder() / name

    committed = path.read_text(encoding="utf-8") if path.exists() else ""

    is_current = committed == generated()[name]
    assert is_current, f"docs/{name} is out of date; run: {COMMAND}"


def test_no_page_is_left_of_a_network_that_is_gone() -> None:
    folder = docs_folder()
    pages = {f"appliances/{path.name}" for path in (folder / "appliances").iterdir()}
    pictures = {f"pictures/{path.name}" for path in (folder / "pictures").glob("network-*")}

    assert pages | pictures == set(FILES)


def test_files_that_are_current_are_not_written_again(tmp_path: Path) -> None:
    first = write_docs(tmp_path)

    (tmp_path / "appliances" / "README.md").write_text("stale", encoding="utf-8")
    second = write_docs(tmp_path)

    assert len(first) == len(FILES)
    assert second == [tmp_path / "appliances" / "README.md"]


@pytest.mark.parametrize("name", network_names())
def test_page_names_everything_of_its_network(name: str) -> None:
    network = load_network(name)

    page = appliance_page(network)

    ids = [
        *network.contexts,
        *NetworkIndex(network).modes,
        *network.signs,
        *network.observations,
        *network.repairs,
        *network.parts,
        *network.safety_flags,
        *network.cautions,
    ]
    assert [entry for entry in ids if f"`{entry}`" not in page] == []
    wordings = [look.wording for look in network.observations.values()]
    assert [text for text in wordings if text.replace("|", "\\|") not in page] == []


@pytest.mark.parametrize("name", network_names())
def test_page_has_tables_whose_rows_are_as_long_as_their_heading(name: str) -> None:
    lines = appliance_page(load_network(name)).splitlines()

    rows = [
        (above, below)
        for above, below in pairwise(lines)
        if above.startswith("|") and below.startswith("|")
    ]

    assert len(rows) > 100
    assert [below for above, below in rows if cells_count(above) != cells_count(below)] == []


def test_page_asks_to_be_corrected_in_every_part_that_has_numbers() -> None:
    page = small_page()

    asking = [
        heading
        for heading in re.findall(r"^## (.+)$", page, re.M)
        if "**Tell us:**" in section_of(page, f"## {heading}")
    ]

    assert asking == [
        "Safety",
        "Circumstances",
        "Causes",
        "Causes that come together",
        "Signs",
        "Ways to look",
        "Repairs",
        "Parts",
        "Cautions",
        "Sources and grades",
    ]


def test_cause_stands_with_share_repair_minutes_and_part() -> None:
    parts = [builders.component("pump", {"burnt": 0.25}), builders.component("belt", {"off": 0.75})]
    network = builders.network(
        parts,
        [builders.sign("s", {"pump.burnt": 0.5, "belt.off": 0.5})],
        [],
        repairs=[builders.repair("replace_pump", ["pump.burnt"], minutes=35)],
    )

    page = section_of(appliance_page(network), "## Causes")

    assert row_with(page, "`pump.burnt`") == [
        "**pump**: burnt<br>`pump.burnt`",
        "25 %",
        "replace_pump (technician)",
        "35",
        "replace_pump_part, USD 10 to 20, usually on the van",  # 1000 to 2000 minor units
        "`test`",
    ]


def test_dependence_on_age_is_given_value_by_value_and_zero_is_not_fitted() -> None:
    age = builders.context("age", {"new": 0.5, "mid": 0.3, "old": 0.2})
    part = builders.component(
        "belt", {"off": 1.0}, multipliers={"off": {"age": {"new": 0.0, "old": 1.6}}}
    )
    network = builders.network([part], [builders.sign("s", {"belt.off": 0.5})], [], contexts=[age])

    page = section_of(appliance_page(network), "## Circumstances")

    assert row_with(page, "`belt.off`")[1] == "not fitted / 1 / 1.6"
    assert row_with(page, "`age`")[1] == "new 50 %<br>mid 30 %<br>old 20 %"


def test_sign_names_its_causes_by_word_strongest_first() -> None:
    page = section_of(appliance_page(builders.two_causes_one_sign()), "### no_spin")

    assert page.splitlines()[3:7] == [
        "- *almost always*: belt: broken (90 %)",
        "- *sometimes*: pump: burnt (20 %)",
        "- without any of them: 1 %",  # the leak of the builder
        "- Looked at by: says_no_spin (asked of the caller); tests_spin (on-site test)",
    ]


def test_sign_with_a_decision_list_is_given_row_by_row() -> None:
    rows = [
        TableRow(when=("a.x", "b.x"), then=(0.1, 0.9)),
        TableRow(when=(), then=(0.98, 0.02)),
    ]
    parts = [builders.component(name, {"x": 0.5}) for name in "ab"]
    network = builders.network(parts, [builders.sign("s", {}, 0.02, rows=rows)], [])

    page = section_of(appliance_page(network), "### s")

    assert "- with a: x and b: x: 90 %\n- otherwise: 2 %\n" in page


def test_observation_says_how_sure_each_answer_is() -> None:
    page = section_of(appliance_page(builders.two_causes_one_sign()), "### On-site test")

    cells = row_with(page, "`tests_spin`")

    assert "absent: “no” 98 %<br>present: “yes” 98 %" in cells


def test_meter_gives_its_good_range_and_its_error() -> None:
    network = builders.two_causes_one_sign()
    reading = Reading(
        unit="ohm", accept=(5, 25), span=(0, 2000), sd=0.5, inside={"absent": 0.98, "present": 0.1}
    )
    look = replace(network.observations["tests_spin"], channel=Channel.METER, reading=reading)

    page = appliance_page(replace(network, observations={look.id: look}))

    cells = row_with(section_of(page, "### Meter"), "`tests_spin`")
    assert "a reading; 5 to 25 ohm is good" in cells
    assert "absent: 98 % inside<br>present: 10 % inside<br>meter off by 0.5 ohm (one sd)" in cells


def test_sources_count_what_rests_on_them() -> None:
    page = section_of(appliance_page(builders.two_causes_one_sign()), "## Sources")

    assert row_with(page, "`test`") == [
        "`test`<br>invented for a test",
        "judged, worth 10 jobs",
        "2 shares: `pump.burnt`, `belt.broken`<br>1 sign: `no_spin`"
        "<br>2 ways to look: `says_no_spin`, `tests_spin`",
    ]


def test_table_leaves_out_columns_without_content_and_keeps_marks_harmless() -> None:
    lines = table(["a", "b", "c"], [["x | y", "", "under <3 ohm"], ["", "", "p<br>q"]])

    assert lines == [
        "| a | c |",
        "| --- | --- |",
        "| x \\| y | under &lt;3 ohm |",
        "| – | p<br>q |",
    ]


def networks_of_two_kinds() -> list[FaultNetwork]:
    """One network whose belt no test shows firmly, and one with a part of the house."""
    thin = builders.network(
        [builders.component("pump", {"burnt": 0.5}), builders.component("belt", {"off": 0.5})],
        [builders.sign("s", {"pump.burnt": 0.9, "belt.off": 0.1})],
        [builders.observation("tests", "s", [[0.9, 0.1]] * 2, channel=Channel.ON_SITE_TEST)],
        name="thin",
    )
    house = builders.network(
        [builders.component("tap", {"shut": 1.0}, ComponentKind.INSTALLATION)],
        [builders.sign("s", {"tap.shut": 0.9})],
        [builders.observation("asks", "s", [[0.9, 0.1]] * 2)],
        name="house",
    )
    return [thin, house]


def test_coverage_counts_each_network_in_its_own_column() -> None:
    page = coverage_page(networks_of_two_kinds())

    assert row_with(page, "causes: equipment") == ["causes: equipment", "2", "0"]
    assert row_with(page, "causes: installation") == ["causes: installation", "0", "1"]
    assert row_with(page, "looks: on-site test") == ["looks: on-site test", "1", "0"]


def test_coverage_names_causes_that_nothing_shows_firmly() -> None:
    page = coverage_page(networks_of_two_kinds())

    assert row_with(page, "no firm test on site")[1:] == ["`belt.off`", "`tap.shut`"]
    assert row_with(page, "no firm sign by phone")[1:] == ["`pump.burnt`<br>`belt.off`", "–"]
