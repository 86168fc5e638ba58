"""Pictures of fault networks: what is in them, and what a strict page may hold."""

import re
import subprocess
import sys
import xml.etree.ElementTree as ET
from dataclasses import replace
from pathlib import Path

import networkx as nx
import pytest
from click.testing import CliRunner

from tests import builders
from triage.cli.main import main
from triage.errors import UnknownNodeError
from triage.network.catalogue import load_network, network_names
from triage.network.drawing import MOST_LINES, draw_network
from triage.network.drawing_lines import COLOURS, OPACITIES, WIDTHS
from triage.network.drawing_links import (
    STRENGTH_WORDS,
    all_links,
    links_of,
    percent,
    strength_text,
    strength_word,
)
from triage.network.drawing_neighbourhood import draw_neighbourhood
from triage.network.drawing_order import ordered_layers
from triage.network.drawing_svg import INK, NEUTRAL, PAPER, QUIET
from triage.network.values import Mask, NetworkIndex, TableRow

ROOT = Path(__file__).resolve().parents[3]
SMALL_WASHER = str(Path(__file__).parent / "networks_files" / "small_washer.yaml")
SVG = "{http://www.w3.org/2000/svg}"
ELEMENTS = {"svg", "title", "desc", "rect", "g", "path", "circle", "text"}
DARK_PAGE = "#16181d"  # the paper of docs/pictures/architecture.svg on a dark screen


def parsed(picture: str) -> ET.Element:
    return ET.fromstring(picture)


def texts(picture: str) -> list[str]:
    return [entry.text or "" for entry in parsed(picture).iter(f"{SVG}text")]


def links_shown(picture: str) -> list[str]:
    """Tooltips of the lines from causes to signs."""
    paths = parsed(picture).iter(f"{SVG}path")
    titles = [path.find(f"{SVG}title") for path in paths]
    return [title.text or "" for title in titles if title is not None]


def luminance(colour: str) -> float:
    """Relative luminance of ``#rrggbb`` by WCAG 2.2."""
    channels = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in channels
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    """Contrast ratio by WCAG 2.2."""
    lighter, darker = sorted([luminance(one), luminance(other)], reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


@pytest.mark.parametrize("name", network_names())
def test_picture_holds_nothing_that_a_strict_page_refuses(name: str) -> None:
    picture = draw_network(load_network(name))

    tags = {entry.tag.removeprefix(SVG) for entry in parsed(picture).iter()}
    attributes = {key for entry in parsed(picture).iter() for key in entry.attrib}

    assert tags <= ELEMENTS
    assert "style" not in attributes
    assert [key for key in attributes if key.startswith("on") or "href" in key] == []


@pytest.mark.parametrize("name", network_names())
def test_picture_names_every_cause_and_sign_in_real_text(name: str) -> None:
    network = load_network(name)

    shown = " ".join(texts(draw_network(network)))

    modes = NetworkIndex(network).modes.values()
    assert [mode.title for mode in modes if mode.title not in shown] == []
    assert [sign.title for sign in network.signs.values() if sign.title not in shown] == []


@pytest.mark.parametrize("name", network_names())
def test_picture_has_one_line_a_link_but_for_signs_of_too_many_causes(name: str) -> None:
    network = load_network(name)
    crowded = [sign for sign in network.signs.values() if len(sign.parents) > MOST_LINES]

    picture = draw_network(network)

    left_out = sum(len(sign.parents) for sign in crowded)
    assert len(links_shown(picture)) == len(all_links(network)) - left_out
    for sign in crowded:
        assert f"({len(sign.parents)} causes)" in " ".join(texts(picture))


@pytest.mark.parametrize("name", network_names())
def test_lines_of_text_in_a_column_do_not_overlap(name: str) -> None:
    root = parsed(draw_network(load_network(name)))
    places: dict[tuple[str, str], list[float]] = {}
    for entry in root.iter(f"{SVG}text"):
        column = (entry.attrib["x"], entry.attrib.get("text-anchor", "start"))
        places.setdefault(column, []).append(float(entry.attrib["y"]))

    steps = [
        after - before
        for heights in places.values()
        for before, after in zip(sorted(heights), sorted(heights)[1:], strict=False)
    ]

    assert len(steps) > 100
    assert min(steps) >= 12  # pixels; the text is 13 high with its descenders


def test_bytes_are_the_same_in_a_process_that_orders_sets_otherwise() -> None:
    program = (
        "import sys; from triage.network.catalogue import load_network\n"
        "from triage.network.drawing import draw_network\n"
        f"sys.stdout.write(draw_network(load_network({SMALL_WASHER!r})))"
    )

    pictures = {
        subprocess.run(
            [sys.executable, "-c", program],
            cwd=ROOT,
            env={"PYTHONHASHSEED": seed, "PYTHONIOENCODING": "utf-8"},
            capture_output=True,
            check=True,
        ).stdout
        for seed in ("1", "2")
    }

    assert pictures == {draw_network(load_network(SMALL_WASHER)).encode()}


def test_stronger_links_are_wider_and_darker() -> None:
    by_strength = list(STRENGTH_WORDS)

    assert by_strength == sorted(WIDTHS, key=lambda word: -WIDTHS[word])
    assert by_strength == sorted(OPACITIES, key=lambda word: -OPACITIES[word])


def test_line_has_the_width_of_its_strength() -> None:
    network = builders.two_causes_one_sign()  # pump.burnt 0.2, belt.broken 0.9

    root = parsed(draw_network(network))

    widths = {
        (path.findtext(f"{SVG}title") or "").split(" →")[0]: group.attrib["stroke-width"]
        for group in root.iter(f"{SVG}g")
        for path in group.findall(f"{SVG}path")
        if "→" in path.findtext(f"{SVG}title", "")
    }
    assert widths == {
        "pump: burnt": f"{WIDTHS['sometimes']:g}",
        "belt: broken": f"{WIDTHS['almost always']:g}",
    }


@pytest.mark.parametrize("paper", [PAPER, DARK_PAGE])
def test_colours_stand_out_from_light_and_dark_paper(paper: str) -> None:
    ratios = {colour: contrast(colour, paper) for colour in (*COLOURS, NEUTRAL)}

    assert min(ratios.values()) >= 3.0, ratios  # WCAG 2.2, 1.4.11 non-text contrast


def test_text_stands_out_from_its_paper() -> None:
    assert min(contrast(colour, PAPER) for colour in (INK, QUIET)) >= 4.5  # WCAG 2.2, 1.4.3


def test_special_characters_of_a_title_are_escaped() -> None:
    network = replace(builders.two_causes_one_sign(), title='Washer <A> & "B"')

    picture = draw_network(network)

    assert 'Washer <A> & "B": causes and signs' in texts(picture)


def test_pairs_are_drawn_as_one_bracket_for_each_cause_they_share() -> None:
    parts = [builders.component(name, {"x": 0.25}) for name in "abcd"]
    pairs = [
        builders.pair("a.x", "b.x", 0.02),
        builders.pair("c.x", "a.x", 0.03),
        builders.pair("c.x", "d.x", 0.01),
    ]
    signs = [builders.sign("s", {f"{name}.x": 0.5 for name in "abcd"})]

    picture = draw_network(builders.network(parts, signs, [], pairs=pairs))

    brackets = [
        text for text in re.findall(r"<title>(.*?)</title>", picture, re.S) if "with" in text
    ]
    assert brackets == [
        "a: x\nwith b: x: 2 % of calls\nwith c: x: 3 % of calls",
        "c: x\nwith d: x: 1 % of calls",
    ]


def test_signs_are_ordered_so_that_links_need_not_cross() -> None:
    graph = links_graph({"a.x": ["third"], "b.x": ["second"], "c.x": ["first"]})

    groups, signs = ordered_layers(
        graph, [[["a.x"], ["b.x"], ["c.x"]]], ["first", "second", "third"]
    )

    place = {mode: number for number, (mode,) in enumerate(groups[0])}
    pairs = sorted((place[mode], signs.index(sign)) for mode, sign in graph.edges)
    assert pairs == [(0, 0), (1, 1), (2, 2)]


def test_failure_modes_stay_with_their_component_and_kind() -> None:
    graph = links_graph({"a.x": ["low"], "a.y": ["high"], "b.x": ["low"], "c.x": ["high"]})
    groups = [[["a.x", "a.y"], ["b.x"]], [["c.x"]]]

    ordered, _ = ordered_layers(graph, groups, ["high", "low"])

    assert [sorted(map(sorted, kind)) for kind in ordered] == [
        [["a.x", "a.y"], ["b.x"]],
        [["c.x"]],
    ]


def links_graph(links: dict[str, list[str]]) -> nx.Graph:
    graph = nx.Graph()
    for mode, signs in links.items():
        for sign in signs:
            graph.add_edge(mode, sign, weight=1.0)
    return graph


@pytest.mark.parametrize(
    ("strength", "word"),  # the levels of networks/fragments/common.yaml
    [(0.947, "almost always"), (0.628, "often"), (0.255, "sometimes"), (0.043, "rarely")],
)
def test_level_of_the_networks_is_shown_by_its_own_word(strength: float, word: str) -> None:
    assert strength_word(strength) == word


@pytest.mark.parametrize(
    ("probability", "text"),
    [(0.628, "63 %"), (0.0426, "4.3 %"), (0.0053, "0.53 %"), (1.0, "100 %"), (0.0996, "10 %")],
)
def test_percent_has_two_digits(probability: float, text: str) -> None:
    assert percent(probability) == text


def test_strength_of_a_sign_with_several_states_names_each() -> None:
    sign = builders.sign(
        "flow", {"a.x": [0.1, 0.8, 0.1]}, [1.0, 0.0, 0.0], ["steady", "a_dribble", "none"]
    )

    assert strength_text(links_of(sign)[0]) == "almost always (a dribble 80 %, none 10 %)"


def test_link_of_a_decision_list_says_what_must_have_failed_as_well() -> None:
    rows = [
        TableRow(when=("a.x", "b.y"), then=(0.1, 0.9)),
        TableRow(when=("a.x",), then=(0.7, 0.3)),
        TableRow(when=(), then=(0.99, 0.01)),
    ]
    sign = builders.sign("s", {}, 0.01, rows=rows)

    found = {link.mode: (link.strength, link.together_with) for link in links_of(sign)}

    assert found == {"a.x": (0.3, ()), "b.y": (0.9, ("a.x",))}


def test_neighbourhood_of_a_component_holds_its_causes_and_their_signs_only() -> None:
    network = load_network(SMALL_WASHER)

    shown = links_shown(draw_neighbourhood(network, "drain_pump"))

    modes = [mode.id for mode in network.components["drain_pump"].modes]
    links = [link for link in all_links(network) if link.mode in modes]
    assert len(modes) == 2
    assert len(shown) == len(links)
    assert all(text.startswith(network.components["drain_pump"].title) for text in shown)


def test_neighbourhood_of_a_failure_mode_lists_its_strongest_sign_first() -> None:
    network = builders.network(
        [builders.component("pump", {"burnt": 1.0})],
        [builders.sign("weak", {"pump.burnt": 0.2}), builders.sign("strong", {"pump.burnt": 0.9})],
        [builders.observation("hears", "weak", [[0.9, 0.1], [0.1, 0.9]])],
    )

    shown = texts(draw_neighbourhood(network, "pump.burnt"))

    assert shown.index("strong") < shown.index("weak")
    assert "almost always (90 %)" in shown
    assert "C  hears, 1 min" in shown


def test_neighbourhood_of_a_sign_holds_all_its_causes_strongest_first() -> None:
    picture = draw_neighbourhood(builders.two_causes_one_sign(), "no_spin")

    shown = texts(picture)

    assert len(links_shown(picture)) == 2
    assert shown.index("belt") < shown.index("pump")
    assert {"C  says_no_spin, 1 min", "T  tests_spin, 1 min"} <= set(shown)


@pytest.mark.parametrize(
    ("node", "heading", "other"),
    [("spin", "Hides it", "water"), ("water", "Is hidden by it", "spin")],
)
def test_neighbourhood_of_a_sign_shows_what_hides_it_and_what_it_hides(
    node: str, heading: str, other: str
) -> None:
    mask = Mask(masker="water", states=("present",), shows="present")
    network = builders.network(
        [builders.component("pump", {"burnt": 1.0})],
        [
            builders.sign("water", {"pump.burnt": 0.9}),
            builders.sign("spin", {"pump.burnt": 0.1}, masks=[mask]),
        ],
        [],
    )

    shown = texts(draw_neighbourhood(network, node))

    assert shown[shown.index(heading) + 1 :][:2] == [other, "while: present"]


def test_node_that_is_not_there_is_answered_with_the_nearest_one() -> None:
    expected = (
        'Unknown component, failure mode or sign "pmup.burnt"; expected one of the 5 of '
        'test_network, such as "pump", "belt", "pump.burnt", "belt.broken" and 1 more. '
        'Did you mean "pump.burnt"?'
    )

    with pytest.raises(UnknownNodeError, match=re.escape(expected)):
        draw_neighbourhood(builders.two_causes_one_sign(), "pmup.burnt")


def test_command_writes_the_whole_network(tmp_path: Path) -> None:
    target = tmp_path / "washer.svg"

    result = CliRunner().invoke(main, ["draw", SMALL_WASHER, "-o", str(target)])

    assert result.exit_code == 0
    assert target.read_text(encoding="utf-8") == draw_network(load_network(SMALL_WASHER))
    assert result.stdout == f"{target}: {target.stat().st_size} bytes\n"


def test_command_writes_what_is_around_a_node(tmp_path: Path) -> None:
    target = tmp_path / "pump.svg"

    result = CliRunner().invoke(
        main, ["draw", SMALL_WASHER, "--around", "drain_pump", "-o", str(target)]
    )

    assert result.exit_code == 0
    assert target.read_text(encoding="utf-8") == draw_neighbourhood(
        load_network(SMALL_WASHER), "drain_pump"
    )


def test_command_leaves_a_file_that_exists_alone_unless_forced(tmp_path: Path) -> None:
    target = tmp_path / "washer.svg"
    target.write_text("mine", encoding="utf-8")

    refused = CliRunner().invoke(main, ["draw", SMALL_WASHER, "-o", str(target)])
    kept = target.read_text(encoding="utf-8")
    forced = CliRunner().invoke(main, ["draw", SMALL_WASHER, "-o", str(target), "--force"])

    assert (refused.exit_code, kept, forced.exit_code) == (2, "mine", 0)
    assert f'"{target}" exists; nothing was written.' in refused.stderr
    assert target.read_text(encoding="utf-8").startswith("<svg ")


def test_command_names_a_folder_that_is_not_there(tmp_path: Path) -> None:
    target = tmp_path / "absent" / "washer.svg"

    result = CliRunner().invoke(main, ["draw", SMALL_WASHER, "-o", str(target)])

    assert result.exit_code == 2
    assert f'"{target}" cannot be written (No such file or directory)' in result.stderr
