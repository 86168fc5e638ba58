"""A network written out and read back is the same network, to the last digit."""

from dataclasses import replace
from functools import cache
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from triage.errors import NetworkFileError
from triage.network.catalogue import load_network
from triage.network.dump import dump_network
from triage.network.loader import read_network, read_network_text

SMALL_WASHER = Path(__file__).parent / "networks_files" / "small_washer.yaml"

texts = st.text(min_size=1, max_size=30).filter(lambda text: text.strip())
likelihoods = st.floats(min_value=1e-6, max_value=1 - 1e-6)
minutes = st.floats(min_value=0, max_value=1e6)
costs = st.integers(min_value=0, max_value=10**9)


@cache
def small_washer():
    return read_network(SMALL_WASHER)


@st.composite
def networks(draw):
    """The small washer with other texts and numbers, each within what the format allows."""
    network = small_washer()
    yes = [draw(likelihoods), draw(likelihoods)]
    present = draw(st.floats(min_value=0, max_value=1))
    hum = replace(
        network.observations["says_hum"],
        title=draw(texts),
        wording=draw(texts),
        answers={"yes": draw(texts), "no": draw(texts)},
        likelihood=tuple((value, 1 - value) for value in yes),
        phrases=tuple(draw(st.lists(texts, unique=True, max_size=2))),
        minutes=draw(minutes),
    )
    water_left = replace(network.signs["water_left"], leak=(1 - present, present))
    belt = replace(network.parts["belt"], cost=tuple(sorted([draw(costs), draw(costs)])))
    return replace(
        network,
        title=draw(texts),
        description=draw(st.text(max_size=30)),
        version=draw(st.integers(min_value=1, max_value=10**9)),
        conflict_threshold_bits=draw(st.floats(allow_nan=False, allow_infinity=False)),
        signs={**network.signs, "water_left": water_left},
        observations={**network.observations, "says_hum": hum},
        parts={**network.parts, "belt": belt},
        cautions={**network.cautions, "unplug": draw(texts)},
    )


def read_text(text, folder):
    path = folder / "small_washer.yaml"
    path.write_text(text, encoding="utf-8", newline="")
    return read_network(path)


def test_network_written_out_is_read_back_equal(tmp_path):
    text = dump_network(small_washer())

    assert read_text(text, tmp_path) == small_washer()
    assert "include" not in text
    assert "often" not in text


@given(network=networks())
def test_any_text_and_number_survives_being_written_out(network, tmp_path_factory):
    text = dump_network(network)

    assert read_text(text, tmp_path_factory.mktemp("written")) == network


def test_writing_out_twice_gives_the_same_text(tmp_path):
    text = dump_network(small_washer())

    assert dump_network(read_text(text, tmp_path)) == text


def test_text_of_a_network_is_read_back_without_a_file() -> None:
    network = load_network("gas_dryer")

    assert read_network_text(dump_network(network), "gas_dryer") == network


def test_text_that_is_no_network_is_refused() -> None:
    with pytest.raises(
        NetworkFileError, match=r'gas_dryer\.yaml:2: network: got "top_load_washer"'
    ):
        read_network_text(dump_network(load_network("top_load_washer")), "gas_dryer")
    with pytest.raises(NetworkFileError, match=r"gas_dryer\.yaml"):
        read_network_text("format: 1\nfragment: gas_dryer\n", "gas_dryer")
