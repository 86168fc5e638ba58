"""The M-step: numbers that make the expected complete data, with the prior, most probable.

Prior: every distribution of the starting network is worth ``s`` jobs (its equivalent sample size).
With prior mean ``m`` and expected counts ``n`` the best value is ``(s m + n) / (s + sum n)``, and
the penalty that belongs to it ``s sum m log(value)``; that is a Dirichlet prior by its mode.

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
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.errors import InfeasiblePriorError
from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import solve_prior
from triage.learning.expectation import Expected
from triage.learning.layout import Layout
from triage.learning.model import sums
from triage.learning.parameters import Parameters, Place, network_with, normalised
from triage.learning.values import LearningSettings
from triage.network.values import Provenance

FloatArray = NDArray[np.float64]

HALVINGS_MAX = 6


@dataclass(frozen=True, slots=True, eq=False)
class PriorBelief:
    """What the numbers are believed to be before any job, and what that is worth in jobs.

    ``mean`` are the numbers of the starting network (or pooled ones); ``links_jobs`` per sign
    (rows,), ``channels_jobs`` and ``is_learnable`` per observation; the rest are single numbers.
    ``lent`` per sign, in the shape of its links, is the part of ``links_jobs`` times ``mean`` that
    other appliance kinds lend (``pooling``); 0 where a network is learned alone.
    """

    mean: Parameters
    links_jobs: tuple[FloatArray, ...]
    lent: tuple[FloatArray, ...]
    channels_jobs: FloatArray
    is_learnable: NDArray[np.bool_]
    share_jobs: float
    context_jobs: float
    multiplier_cases: float


def prior_belief(
    layout: Layout, mean: Parameters, settings: LearningSettings, seen_twice: FloatArray
) -> PriorBelief:
    """Belief in the numbers of a network; its own statements of weight come first.

    Parameters
    ----------
    layout : Layout
    mean : Parameters
        Numbers of the starting network.
    settings : LearningSettings
    seen_twice : ndarray
        ``(O,)`` jobs in which the sign of the observation was seen through another one too.
    """
    signs = layout.network.signs.values()
    observations = layout.compiled.observations
    links_jobs = []
    for sign, rows in zip(signs, mean.links, strict=True):
        weight = _jobs(sign.provenance, settings.link_jobs, settings)
        jobs = np.full(len(rows), weight)
        if not sign.rows:
            jobs[0] *= settings.leak_factor
        links_jobs.append(jobs)
    return PriorBelief(
        mean=mean,
        links_jobs=tuple(links_jobs),
        lent=tuple(np.zeros_like(rows) for rows in mean.links),
        channels_jobs=np.array(
            [_jobs(entry.provenance, settings.channel_jobs, settings) for entry in observations]
        ),
        is_learnable=np.array(
            [
                entry.sign is not None
                and entry.reading is None
                and seen_twice[place] >= settings.channel_jobs_min
                for place, entry in enumerate(observations)
            ],
            dtype=bool,
        ),
        share_jobs=settings.share_jobs,
        context_jobs=settings.context_jobs,
        multiplier_cases=settings.multiplier_cases,
    )


def _jobs(provenance: Provenance, otherwise: float, settings: LearningSettings) -> float:
    """What a number is worth: part of what the network states, or the setting."""
    stated = provenance.equivalent_sample_size
    return otherwise if stated is None else stated * settings.stated_weight


def log_prior(belief: PriorBelief, parameters: Parameters) -> float:
    """Log density of the numbers under the belief, up to a constant."""
    mean = belief.mean
    result = belief.share_jobs * _weighted_log(mean.shares, parameters.shares)
    for before, now in zip(mean.contexts, parameters.contexts, strict=True):
        result += belief.context_jobs * _weighted_log(before, now)
    for jobs, before, now in zip(belief.links_jobs, mean.links, parameters.links, strict=True):
        result += _weighted_log(jobs[:, None] * before, now)
    for place in np.flatnonzero(belief.is_learnable):
        result += belief.channels_jobs[place] * _weighted_log(
            mean.channels[place], parameters.channels[place]
        )
    for key, factor in mean.multipliers.items():
        ratio = parameters.multipliers[key] / factor
        result += belief.multiplier_cases * (np.log(ratio) - ratio)
    return float(result)


def m_step(
    layout: Layout, belief: PriorBelief, parameters: Parameters, expected: Expected
) -> Parameters:
    """Numbers whose expected objective is at least that of ``parameters``."""
    found = replace(
        parameters,
        links=tuple(
            posterior_mean(before, jobs[:, None], counts)
            for before, jobs, counts in zip(
                belief.mean.links, belief.links_jobs, expected.links, strict=True
            )
        ),
        channels=tuple(
            posterior_mean(before, belief.channels_jobs[place], counts)
            if belief.is_learnable[place]
            else parameters.channels[place]
            for place, (before, counts) in enumerate(
                zip(belief.mean.channels, expected.channels, strict=True)
            )
        ),
    )
    return _PriorStep(layout, belief, found, expected.prior).best()


def posterior_mean(mean: FloatArray, jobs: FloatArray | float, counts: FloatArray) -> FloatArray:
    """``(s m + n) / (s + sum n)`` along the last axis: Dirichlet prior worth ``jobs``."""
    return np.asarray((jobs * mean + counts) / (jobs + counts.sum(axis=-1, keepdims=True)))


class _PriorStep:
    """Shares, multipliers and contexts together: they fix P(context, hypothesis)."""

    def __init__(
        self, layout: Layout, belief: PriorBelief, parameters: Parameters, counts: FloatArray
    ) -> None:
        self.layout = layout
        self.belief = belief
        self.counts = counts  # (C, H)
        self.now = replace(parameters, contexts=self._contexts())
        member = layout.members[:, :, None] == np.arange(layout.compiled.mode_count)
        part = member.any(axis=1).astype(np.float64)
        self.part = part / part.sum(axis=1, keepdims=True)  # (H, F)

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
        """Expected log P(context, hypothesis) and penalty; and P(hypothesis | context), (C, H)."""
        network = network_with(self.layout.network, parameters)
        prior = solve_prior(CompiledNetwork(network))
        joint = prior.context_joint(self.layout.members)
        fit = _weighted_log(self.counts, joint)
        return fit + log_prior(self.belief, parameters), joint / prior.context[:, None]

    def _target(self, given: FloatArray) -> Parameters:
        """Shares and multipliers at which expected and counted parts of the modes agree."""
        belief, now = self.belief, self.now
        counted = self.counts @ self.part  # (C, F)
        at_context = self.counts.sum(axis=1)
        expected = (at_context[:, None] * given) @ self.part  # (C, F)
        jobs = belief.share_jobs
        shares = now.shares * (counted.sum(axis=0) + jobs * belief.mean.shares)
        shares /= expected.sum(axis=0) + jobs * now.shares
        return replace(
            now,
            shares=normalised(shares),
            multipliers=self._multipliers(counted, expected),
        )

    def _multipliers(self, counted: FloatArray, expected: FloatArray) -> Mapping[Place, float]:
        compiled, cases = self.layout.compiled, self.belief.multiplier_cases
        result = {}
        for (mode, context, value), factor in self.now.multipliers.items():
            place = compiled.context_ids.index(context)
            values = list(compiled.network.contexts[context].values)
            rows = compiled.context_values[:, place] == values.index(value)
            column = compiled.mode_position[mode]
            before = self.belief.mean.multipliers[mode, context, value]
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


def _weighted_log(weight: FloatArray, value: FloatArray) -> float:
    """Sum of weight times log value; nothing where the weight is 0."""
    used = weight > 0.0
    return float(weight[used] @ np.log(value[used]))
