"""Which number, if it were wrong, would change decisions most.

Every posterior is a ratio of two functions linear in a number ``t`` of the network
[CastilloEtAl1997]_, [Laskey1995]_. A number acts on one sign, so only the factor ``f`` of that sign
changes, and with weights ``w`` of the hypotheses

    w'(h) ~ w(h) f'(h) / f(h)        for a whole step
    d P(A) / dt = Cov_w(1[h in A], d log f(h) / dt)

Each number is moved up and down by a step on the scale of log odds, over a set of past calls. What
counts is how often the repair called for changes, and how far the posterior over repairs moves.

Axes: ``J`` calls, ``H`` hypotheses.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Engine
from triage.learning.columns import JobColumns
from triage.learning.layout import Layout, Unit
from triage.learning.model import Model, patterns, unit_codes
from triage.learning.parameters import parameters_of
from triage.learning.units import Cells
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

STEP_NATS = 0.5  # of log odds: 0.80 becomes 0.87 or 0.71


@dataclass(frozen=True, slots=True)
class Sensitivity:
    """Effect of one number on past calls.

    ``flipped_share`` of the calls would be told another repair if the number were a step higher or
    lower (the worse of the two); ``mean_shift`` is how much posterior moves between repairs, on
    average over the calls; ``value`` is the figure as it stands.
    """

    key: str
    value: float
    flipped_share: float
    mean_shift: float


def sensitivities(
    network: FaultNetwork, calls: JobColumns, step_nats: float = STEP_NATS
) -> tuple[Sensitivity, ...]:
    """Every share, strength and leak, the one that changes most decisions first.

    Parameters
    ----------
    network : FaultNetwork
    calls : JobColumns
        Answers of past calls; what is known of their causes is not used.
    step_nats : float
        How far each number is moved, log odds.
    """
    study = _Study(network, calls)
    found = [*study.shares(step_nats), *study.strengths(step_nats)]
    return tuple(sorted(found, key=lambda s: (-s.flipped_share, -s.mean_shift, s.key)))


def moved(row: FloatArray, nats: float) -> FloatArray:
    """Distribution with the log odds of "not the first state" moved, the rest in proportion."""
    worse = 1.0 - row[0]
    if worse <= 0.0 or row[0] <= 0.0:
        return row
    odds = worse / row[0] * np.exp(nats)
    target = odds / (1.0 + odds)
    return np.concatenate([[1.0 - target], row[1:] * target / worse])


def posterior_slope(
    prior: FloatArray, likelihood: FloatArray, slope: FloatArray, event: NDArray[np.bool_]
) -> float:
    """Derivative of P(event | evidence) by a number of the network.

    Parameters
    ----------
    prior : ndarray
        ``(H,)``, P(h) where the number does not act on the prior.
    likelihood, slope : ndarray
        ``(H,)``, P(h, evidence) / P(h) and the derivative of the whole term ``P(h, evidence)``.
    event : ndarray
        ``(H,)``, hypotheses of the event.
    """
    joint = prior * likelihood
    total, total_slope = joint.sum(), slope.sum()
    inside, inside_slope = joint[event].sum(), slope[event].sum()
    return float((inside_slope * total - inside * total_slope) / total**2)


class _Study:
    """Posterior of every call, and what it becomes when one number moves."""

    def __init__(self, network: FaultNetwork, calls: JobColumns) -> None:
        self.layout = Layout(network)
        self.calls = calls
        self.model = Model(self.layout, parameters_of(network))
        self.weights = np.exp(self.model.log_posterior(calls))  # (J, H)
        labels = Engine(network).repair_classes(self.layout.members)
        self.order = np.argsort(labels, kind="stable")  # hypotheses, repair class by class
        self.first = np.unique(labels[self.order], return_index=True)[1]
        self.before = self._by_class(self.weights)  # (J, R)

    def shares(self, step_nats: float) -> Iterator[Sensitivity]:
        """Shares: the odds of every hypothesis with the mode are scaled."""
        compiled = self.layout.compiled
        everyone = np.arange(len(self.calls))
        for place, mode in enumerate(compiled.mode_ids):
            has = (self.layout.members == place).any(axis=1)
            ratios = [np.exp(sign * step_nats * has)[None, :] for sign in (1.0, -1.0)]
            value = float(self.model.parameters.shares[place])
            yield self._sensitivity(f"share:{mode}", value, everyone, ratios)

    def strengths(self, step_nats: float) -> Iterator[Sensitivity]:
        """Strengths and leaks of noisy signs, row by row."""
        signs = list(self.layout.network.signs.values())
        for unit in self.layout.units:
            pattern = patterns(self.calls, unit.observations, unit.strides)
            calls = np.flatnonzero(pattern > 0)
            if len(calls) == 0:
                continue
            found, place_of = np.unique(pattern[calls], return_inverse=True)
            every = np.arange(len(unit.sign_config))
            now = self._table(self.model, unit, found, every)
            for place, position in enumerate(unit.signs):
                if signs[position].rows:
                    continue
                names = ["", *signs[position].causes]
                for row, name in enumerate(names):
                    kind = f"link:{signs[position].id}:{name}" if name else "leak:"
                    key = kind if name else kind + signs[position].id
                    value = float(1.0 - self.model.parameters.links[position][row][0])
                    rows = self.layout.signs[position].rows[unit.sign_config[:, place]]
                    acting = np.flatnonzero((rows == row).any(axis=1))
                    ratios = []
                    for nats in (step_nats, -step_nats):
                        ratio = np.ones_like(now)
                        model = self._with(position, row, nats)
                        ratio[:, acting] = self._table(model, unit, found, acting)
                        ratio[:, acting] /= now[:, acting]
                        ratios.append(ratio[place_of.ravel()][:, unit.config])
                    yield self._sensitivity(key, value, calls, ratios)

    def _with(self, sign: int, row: int, nats: float) -> Model:
        """Model with one row of one sign moved."""
        links = list(self.model.parameters.links)
        links[sign] = links[sign].copy()
        links[sign][row] = moved(links[sign][row], nats)
        return self.model.with_links(sign, replace(self.model.parameters, links=tuple(links)))

    def _table(self, model: Model, unit: Unit, found: IntArray, configs: IntArray) -> FloatArray:
        """Likelihood of each pattern in some configurations, ``(patterns, configs)``; 1 for 0."""
        codes = np.repeat(unit_codes(found, unit, self.layout), len(configs), axis=0)
        cells = Cells(np.tile(configs, len(found)), codes)
        likelihood = model.cell_states(unit, cells, with_states=False).likelihood
        return np.where(likelihood > 0.0, likelihood, 1.0).reshape(len(found), len(configs))

    def _by_class(self, weights: FloatArray) -> FloatArray:
        """Weight of each repair class, shape ``(J, classes)``."""
        return np.asarray(np.add.reduceat(weights[:, self.order], self.first, axis=1))

    def _sensitivity(
        self, key: str, value: float, calls: IntArray, ratios: Sequence[FloatArray]
    ) -> Sensitivity:
        """Largest effect of the moves on these calls, as a share of all calls."""
        flipped, shift = 0.0, 0.0
        for ratio in ratios:
            weights = self.weights[calls] * ratio
            weights /= weights.sum(axis=1, keepdims=True)
            after, before = self._by_class(weights), self.before[calls]
            flips = float((after.argmax(axis=1) != before.argmax(axis=1)).sum())
            flipped = max(flipped, flips / len(self.calls))
            moved_mass = float(np.abs(after - before).sum()) / 2.0
            shift = max(shift, moved_mass / len(self.calls))
        return Sensitivity(key, value, flipped, shift)
