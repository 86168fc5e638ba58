"""The M-step: numbers that make the expected complete data, with the prior, most probable.

The prior is that of ``belief``: with mean ``m`` worth ``s`` jobs and expected counts ``n`` the best
value is ``(s m + n) / (s + sum n)``.

Shares are not a plain distribution: they fix the odds of sets of failed modes, given the expected
number of failed modes (kept) and pair factors (kept relative to the rarer mode). A job counts for
its modes in equal parts. The step goes from the present shares and multipliers toward

    share_m * (n_m + s share0_m) / (N e_m + s share_m)

with ``e_m`` the part expected under the present numbers, and is halved until the objective does not
fall, which is what a generalised EM needs [DempsterLairdRubin1977]_. With one failed mode a call it
is the closed form above.

Axes: ``C`` context combinations, ``H`` hypotheses, ``F`` failure modes.
"""

from collections.abc import Mapping
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from triage.errors import InfeasiblePriorError
from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import solve_prior
from triage.learning.belief import (
    PriorBelief,
    log_prior_of_causes,
    posterior_mean,
    weighted_log,
)
from triage.learning.expectation import Expected
from triage.learning.layout import Layout
from triage.learning.model import sums
from triage.learning.parameters import Parameters, Place, network_with, normalised
from triage.network.values import Channel

FloatArray = NDArray[np.float64]

HALVINGS_MAX = 6


def m_step(
    layout: Layout, belief: PriorBelief, parameters: Parameters, expected: Expected
) -> Parameters:
    """Numbers whose expected objective is at least that of ``parameters``."""
    links = tuple(
        posterior_mean(before, jobs[:, None], counts)
        for before, jobs, counts in zip(
            belief.mean.links, belief.links_jobs, expected.links, strict=True
        )
    )
    channels, careless = _answers(belief, parameters, expected)
    found = replace(parameters, links=links, channels=channels, careless=careless)
    return _PriorStep(layout, belief, found, expected.prior).best()


def _answers(
    belief: PriorBelief, parameters: Parameters, expected: Expected
) -> tuple[tuple[FloatArray, ...], dict[Channel, float]]:
    """Tables of all observations, and the shares of careless answers mixed into them."""
    channels = [
        posterior_mean(before, jobs[:, None], counts) if learnable else now
        for before, jobs, counts, learnable, now in zip(
            belief.mean.channels,
            belief.channels_jobs,
            expected.channels,
            belief.is_learnable,
            parameters.channels,
            strict=True,
        )
    ]
    careless = {}
    for channel, places in belief.careless_places.items():
        mixture = belief.mixture(channel, parameters)
        mixture.climb([expected.channels[place] for place in places])
        careless[channel] = mixture.share
        for place, table in zip(places, mixture.tables, strict=True):
            channels[place] = table
    return tuple(channels), careless


class _PriorStep:
    """Shares, multipliers and contexts together: they fix P(context, hypothesis)."""

    def __init__(
        self, layout: Layout, belief: PriorBelief, parameters: Parameters, counts: FloatArray
    ) -> None:
        self.layout = layout
        self.belief = belief
        self.counts = counts  # (C, H)
        self.now = replace(parameters, contexts=self._contexts())

    def best(self) -> Parameters:
        """Longest halving of the step that does not lower the objective."""
        before, joint = self._objective(self.now)
        target = self._target(joint)
        length = 1.0
        for _ in range(HALVINGS_MAX):
            candidate = self._between(target, length)
            try:
                objective, _ = self._objective(candidate)
            except InfeasiblePriorError:
                objective = -np.inf
            if objective >= before:
                return candidate
            length /= 2.0
        return self.now

    def _contexts(self) -> tuple[FloatArray, ...]:
        per_combination = self.counts.sum(axis=1)
        values = self.layout.compiled.context_values
        return tuple(
            posterior_mean(
                before,
                self.belief.context_jobs,
                sums(values[:, place], per_combination, len(before)),
            )
            for place, before in enumerate(self.belief.mean.contexts)
        )

    def _objective(self, parameters: Parameters) -> tuple[float, FloatArray]:
        """Expected log P(context, hypothesis), penalised; and P(hypothesis | context), (C, H)."""
        network = network_with(self.layout.network, parameters)
        prior = solve_prior(CompiledNetwork(network))
        joint = prior.context_joint(self.layout.members)
        fit = weighted_log(self.counts, joint)
        return fit + log_prior_of_causes(self.belief, parameters), joint / prior.context[:, None]

    def _target(self, given: FloatArray) -> Parameters:
        """Shares and multipliers at which expected and counted parts of the modes agree."""
        belief, now = self.belief, self.now
        counted = self.counts @ self.layout.parts  # (C, F)
        at_context = self.counts.sum(axis=1)
        expected = (at_context[:, None] * given) @ self.layout.parts  # (C, F)
        jobs = belief.share_jobs
        shares = now.shares * (counted.sum(axis=0) + jobs * belief.mean.shares)
        shares /= expected.sum(axis=0) + jobs * now.shares
        return replace(
            now,
            shares=normalised(shares),
            multipliers=self._multipliers(counted, expected),
        )

    def _multipliers(self, counted: FloatArray, expected: FloatArray) -> Mapping[Place, float]:
        layout, result = self.layout, {}
        for (mode, context, value), factor in self.now.multipliers.items():
            rows = layout.combinations(context, value)
            column = layout.compiled.mode_position[mode]
            before = self.belief.mean.multipliers[mode, context, value]
            cases = self.belief.multiplier_cases[mode, context, value]
            gain = float(counted[rows, column].sum()) + cases
            loss = float(expected[rows, column].sum()) + cases * factor / before
            result[mode, context, value] = factor * gain / loss
        return result

    def _between(self, target: Parameters, length: float) -> Parameters:
        """Numbers part of the way, on the logarithmic scale but for the full step."""
        if length == 1.0:
            return target
        now = self.now
        shares = now.shares * (target.shares / now.shares) ** length
        multipliers = {
            key: factor * (target.multipliers[key] / factor) ** length
            for key, factor in now.multipliers.items()
        }
        return replace(now, shares=normalised(shares), multipliers=multipliers)
