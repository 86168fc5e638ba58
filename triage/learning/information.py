"""What each learned number is worth in jobs, hidden states counted as hidden.

EM counts what it expects of a hidden state as if somebody had seen it. What the jobs really tell is
the observed information: the complete one less what is missing [Louis1982]_. By Fisher's identity
the score of the findings is the expected score of the complete data, in log odds of a row with
probabilities ``p`` and expected counts ``n``

    n_v - (sum n) p_v

and its derivative, by differences, is minus the observed information. It is taken for all
rows of a unit together: strengths, leaks and answers that explain the same findings trade off
against each other. Answers that are held count with what they are worth, so their doubt reaches the
strengths. Jobs whose cause is uncertain bring that doubt in. Between units, what is left of it is
neglected.

A figure ``f`` with variance ``V`` is worth the jobs of the Beta distribution that has it,
``f (1 - f) / V`` with ``V`` by the delta method; with states and causes all seen that is exactly
the prior's weight and the counts.

Axes: ``F`` failure modes, ``V`` states or answers, ``D`` coordinates of a unit (log odds).
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from triage.learning.estimation import Learned
from triage.learning.layout import Unit
from triage.learning.model import Model
from triage.learning.parameters import Place
from triage.learning.uncertain import (
    covariance_of,
    known_cases,
    known_contexts,
    known_shares,
)
from triage.learning.unit_evidence import UnitEvidence, units_of

FloatArray = NDArray[np.float64]

STEP = 1e-6  # nats of log odds: differences are then right to about one part in a million
JOBS_MIN = 1e-6  # a row with fewer expected jobs is not perturbed


@dataclass(frozen=True, slots=True, eq=False)
class Worth:
    """Jobs that each figure is worth, the prior's weight among them.

    ``shares`` (F,), ``contexts`` one each, ``multipliers`` in cases; ``links`` per sign (rows,) of
    the chance of any state but the first, ``channels`` per observation (V,) of the chance of the
    answer that is most probable in the starting network.
    """

    shares: FloatArray
    multipliers: Mapping[Place, float]
    contexts: FloatArray
    links: tuple[FloatArray, ...]
    channels: tuple[FloatArray, ...]


@dataclass(frozen=True, slots=True)
class _Row:
    """A row of a unit: where it stands, its numbers, its weight before jobs, its figure."""

    is_link: bool
    place: int
    row: int
    values: FloatArray
    prior_jobs: float
    is_figure: NDArray[np.bool_]

    @property
    def moving(self) -> NDArray[np.int64]:
        """States whose log odds against the most probable one can move."""
        possible = np.flatnonzero(self.values > 0.0)
        return np.asarray(possible[possible != np.argmax(self.values)])

    def moved(self, state: int) -> FloatArray:
        """Row with the log odds of a state moved by one step."""
        weight = self.values.copy()
        weight[state] *= np.exp(STEP)
        return np.asarray(weight / weight.sum())


def worth_of(learned: Learned) -> Worth:
    """What each number is worth; O(cells of a unit) for every row of it.

    Parameters
    ----------
    learned : Learned
        With the shards it was learned from.
    """
    belief, counts = learned.belief, learned.expected
    links = [
        jobs + rows.sum(axis=1) for jobs, rows in zip(belief.links_jobs, counts.links, strict=True)
    ]
    channels = [
        jobs + learnable * rows.sum(axis=1)
        for jobs, rows, learnable in zip(
            belief.channels_jobs, counts.channels, belief.is_learnable, strict=True
        )
    ]
    model = Model(learned.layout, learned.parameters)
    parts = [units_of(model, shard) for shard in learned.shards]
    for place, unit in enumerate(learned.layout.units):
        rows = list(_rows(learned, unit))
        for row, worth in _unit_worth(model, [part[place] for part in parts], rows):
            kept = links if row.is_link else channels
            kept[row.place][row.row] = min(worth, kept[row.place][row.row])
    contexts = known_contexts(learned, model)
    return Worth(
        shares=known_shares(learned, model),
        multipliers={
            key: belief.multiplier_cases[key] + cases
            for key, cases in known_cases(learned, model, contexts).items()
        },
        contexts=belief.context_jobs + learned.job_weight * contexts,
        links=tuple(links),
        channels=tuple(channels),
    )


def _rows(learned: Learned, unit: Unit) -> Iterator[_Row]:
    """Rows of a unit that jobs speak about."""
    belief, now, counts = learned.belief, learned.parameters, learned.expected
    for place in unit.signs:
        for row, values in enumerate(now.links[place]):
            if counts.links[place][row].sum() > JOBS_MIN:
                jobs = float(belief.links_jobs[place][row])
                yield _Row(True, place, row, values, jobs, np.arange(len(values)) > 0)
    for place in unit.observations:
        if learned.layout.compiled.observations[place].reading is not None:
            continue
        for row, values in enumerate(now.channels[place]):
            if counts.channels[place][row].sum() > JOBS_MIN:
                jobs = float(belief.channels_jobs[place][row])
                shown = int(np.argmax(belief.mean.channels[place][row]))
                yield _Row(False, place, row, values, jobs, np.arange(len(values)) == shown)


def _unit_worth(
    model: Model, parts: Sequence[UnitEvidence], rows: Sequence[_Row]
) -> Iterator[tuple[_Row, float]]:
    """Worth of every row of a unit whose figure is neither certain nor impossible."""
    coordinates = [(row, int(state)) for row in rows for state in row.moving]
    if not coordinates:
        return
    here = _score(model, parts, coordinates)
    columns = [
        here - _score(_with_row(model, row, row.moved(state)), parts, coordinates)
        for row, state in coordinates
    ]
    told = np.array(columns) / STEP  # (D, D)
    covariance = covariance_of(_prior_information(coordinates), (told + told.T) / 2.0)
    for row in rows:
        own = [place for place, (one, _) in enumerate(coordinates) if one is row]
        figure = float(row.values[row.is_figure].sum())
        if own and 0.0 < figure < 1.0:
            states = row.moving
            slope = row.values[states] * (row.is_figure[states] - figure)
            variance = float(slope @ covariance[np.ix_(own, own)] @ slope)
            yield row, figure * (1.0 - figure) / variance


def _score(
    model: Model, parts: Sequence[UnitEvidence], coordinates: Sequence[tuple[_Row, int]]
) -> FloatArray:
    """Score of the findings about a unit in every coordinate, shape ``(D,)``."""
    links, channels = parts[0].counts(model)
    for part in parts[1:]:
        more = part.counts(model)
        links = {place: rows + more[0][place] for place, rows in links.items()}
        channels = {place: rows + more[1][place] for place, rows in channels.items()}
    now = model.parameters
    found = []
    for row, state in coordinates:
        counts = (links if row.is_link else channels)[row.place][row.row]
        values = (now.links if row.is_link else now.channels)[row.place][row.row]
        found.append(counts[state] - counts.sum() * values[state])
    return np.array(found)


def _with_row(model: Model, row: _Row, values: FloatArray) -> Model:
    """Model with another row."""
    now = model.parameters
    if row.is_link:
        return model.with_links(
            row.place, replace(now, links=_with(now.links, row.place, row.row, values))
        )
    return model.with_channel(
        row.place, replace(now, channels=_with(now.channels, row.place, row.row, values))
    )


def _with(
    tables: tuple[FloatArray, ...], place: int, row: int, values: FloatArray
) -> tuple[FloatArray, ...]:
    changed = tables[place].copy()
    changed[row] = values
    return (*tables[:place], changed, *tables[place + 1 :])


def _prior_information(coordinates: Sequence[tuple[_Row, int]]) -> FloatArray:
    """Information of the priors of the rows: ``s (diag(p) - p p')`` each."""
    result = np.zeros((len(coordinates), len(coordinates)))
    for a, (row, state) in enumerate(coordinates):
        for b, (other, column) in enumerate(coordinates):
            if other is row:
                diagonal = row.values[state] if state == column else 0.0
                result[a, b] = row.prior_jobs * (diagonal - row.values[state] * row.values[column])
    return result
