"""The table of renamed ids: strict, every problem at once, followed step by step."""

from pathlib import Path

import pytest

from triage.errors import RenamesFileError
from triage.network.catalogue import load_network, network_names
from triage.network.renames import RETIRED, Rename, RenameTable, read_renames, shipped_renames
from triage.network.values import NetworkIndex

GOOD = """\
format: 1
renames:
  - {kind: cause, from: a.x, to: b.y, reason: one word for one thing}
  - {kind: cause, from: b.y, to: c.z, network: gas_dryer, reason: split}
  - {kind: answer, of: asks_it, from: perhaps, to: dont_know, reason: merged}
  - {kind: observation, from: asks_gone, to: null, reason: told nothing}
"""


def read(tmp_path: Path, text: str) -> RenameTable:
    path = tmp_path / "renames.yaml"
    path.write_text(text, encoding="utf-8")
    return read_renames(path)


def test_changes_are_followed_one_after_the_other(tmp_path: Path) -> None:
    table = read(tmp_path, GOOD)

    assert table.find("cause", "a.x", "gas_dryer", known=["c.z"]) == "c.z"
    assert table.find("cause", "a.x", "top_load_washer", known=["b.y"]) == "b.y"
    assert table.find("answer", "perhaps", "any", known=["dont_know"], of="asks_it") == "dont_know"
    assert table.find("observation", "asks_gone", "any", known=[]) == RETIRED


def test_name_that_the_network_has_is_itself(tmp_path: Path) -> None:
    assert read(tmp_path, GOOD).find("cause", "a.x", "gas_dryer", known=["a.x"]) == "a.x"


def test_name_that_nobody_knows_stays_unknown(tmp_path: Path) -> None:
    table = read(tmp_path, GOOD)

    assert table.find("cause", "d.w", "gas_dryer", known=["c.z"]) is None
    assert table.find("answer", "perhaps", "any", known=["dont_know"], of="asks_other") is None


def test_names_in_a_circle_end() -> None:
    table = RenameTable(
        (Rename("part", "a", "b", "any", "", "x"), Rename("part", "b", "a", "any", "", "x"))
    )

    assert table.find("part", "a", "any", known=["c"]) is None


def test_every_problem_is_told_with_its_line(tmp_path: Path) -> None:
    text = """\
format: 2
renamed: []
renames:
  - {kind: cause, from: a.x, to: a.x, reason: no}
  - {kind: colour, from: a, to: b, reason: no}
  - {kind: answer, from: a, to: b, reason: no}
  - {kind: cause, from: a.x, reason: no}
  - {kind: part, from: p, to: q, reason: once, note: more}
  - nothing
  - {kind: part, from: r, to: q, reason: once}
  - {kind: part, from: r, to: s, reason: twice}
  - {kind: part, from: "", to: s, reason: empty}
"""

    with pytest.raises(RenamesFileError) as error:
        read(tmp_path, text)

    lines = [problem.split("renames.yaml:")[1] for problem in error.value.problems]
    assert lines == [
        '1: format: got "2"; expected 1.',
        '2: unknown key: got "renamed"; expected format and renames.',
        '4: to: got "a.x"; expected another id than from.',
        '5: kind: got "colour"; expected observation, answer, cause, repair, part.',
        '6: of: got nothing; expected "of" with an answer, and with nothing else.',
        "7: no to: got nothing; expected the key to.",
        '8: unknown key: got "note"; expected from, kind, network, of, reason, to.',
        '9: entry: got "nothing"; expected a mapping (kind, from, to, reason).',
        '11: from: got "r"; expected each id once.',
        '12: from: got ""; expected a text.',
    ]


def test_list_that_is_none_is_told(tmp_path: Path) -> None:
    with pytest.raises(RenamesFileError, match="expected a list of mappings"):
        read(tmp_path, "format: 1\nrenames: 3\n")


def test_file_that_is_no_yaml_is_told(tmp_path: Path) -> None:
    with pytest.raises(RenamesFileError, match=r"renames\.yaml:2: got bad syntax"):
        read(tmp_path, "[")


def test_no_present_id_is_said_to_be_renamed() -> None:
    for name in network_names():
        network = load_network(name)
        present = {*network.observations, *network.repairs, *network.parts}
        present |= set(NetworkIndex(network).modes)
        old = {one.old for one in shipped_renames().renames if one.kind != "answer"}
        assert old.isdisjoint(present)
