"""BIF files: what is read, what is put right, and what is refused with every problem named."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest

from tests.discrete_networks import published
from triage.errors import NetworkFileError
from triage.network.bif import parse_bif, read_bif
from triage.network.discrete import DiscreteNetwork

RAIN = """network rain {{
}}
variable rain {{
  type discrete [ 2 ] {{ no, yes }};
}}
variable grass {{
  type discrete [ 3 ] {{ dry, damp, wet }};
}}
probability ( rain ) {{
  table 0.8, 0.2;
}}
probability ( grass | {parent} ) {{
  (yes) {yes};
  (no) 0.9, 0.1, 0.0;
}}
"""


def rain(yes: str = "0.0, 0.25, 0.75", parent: str = "rain") -> DiscreteNetwork:
    return parse_bif(RAIN.format(yes=yes, parent=parent), name="rain.bif")


def test_file_gives_states_parents_and_tables_with_the_variable_last() -> None:
    network = rain()

    assert network.states == {"rain": ("no", "yes"), "grass": ("dry", "damp", "wet")}
    assert network.parents == {"rain": (), "grass": ("rain",)}
    assert network.tables["rain"].tolist() == [0.8, 0.2]
    # Rows by the name of the parent's state, not by their place in the file.
    assert network.tables["grass"].tolist() == [[0.9, 0.1, 0.0], [0.0, 0.25, 0.75]]


def test_file_with_windows_line_ends_is_the_same(tmp_path: Path) -> None:
    text = RAIN.format(yes="0.0, 0.25, 0.75", parent="rain")
    file = tmp_path / "rain.bif"
    file.write_bytes(text.replace("\n", "\r\n").encode())

    network = read_bif(file)

    assert network.name == str(file)
    assert network.tables["grass"].tolist() == rain().tables["grass"].tolist()


def test_parents_keep_their_order_in_a_published_file() -> None:
    network = published("asia")

    assert network.scope("dysp") == ("bronc", "either", "dysp")
    # P(dysp | bronc, no either) is 0.8 and P(dysp | no bronc, either) 0.7 in the file and in
    # [LauritzenSpiegelhalter1988]_.
    assert network.tables["dysp"][0, 1].tolist() == [0.8, 0.2]
    assert network.tables["dysp"][1, 0].tolist() == [0.7, 0.3]


def test_rows_rounded_by_the_file_are_made_exact() -> None:
    network = published("alarm")  # some rows of the file are off by 1e-7

    assert all(np.abs(table.sum(axis=-1) - 1.0).max() < 1e-15 for table in network.tables.values())


def test_rows_that_do_not_sum_to_one_are_reported_by_their_parents() -> None:
    with pytest.raises(NetworkFileError, match=r"rain\.bif: 1 problem\n") as raised:
        rain(yes="0.1, 0.25, 0.75")

    assert raised.value.problems == (
        'variable "grass" given rain = yes: probabilities sum to 1.1; expected 1 within 1e-09',
    )


def test_row_that_is_missing_is_reported() -> None:
    text = RAIN.format(yes="0.0, 0.25, 0.75", parent="rain").replace("  (no) 0.9, 0.1, 0.0;\n", "")

    with pytest.raises(NetworkFileError, match="given rain = no: probabilities sum to 0;"):
        parse_bif(text, name="rain.bif")


def test_negative_probability_is_reported() -> None:
    with pytest.raises(NetworkFileError, match='"grass": a probability is negative or missing'):
        rain(yes="-0.5, 0.75, 0.75")


def test_row_of_the_wrong_length_is_reported() -> None:
    with pytest.raises(NetworkFileError, match="not a BIF file that can be read"):
        rain(yes="0.5, 0.5")


def test_unknown_parent_is_reported() -> None:
    with pytest.raises(NetworkFileError, match="not a BIF file that can be read"):
        rain(parent="hail")


@pytest.mark.parametrize("text", ["hello", "", "network empty {\n}\n"])
def test_text_without_variables_is_refused(text: str) -> None:
    with pytest.raises(NetworkFileError, match="no variable found; expected at least one"):
        parse_bif(text, name="empty.bif")


def test_all_problems_of_a_network_are_listed() -> None:
    with pytest.raises(NetworkFileError) as raised:
        DiscreteNetwork(
            name="broken",
            states=dict.fromkeys("abcd", ("no", "yes")),
            parents={"a": ("b",), "b": ("a",), "c": ("z",), "d": ()},
            tables={"a": np.full((2, 2), 0.5), "b": np.full((3, 2), 0.5)},
        )

    assert raised.value.problems == (
        'variable "b": table has shape (3, 2); expected (2, 2)',
        "variable \"c\": parents ['z'] are not variables of the network",
        'variable "d": no probabilities; expected a table',
        "variables depend on themselves: a <- b <- a; expected no cycle",
    )


def test_tables_cannot_be_changed() -> None:
    with pytest.raises(ValueError, match="read-only"):
        rain().tables["rain"][0] = 1.0


def test_pgmpy_is_loaded_only_when_a_file_is_read() -> None:
    code = "import sys, triage.network.bif; print('pgmpy' in sys.modules)"

    answer = subprocess.run(
        [sys.executable, "-c", code], capture_output=True, text=True, check=True
    )

    assert answer.stdout == "False\n"
