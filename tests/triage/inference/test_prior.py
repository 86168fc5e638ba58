"""The prior: shares, pairs and contexts come out exactly as stated."""

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import component, context, network, observation, pair, random_network, sign
from tests.oracle import all_sets, prior_joint
from triage.errors import InfeasiblePriorError
from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import solve_prior
from triage.network.values import FaultNetwork

EXACT = 1e-12  # probability; the solver stops at a gradient of 1e-13


def _whole_table(fault_network: FaultNetwork) -> tuple[CompiledNetwork, list, np.ndarray]:
    compiled = CompiledNetwork(fault_network)
    prior = solve_prior(compiled)
    sets = all_sets(compiled)
    joint = np.array([prior_joint(compiled, prior, failed) for failed in sets])  # (H, C)
    return compiled, sets, joint


@pytest.mark.parametrize("seed", range(6))
def test_marginals_at_the_call_equal_share_times_expected_failed_modes(seed: int) -> None:
    fault_network = random_network(seed)
    compiled, sets, joint = _whole_table(fault_network)

    for place, mode in enumerate(compiled.index.modes.values()):
        marginal = sum(
            row.sum() for failed, row in zip(sets, joint, strict=True) if place in failed
        )
        factor = 1.0 if compiled.nothing_failed[place] else fault_network.expected_failed_modes
        assert marginal == pytest.approx(mode.share * factor, abs=EXACT)


@pytest.mark.parametrize("seed", range(6))
def test_prior_sums_to_one_and_keeps_the_contexts_of_the_call(seed: int) -> None:
    compiled, _, joint = _whole_table(random_network(seed))

    assert joint.sum() == pytest.approx(1.0, abs=EXACT)
    assert joint.sum(axis=0) == pytest.approx(compiled.context_prior, abs=EXACT)


def test_pair_fails_together_with_its_stated_probability() -> None:
    fault_network = random_network(3)
    compiled, sets, joint = _whole_table(fault_network)
    both = {compiled.mode_position[mode] for mode in fault_network.pairs[0].modes}

    together = sum(row.sum() for failed, row in zip(sets, joint, strict=True) if both <= failed)

    assert together == pytest.approx(fault_network.pairs[0].probability, abs=EXACT)


def test_expected_number_of_failed_modes_holds_given_that_something_failed() -> None:
    fault_network = random_network(1)
    compiled, sets, joint = _whole_table(fault_network)
    failing = [not compiled.nothing_failed[list(failed)].any() for failed in sets]
    mass = joint.sum(axis=1)[failing]
    sizes = np.array([len(failed) for failed in sets])[failing]

    assert mass @ sizes / mass.sum() == pytest.approx(
        fault_network.expected_failed_modes, abs=1e-10
    )


def test_multiplier_of_zero_takes_the_mode_out_of_that_context() -> None:
    fault_network = network(
        [
            component(
                "belt",
                {"broken": 0.4},
                multipliers={"broken": {"drive": {"direct": 0.0, "belted": 1.0}}},
            ),
            component("pump", {"burnt": 0.6}),
        ],
        [sign("no_spin", {"belt.broken": 0.9, "pump.burnt": 0.1})],
        [observation("asks", "no_spin", [[0.9, 0.1], [0.1, 0.9]])],
        contexts=[context("drive", {"direct": 0.3, "belted": 0.7})],
    )
    prior = solve_prior(CompiledNetwork(fault_network))

    assert prior.odds[0, 0] == 0.0
    assert prior.odds[1, 0] > 0.0


def test_one_expected_failed_mode_makes_every_mode_exclude_every_other() -> None:
    fault_network = replace(
        network(
            [component("a", {"x": 0.25}), component("b", {"y": 0.75})],
            [sign("s", {"a.x": 0.5, "b.y": 0.5})],
            [observation("o", "s", [[0.9, 0.1], [0.1, 0.9]])],
        ),
        expected_failed_modes=1.0,
    )
    compiled = CompiledNetwork(fault_network)

    prior = solve_prior(compiled)

    assert compiled.is_exclusive.all()
    assert prior.odds[0] / prior.normaliser[0] == pytest.approx([0.25, 0.75], abs=EXACT)


def test_fewer_than_one_expected_failed_mode_is_refused() -> None:
    fault_network = replace(random_network(0), expected_failed_modes=0.9)

    with pytest.raises(InfeasiblePriorError, match=r"expected_failed_modes is 0\.9; expected 1"):
        solve_prior(CompiledNetwork(fault_network))


def test_pair_more_probable_than_one_of_its_modes_is_refused() -> None:
    fault_network = network(
        [component("a", {"x": 0.1}), component("b", {"y": 0.9})],
        [sign("s", {"a.x": 0.5, "b.y": 0.5})],
        [observation("o", "s", [[0.9, 0.1], [0.1, 0.9]])],
        pairs=[pair("a.x", "b.y", 0.5)],
    )

    with pytest.raises(InfeasiblePriorError, match=r"pair a\.x \+ b\.y has probability 0\.5"):
        solve_prior(CompiledNetwork(fault_network))


def test_shares_that_no_odds_reproduce_are_refused() -> None:
    fault_network = network(
        [component("a", {"x": 0.5, "z": 0.5})],  # one component cannot fail 1.2 times
        [sign("s", {"a.x": 0.5, "a.z": 0.5})],
        [observation("o", "s", [[0.9, 0.1], [0.1, 0.9]])],
    )

    with pytest.raises(InfeasiblePriorError, match="the prior cannot be solved"):
        solve_prior(CompiledNetwork(fault_network))
