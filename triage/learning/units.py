"""Likelihood of the answers about a unit, and what they say about its signs.

A **cell** is a configuration of a unit together with an answer pattern; jobs that share a cell are
interchangeable, so cost depends on the cells and not on the jobs. For a cell

    P(answers | configuration) = sum over states of P(state | configuration) prod P(answer | state)

Complete data of the EM are the states of the signs that are seen. A sign hidden by a mask in the
cell says nothing of its own causes; what it shows still tells of the channel.

Axes: ``N`` cells, ``U`` configurations, ``V`` states, ``Z`` joint shown states of maskers.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.masking import SEEN, Cluster
from triage.learning.layout import SignLayout, Unit

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True, eq=False)
class Cells:
    """Cells of one unit: ``config`` (N,) and ``codes`` (N, observations of the unit)."""

    config: IntArray
    codes: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class CellStates:
    """What each cell says.

    ``likelihood`` (N,). For each sign of the unit that is looked at, by its place in the unit:
    ``rows`` the cells concerned (None for all), ``seen`` (rows, V) P(the sign is seen and in that
    state | cell), ``shown`` (rows, V) P(it shows that state | cell).
    """

    likelihood: FloatArray
    rows: Mapping[int, IntArray | None]
    seen: Mapping[int, FloatArray]
    shown: Mapping[int, FloatArray]


def configuration_distribution(sign: SignLayout, links: FloatArray) -> FloatArray:
    """P(state | configuration) of one sign, shape ``(U, V)``, masks left out."""
    if sign.is_table:
        return links[sign.rows[:, 0]]
    cumulative = cumulative_rows(links)
    return np.diff(cumulative[sign.rows].prod(axis=1), axis=1, prepend=0.0)


def cumulative_rows(links: FloatArray) -> FloatArray:
    """P(state <= v) of leak and parents, and of a row that does nothing, ``(P+2, V)``."""
    cumulative = np.cumsum(links, axis=1)
    cumulative[:, -1] = 1.0
    return np.vstack([cumulative, np.ones(links.shape[1])])


def cell_states(
    unit: Unit,
    cells: Cells,
    distributions: Sequence[FloatArray],
    tables: Sequence[FloatArray],
    *,
    with_states: bool = True,
) -> CellStates:
    """Likelihood of every cell of a unit, and the states of its signs.

    Parameters
    ----------
    unit : Unit
    cells : Cells
    distributions : sequence of ndarray
        ``configuration_distribution`` of each sign of the unit.
    tables : sequence of ndarray
        ``answer_table`` of each observation of the unit.
    with_states : bool
        Leave out the states when only the likelihood is wanted.
    """
    if unit.cluster is not None:
        return _cluster_states(unit, unit.cluster, cells, distributions, tables, with_states)
    joint = distributions[0][unit.sign_config[cells.config, 0]] * _findings(unit, cells, 0, tables)
    likelihood = joint.sum(axis=1)
    if not with_states:
        return CellStates(likelihood, {}, {}, {})
    states = joint / _divisor(likelihood)
    return CellStates(likelihood, {0: None}, {0: states}, {0: states})


def _divisor(likelihood: FloatArray) -> FloatArray:
    """Likelihood as a column; 1 where it is 0, for such a cell carries no weight."""
    return np.where(likelihood > 0.0, likelihood, 1.0)[:, None]


def _findings(
    unit: Unit,
    cells: Cells,
    place: int,
    tables: Sequence[FloatArray],
    rows: IntArray | slice = slice(None),
) -> FloatArray:
    """P(answers about one sign of the unit | state it shows), shape ``(rows, V)``."""
    factors = [
        tables[number][cells.codes[rows, number]]
        for number, looked_at in enumerate(unit.looks_at)
        if looked_at == place
    ]
    if not factors:
        return np.ones((1, 1))
    return np.asarray(np.prod(factors, axis=0))


def _cluster_states(
    unit: Unit,
    cluster: Cluster,
    cells: Cells,
    distributions: Sequence[FloatArray],
    tables: Sequence[FloatArray],
    with_states: bool,
) -> CellStates:
    count = len(cluster.maskers)
    joint = _masker_joint(unit, cluster, cells, distributions, tables)  # (N, Z)
    looked: dict[int, tuple[IntArray, FloatArray]] = {}
    for place in range(count, len(unit.signs)):
        numbers = [k for k, at in enumerate(unit.looks_at) if at == place]
        rows: IntArray = np.flatnonzero((cells.codes[:, numbers] > 0).any(axis=1))
        if len(rows) > 0:
            found = _findings(unit, cells, place, tables, rows)
            config = unit.sign_config[cells.config[rows], place]
            local = distributions[place][config] * found  # (rows, V)
            factors = np.column_stack([found, local.sum(axis=1)])
            joint[rows] *= factors @ _hidden_or_seen(cluster, unit.signs[place], local.shape[1])
            looked[place] = rows, local
    likelihood = joint.sum(axis=1)
    if not with_states:
        return CellStates(likelihood, {}, {}, {})
    return _seen_and_shown(unit, cluster, joint, likelihood, looked)


def _masker_joint(
    unit: Unit,
    cluster: Cluster,
    cells: Cells,
    distributions: Sequence[FloatArray],
    tables: Sequence[FloatArray],
) -> FloatArray:
    """P(shown states of the maskers and the answers about them | cell), shape ``(N, Z)``.

    Cells that agree in the maskers share it.
    """
    count = len(cluster.maskers)
    numbers = [k for k, at in enumerate(unit.looks_at) if at < count]
    parts = [*unit.sign_config[cells.config, :count].T, *cells.codes[:, numbers].T]
    key = np.zeros(len(cells.config), dtype=np.int64)
    for part in parts:
        key = key * (part.max(initial=0) + 1) + part
    _, first, place_of = np.unique(key, return_index=True, return_inverse=True)
    some = Cells(cells.config[first], cells.codes[first])
    joint = np.ones((len(first), len(cluster.shown)))
    for place in range(count):
        state, forced = cluster.shown[:, place], cluster.forced[unit.signs[place]]
        local = distributions[place][unit.sign_config[some.config, place]]  # (some, V)
        found = _findings(unit, some, place, tables)
        found = np.broadcast_to(found, (len(found), local.shape[1]))
        joint *= np.where(forced == SEEN, local[:, state], forced == state) * found[:, state]
    return np.asarray(joint[place_of.ravel()])


def _hidden_or_seen(cluster: Cluster, sign: int, states: int) -> FloatArray:
    """Which of (each state, seen) a masked sign shows in each joint state, shape ``(V+1, Z)``."""
    forced = cluster.forced[sign]
    shows = np.where(forced == SEEN, states, forced)
    return np.asarray(np.arange(states + 1)[:, None] == shows, dtype=np.float64)


def _seen_and_shown(
    unit: Unit,
    cluster: Cluster,
    joint: FloatArray,
    likelihood: FloatArray,
    looked: Mapping[int, tuple[IntArray, FloatArray]],
) -> CellStates:
    rows: dict[int, IntArray | None] = {}
    seen: dict[int, FloatArray] = {}
    shown: dict[int, FloatArray] = {}
    divisor = _divisor(likelihood)
    for place in range(len(cluster.maskers)):
        states = np.arange(cluster.shown[:, place].max() + 1)
        is_state = cluster.shown[:, place][:, None] == states  # (Z, V)
        is_seen = cluster.forced[unit.signs[place]] == SEEN
        both = np.hstack([is_state & is_seen[:, None], is_state]).astype(np.float64)
        found = joint @ both / divisor
        rows[place] = None
        seen[place], shown[place] = found[:, : len(states)], found[:, len(states) :]
    for place, (concerned, local) in looked.items():
        states_count = local.shape[1]
        indicator = _hidden_or_seen(cluster, unit.signs[place], states_count)
        within = joint[concerned] @ indicator.T / divisor[concerned]  # (rows, V+1)
        total = local.sum(axis=1)
        scale = np.divide(within[:, -1], total, out=np.zeros_like(total), where=total > 0.0)
        rows[place] = concerned
        seen[place] = local * scale[:, None]
        shown[place] = seen[place] + within[:, :-1]
    return CellStates(likelihood, rows, seen, shown)


def activation_counts(
    sign: SignLayout, links: FloatArray, distribution: FloatArray, states: FloatArray
) -> FloatArray:
    """Expected number of times each acting row produced each state, shape of ``links``.

    The state of a noisy-MAX sign is the worst that its leak and failed parents produced; what each
    of them produced is hidden. With ``F`` the cumulative distribution of the others,

        P(row gives v, sign shows s) = p(v) (F(s) - F(s-1))  for v < s,   p(s) F(s)  for v = s

    Parameters
    ----------
    sign : SignLayout
    links : ndarray
        Rows of the sign.
    distribution : ndarray
        ``(U, V)``, P(state | configuration).
    states : ndarray
        ``(U, V)``, expected number of times the sign was seen in that state.
    """
    counts = np.zeros((len(links) + 1, links.shape[1]))
    if sign.is_table:
        counts[sign.rows[:, 0]] = states
        return counts[:-1]
    cumulative = cumulative_rows(links)
    produced = np.vstack([links, np.zeros(links.shape[1])])
    per_state = np.divide(
        states, distribution, out=np.zeros_like(states), where=distribution > 0.0
    )  # (U, V)
    for column in range(sign.rows.shape[1]):
        row = sign.rows[:, column]
        others = np.delete(sign.rows, column, axis=1)
        rest = cumulative[others].prod(axis=1)  # (U, V)
        worse = per_state * np.diff(rest, axis=1, prepend=0.0)
        beyond = worse[:, ::-1].cumsum(axis=1)[:, ::-1] - worse  # sum over s > v
        np.add.at(counts, row, produced[row] * (beyond + per_state * rest))
    return counts[:-1]
