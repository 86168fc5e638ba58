"""Draw the truths of worked cases by share, before anybody writes a case.

``python -m tests.cases.draw NETWORK`` prints a draw as YAML, to be kept in ``draws/``. It
uses the shares, pairs, contexts and multipliers of a network file and nothing else: no strength,
no reliability, no ranking. The shares that were used stand in the draw, so that the truths can be
drawn again after the network has been corrected.

A call's leading cause is drawn by share. A second fault comes with the partner of a pair at the
pair's probability, and otherwise as often as ``expected_failed_modes`` says; it belongs to another
component and never comes to a call where nothing has failed. A third one is left out.

Circumstances (age, drive, ...) are drawn for each call from their probabilities times the
multipliers of its failed modes. Slips say which answer of the caller and which test goes wrong:
about one answer in ten is off, some callers do not know, and few tests are off.
"""

import argparse
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
import yaml

from triage.network.catalogue import load_network
from triage.network.values import ComponentKind, FaultNetwork, NetworkIndex

SEED = 1  # the first one tried; another would be another set of calls
COUNT = 20
PHONE_PLACES = 8
TEST_PLACES = 6
# Rough rates of the reliabilities of the data, common practice, no source.
PHONE_SLIPS = {"right": 0.84, "off": 0.10, "dont_know": 0.06}
TEST_SLIPS = {"right": 0.96, "off": 0.04}


@dataclass(frozen=True, slots=True, kw_only=True)
class ShareTable:
    """What a truth is drawn from: shares of calls, pairs and the mean number of failed modes."""

    network: str
    expected_failed_modes: float
    shares: Mapping[str, float]
    pairs: tuple[tuple[str, str, float], ...]
    nothing_failed: tuple[str, ...]

    @classmethod
    def of(cls, network: FaultNetwork) -> "ShareTable":
        """Shares as they stand in a network."""
        index = NetworkIndex(network)
        nothing = ComponentKind.NOTHING_FAILED
        return cls(
            network=network.id,
            expected_failed_modes=network.expected_failed_modes,
            shares={mode.id: mode.share for mode in index.modes.values()},
            pairs=tuple((*pair.modes, pair.probability) for pair in network.pairs),
            nothing_failed=tuple(
                m for m, part in index.component_of.items() if part.kind is nothing
            ),
        )

    @classmethod
    def of_draw(cls, drawn: Mapping[str, Any]) -> "ShareTable":
        """Shares as they stood when a draw was made."""
        return cls(
            network=drawn["network"],
            expected_failed_modes=drawn["expected_failed_modes"],
            shares=drawn["shares"],
            pairs=tuple((first, second, chance) for first, second, chance in drawn["pairs"]),
            nothing_failed=tuple(drawn["nothing_failed"]),
        )

    @property
    def something_failed(self) -> float:
        """Share of calls in which something has failed."""
        return 1.0 - sum(self.shares[mode] for mode in self.nothing_failed)

    def second_by_chance(self) -> float:
        """P(a second fault that is no partner of a pair | something failed)."""
        paired = sum(probability for _, _, probability in self.pairs)
        surplus = (self.expected_failed_modes - 1.0) * self.something_failed
        return max(surplus - paired, 0.0) / self.something_failed

    def partners(self, mode: str) -> dict[str, float]:
        """Partners of a mode, each with P(partner failed too | the mode leads)."""
        found = {}
        for first, second, probability in self.pairs:
            if mode in (first, second):
                other = second if mode == first else first
                found[other] = probability / (self.shares[first] + self.shares[second])
        return found


def draw_truths(table: ShareTable, count: int) -> list[tuple[str, ...]]:
    """Failed modes of ``count`` calls, leading cause first; more calls only add to the list."""
    rng = np.random.default_rng([SEED, 0, *table.network.encode()])
    return [_truth(table, rng) for _ in range(count)]


def _truth(table: ShareTable, rng: np.random.Generator) -> tuple[str, ...]:
    leading = _chosen(table.shares, rng)
    chance, by_pair = rng.random(2)
    if leading in table.nothing_failed:
        return (leading,)
    for partner, probability in table.partners(leading).items():
        by_pair -= probability
        if by_pair < 0.0:
            return leading, partner
    if chance >= table.second_by_chance():
        return (leading,)
    component = leading.split(".")[0]
    others = {
        mode: share
        for mode, share in table.shares.items()
        if mode.split(".")[0] != component and mode not in table.nothing_failed
    }
    return leading, _chosen(others, rng)


def draw_circumstances(
    network: FaultNetwork, truths: list[tuple[str, ...]]
) -> list[dict[str, object]]:
    """Context values of each call, and its slips of phone answers and tests by place."""
    rng = np.random.default_rng([SEED, 1, *network.id.encode()])
    return [
        {
            "circumstances": _contexts(network, truth, rng),
            "phone_slips": _slips(PHONE_SLIPS, PHONE_PLACES, rng),
            "test_slips": _slips(TEST_SLIPS, TEST_PLACES, rng),
        }
        for truth in truths
    ]


def _contexts(
    network: FaultNetwork, truth: tuple[str, ...], rng: np.random.Generator
) -> dict[str, str]:
    index = NetworkIndex(network)
    found = {}
    for context in network.contexts.values():
        weights = dict(zip(context.values, context.probabilities, strict=True))
        for mode in truth:
            factors = index.mode(mode).multipliers.get(context.id, {})
            weights = {value: weight * factors.get(value, 1.0) for value, weight in weights.items()}
        found[context.id] = _chosen(weights, rng)
    return found


def _slips(rates: Mapping[str, float], places: int, rng: np.random.Generator) -> dict[int, str]:
    """Places, counted from 1, at which something other than the right answer is given."""
    drawn = {place: _chosen(rates, rng) for place in range(1, places + 1)}
    return {place: slip for place, slip in drawn.items() if slip != "right"}


def _chosen(weights: Mapping[str, float], rng: np.random.Generator) -> str:
    shares = np.array(list(weights.values()))
    return list(weights)[int(rng.choice(len(shares), p=shares / shares.sum()))]


def draw(network: FaultNetwork, count: int = COUNT) -> dict[str, object]:
    """Everything that a draw file holds."""
    table = ShareTable.of(network)
    truths = draw_truths(table, count)
    return {
        "network": network.id,
        "network_version": network.version,
        "expected_failed_modes": table.expected_failed_modes,
        "shares": dict(table.shares),
        "pairs": [list(pair) for pair in table.pairs],
        "nothing_failed": list(table.nothing_failed),
        "cases": [
            {"id": f"case_{place:02d}", "truth": list(truth), **circumstances}
            for place, (truth, circumstances) in enumerate(
                zip(truths, draw_circumstances(network, truths), strict=True), start=1
            )
        ],
    }


def main() -> None:
    """Print a draw."""
    parser = argparse.ArgumentParser(description="Draw the truths of worked cases by share.")
    parser.add_argument("network", help="name of a shipped network")
    parser.add_argument("--count", type=int, default=COUNT)
    asked = parser.parse_args()
    found = draw(load_network(asked.network), asked.count)
    yaml.safe_dump(found, sys.stdout, sort_keys=False, width=100)


if __name__ == "__main__":
    main()
