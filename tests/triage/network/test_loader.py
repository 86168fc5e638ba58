"""What a good network file becomes. Files are in ``networks_files``; all numbers are invented."""

import time
from pathlib import Path

import pytest

from triage.errors import NetworkFileError
from triage.network.loader import check_file, read_network
from triage.network.values import (
    Combination,
    ComponentKind,
    Grade,
    Mask,
    NetworkIndex,
    Provenance,
    TableRow,
)

FILES = Path(__file__).parent / "networks_files"
SMALL_WASHER = FILES / "small_washer.yaml"
SMALL_DRAIN = FILES / "fragments" / "small_drain.yaml"


@pytest.fixture(scope="module")
def network():
    return read_network(SMALL_WASHER)


def test_good_files_have_no_problems():
    problems = [check_file(SMALL_WASHER), check_file(SMALL_DRAIN)]

    assert problems == [(), ()]


def test_head_of_the_file_is_read(network):
    head = (network.id, network.version, network.currency, network.expected_failed_modes)

    assert head == ("small_washer", 3, "USD", 1.07)
    assert network.conflict_threshold_bits == 6.5
    assert network.verification == "runs_full_cycle"


def test_included_fragment_comes_before_the_file(network):
    components = list(network.components)

    assert components == [
        "drain_pump", "drive_belt", "control", "inlet_screens", "nothing_failed",
    ]  # fmt: skip
    assert list(network.cautions) == ["unplug", "moving_basket"]


def test_nothing_failed_is_a_component_of_its_own_kind(network):
    component = network.components["nothing_failed"]

    assert component.kind is ComponentKind.NOTHING_FAILED
    assert component.title == "Nothing failed"
    assert [mode.id for mode in component.modes] == ["nothing_failed.normal_behaviour"]


def test_single_strength_is_the_probability_of_the_worst_state(network):
    causes = network.signs["cold_flow"].causes

    assert causes["control.dead"] == (1 - 0.63, 0.0, 0.63)  # the level `often`


def test_strength_per_state_leaves_the_rest_to_the_normal_state(network):
    sign = network.signs["cold_flow"]

    assert sign.causes["inlet_screens.clogged"] == pytest.approx((0.1, 0.8, 0.1))
    assert sign.leak == pytest.approx((0.993, 0.005, 0.002))


def test_sign_without_a_leak_is_normal_with_nothing_failed(network):
    leak = network.signs["pump_winding"].leak

    assert leak == (1, 0)


def test_causes_stated_elsewhere_follow_those_of_the_sign(network):
    sign = network.signs["water_left"]

    assert sign.parents == (
        "drain_pump.burnt", "drain_pump.jammed", "control.dead", "nothing_failed.normal_behaviour",
    )  # fmt: skip
    assert sign.causes["control.dead"] == (0.7, 0.3)  # the level `sometimes`


def test_untestable_is_the_last_state_and_never_happens_by_itself(network):
    sign = network.signs["low_spin"]

    assert sign.states == ("works", "fails", "untestable")
    assert sign.masks == (Mask(masker="water_left", states=("present",), shows="untestable"),)
    assert sign.leak == (0.995, 0.005, 0.0)
    assert sign.causes["control.dead"] == (0.1, 0.9, 0.0)


def test_rows_become_a_decision_list_whose_last_row_is_the_leak(network):
    sign = network.signs["hum"]

    assert sign.combination is Combination.TABLE
    assert sign.rows[0] == TableRow(when=("drain_pump.burnt", "control.dead"), then=(1.0, 0.0))
    assert sign.rows[-1].when == ()
    assert sign.leak == sign.rows[-1].then == (0.99, 0.01)


def test_likelihood_is_in_the_order_of_states_and_answers(network):
    observation = network.observations["says_hum"]

    assert list(observation.answers) == ["yes", "no"]
    assert observation.likelihood == ((0.1, 0.9), (0.8, 0.2))  # the file has `present` first


def test_named_column_gives_what_is_volunteered_per_state(network):
    volunteered = network.observations["says_hum"].volunteered

    assert volunteered == (0.002, 0.5)  # its row for `untestable` is not needed here


def test_meter_likelihood_follows_from_its_reading(network):
    good, bad = network.observations["meters_pump_winding"].likelihood

    # inside 0.98 and 0.10; an error of 0.5 ohm moves 2 * 0.5 / sqrt(2 pi) / 20 = 2.0 % over an end.
    assert good == pytest.approx((0.98 * (1 - 0.01995), 1 - 0.98 * (1 - 0.01995)), abs=1e-4)
    assert bad == pytest.approx((0.0982, 0.9018), abs=1e-4)


def test_multipliers_of_several_sets_are_gathered_by_context(network):
    mode = NetworkIndex(network).mode("drive_belt.broken")

    assert mode.multipliers == {"drive": {"direct_drive": 0, "belt": 1.5}}


def test_costs_are_in_minor_units(network):
    costs = (network.parts["belt"].cost, network.parts["pump"].cost)

    assert costs == ((1500, 4000), (2495, 9000))


def test_number_has_the_default_of_its_own_file(network):
    in_fragment, in_network = network.signs["water_left"], network.signs["cold_flow"]

    assert in_fragment.provenance == Provenance(source="invented", grade=Grade.PUBLISHED)
    assert in_network.provenance == Provenance(
        source="invented", grade=Grade.JUDGED, equivalent_sample_size=20
    )


def test_own_source_overrides_the_default_of_the_file(network):
    modes = NetworkIndex(network).modes
    measured = Provenance(source="simulated", grade=Grade.MEASURED)

    assert modes["control.dead"].provenance == measured  # stated with the mode
    assert modes["inlet_screens.clogged"].provenance == measured  # stated with the share


def test_named_reliability_brings_its_own_source(network):
    observation = network.observations["says_water_left"]

    assert observation.provenance == Provenance(source="invented", grade=Grade.PUBLISHED)


def test_fragment_alone_is_no_network():
    with pytest.raises(NetworkFileError, match="got a fragment by itself; expected the file of"):
        read_network(SMALL_DRAIN)


def test_file_with_problems_is_refused_with_all_of_them(tmp_path):
    path = tmp_path / "bad.yaml"
    path.write_text("format: 1\nnetwork: good\ntitle: T\nversion: 1.5\n")

    with pytest.raises(NetworkFileError, match=r"bad\.yaml: \d+ problems") as caught:
        read_network(path)

    assert caught.value.problems == check_file(path)
    assert f'{path}:2: network: got "good"; expected "bad", the name of the file.' in str(
        caught.value
    )


def test_two_thousand_lines_are_read_in_half_a_second(tmp_path):
    """The bound is the requirement; it takes a tenth of that on two cores."""
    count = 130
    text = SMALL_WASHER.read_text()
    for section, entry in LONG_ENTRIES.items():
        entries = "".join(entry.format(i=i, share=0.3 / count) for i in range(count))
        text = text.replace(f"\n{section}:\n", f"\n{section}:\n{entries}")
    text = text.replace("drain_pump.jammed: 0.3", "drain_pump.jammed: 0.0")
    (tmp_path / "fragments").mkdir()
    (tmp_path / "fragments" / "small_drain.yaml").write_text(SMALL_DRAIN.read_text())
    path = tmp_path / "small_washer.yaml"
    path.write_text(text)

    start = time.perf_counter()
    network = read_network(path)
    seconds = time.perf_counter() - start

    assert len(text.splitlines()) > 2000
    assert len(network.signs) == 5 + count
    assert seconds < 0.5


LONG_ENTRIES = {
    "components": "  c{i}:\n    title: C\n    kind: use\n    modes: {{a: {{title: a}}}}\n",
    "shares": "  c{i}.a: {share}\n",
    "signs": "  s{i}:\n    title: S\n    causes:\n      c{i}.a: often\n      control.dead: 0.1\n",
    "observations": (
        "  o{i}:\n    sign: s{i}\n    channel: caller\n    title: O\n    wording: W\n"
        "    answers: yes_no\n    likelihood: caller_sees\n    minutes: 1\n"
    ),
    "repairs": "  r{i}: {{title: R, cures: [c{i}.a], by: technician, success: 1, minutes: 9}}\n",
}
