"""The visit as a troubleshooting problem: hypotheses of the engine, tests and repairs.

Rows are pairs of a hypothesis and the shown states of the maskers, so that within a row it is known
which tests can be run; the heaviest are kept. Within one problem two things are simplified, and on
site every decision is computed afresh from the exact posterior: after a repair of one of several
faults the maskers show their most probable state, and what a test said of a sign before stays said.

Tests are on-site tests and meter checks not made yet; the verification run is part of every repair.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.inference.gain import support
from triage.inference.masking import SEEN, Cluster, cluster_posterior
from triage.inference.posterior import Posterior
from triage.network.values import Observation, Repair
from triage.planning.problem.arrays import FREE, SOLVED, TroubleshootingProblem
from triage.planning.problem.preparations import (
    PANEL,
    PANEL_OFF,
    Setup,
    check_run_states,
    needed_states,
    own_minutes,
    setup_minutes,
)
from triage.planning.problem.preparations import PANEL_MINUTES as PANEL_MINUTES
from triage.planning.shop.costs import CostModel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

ROWS_MAX = 400
PHONE_ROWS_MAX = 150
LEFT_OUT = 2e-3  # of the posterior, before the cut at ROWS_MAX
UsualStates = dict[tuple[Cluster, tuple[int, ...]], int]
# By engine: most probable shown states of maskers, which do not depend on what was found.
_USUAL_STATES: WeakKeyDictionary[Engine, UsualStates] = WeakKeyDictionary()


@dataclass(frozen=True)
class SiteProblem:
    """A troubleshooting problem with the tests and repairs its positions stand for.

    ``modes`` gives the failed modes of each row; ``kept_mass`` the posterior mass of the rows.
    ``well_share`` is P(nothing is wrong any more), after repairs; the rows are those in which
    something still is, and there are none of them when nothing can be. ``setup`` is how the machine
    stands now.
    """

    problem: TroubleshootingProblem
    tests: tuple[Observation, ...]
    repairs: tuple[Repair, ...]
    modes: tuple[tuple[str, ...], ...]
    kept_mass: float
    well_share: float
    setup: Setup

    @property
    def holds(self) -> FloatArray:
        """P(it holds) of each repair, shape ``(Q,)``."""
        return np.array([repair.success for repair in self.repairs])


@dataclass(frozen=True)
class _Rows:
    """Members (R, K) and shown states of each cluster (R,), with their weights (R,)."""

    members: IntArray
    shown: Mapping[Cluster, IntArray]
    weights: FloatArray
    origin: IntArray


def site_problem(
    engine: Engine, evidence: Evidence, costs: CostModel, *, rows_max: int = ROWS_MAX
) -> SiteProblem:
    """Problem of the visit from what is known.

    Parameters
    ----------
    engine : Engine
    evidence : Evidence
    costs : CostModel
    rows_max : int
        Most rows taken from the posterior; rows that repairs lead to come on top.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    tests = _open_observations(engine, evidence, on_site=True)
    own_costs = np.array([costs.on_site_minor(own_minutes(test)) for test in tests])
    setup = Setup.after(engine.network, evidence)
    return _problem(engine, evidence, costs, tests, own_costs, rows_max, setup)


def phone_problem(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel,
    patience: float,
    *,
    rows_max: int = PHONE_ROWS_MAX,
) -> SiteProblem:
    """The same with the questions of the phone in place of the tests.

    ``patience`` multiplies the cost of a minute on the phone: a caller who tires costs more.
    """
    questions = _open_observations(engine, evidence, on_site=False)
    own_costs = np.array([costs.on_phone_minor(q.minutes) * patience for q in questions])
    nobody_prepares = Setup((), (), panel_off=False)
    return _problem(engine, evidence, costs, questions, own_costs, rows_max, nobody_prepares)


def _problem(
    engine: Engine,
    evidence: Evidence,
    costs: CostModel,
    tests: tuple[Observation, ...],
    own_costs: FloatArray,
    rows_max: int,
    setup: Setup,
) -> SiteProblem:
    posterior = engine.posterior(evidence)
    every = _rows(posterior)
    is_well = (every.members == engine.compiled.mode_count).all(axis=1)
    well_share = float(every.weights[is_well].sum() / every.weights.sum())
    rows = _heaviest(_chosen(every, np.flatnonzero(~is_well)), rows_max)
    kept = float(rows.weights.sum())
    repair_cost = _repair_costs(engine, costs)
    repairs_of_mode = _repairs_of_mode(engine, repair_cost)
    rows, after = _Closure(engine, rows).closed()
    position = [engine.compiled.sign_position[test.sign or ""] for test in tests]
    signs = list(dict.fromkeys(position))
    problem = TroubleshootingProblem(
        weights=rows.weights / kept if kept > 0.0 else rows.weights,
        needs=repairs_of_mode[rows.members],
        after=after,
        repair_cost=repair_cost,
        test_cost=own_costs,
        access_of_test=_panels(tests),
        access_cost=np.array([costs.on_site_minor(PANEL_MINUTES)]),
        setup_of_test=_needed_setups(setup, tests),
        setup_cost=costs.on_site_minor(1.0) * setup_minutes(setup.facets),
        setup_after_repair=check_run_states(setup.facets),
        setup_start=setup.states,
        opened_start=frozenset({PANEL}) if setup.panel_off else frozenset(),
        sign_of_test=np.array([signs.index(sign) for sign in position], dtype=np.int64),
        local=_local(posterior, rows, signs),
        answers=_answers(engine, tests),
        stop_cost=costs.unrepaired_minor,
    )
    ids = engine.compiled.mode_ids
    modes = tuple(tuple(ids[m] for m in row if m < len(ids)) for row in rows.members)
    repairs = tuple(engine.network.repairs.values())
    return SiteProblem(problem, tests, repairs, modes, kept, well_share, setup)


def _panels(tests: tuple[Observation, ...]) -> IntArray:
    """Panel each test is behind, shape ``(T,)``."""
    panels = [PANEL if PANEL_OFF in test.preconditions else FREE for test in tests]
    return np.array(panels, dtype=np.int64)


def _needed_setups(setup: Setup, tests: tuple[Observation, ...]) -> IntArray:
    """State of each facet each test needs, shape ``(T, F)``."""
    needed = [needed_states(setup.facets, test) for test in tests]
    return np.array(needed, dtype=np.int64).reshape(len(tests), len(setup.facets))


def _open_observations(
    engine: Engine, evidence: Evidence, *, on_site: bool
) -> tuple[Observation, ...]:
    """Observations of signs not made yet, on site or by phone, the verification run left out."""
    made = {finding.observation for finding in evidence.epochs()[-1][0]}
    return tuple(
        entry
        for entry in engine.compiled.observations
        if entry.channel.is_on_site is on_site
        and entry.sign is not None
        and entry.id not in made
        and entry.id != engine.network.verification
    )


def _rows(posterior: Posterior) -> _Rows:
    """Hypotheses of the support, split by the shown states of every cluster."""
    state = posterior.state
    origin = support(posterior.weights, LEFT_OUT)
    weights = posterior.weights[origin]
    shown: dict[Cluster, IntArray] = {}
    for place in state.clusters:
        needed = place.signs_with_evidence(posterior.likelihood)
        local = {sign: state.local(sign, origin) for sign in needed}
        found = cluster_posterior(place.cluster, local, posterior.likelihood.sign)
        split = weights[:, None] * found.joint / found.factor[:, None]  # (R, Z)
        row, joint_state = np.nonzero(split > LEFT_OUT / split.size)
        weights = split[row, joint_state]
        shown = {cluster: states[row] for cluster, states in shown.items()}
        shown[place.cluster] = joint_state
        origin = origin[row]
    return _Rows(state.table.members[origin], shown, weights, origin)


def _heaviest(rows: _Rows, rows_max: int) -> _Rows:
    return _chosen(rows, np.sort(np.argsort(-rows.weights, kind="stable")[:rows_max]))


def _chosen(rows: _Rows, places: IntArray) -> _Rows:
    shown = {cluster: states[places] for cluster, states in rows.shown.items()}
    return _Rows(rows.members[places], shown, rows.weights[places], rows.origin[places])


def _repairs_of_mode(engine: Engine, cost: FloatArray) -> IntArray:
    """Repairs that cure each mode, cheapest first, ``(F+1, M)``, padded with the repair count."""
    order = {repair: place for place, repair in enumerate(engine.network.repairs)}
    cured_by = engine.compiled.index.repairs_of
    lists = [
        sorted((order[repair.id] for repair in cured_by[mode]), key=lambda k: (cost[k], k))
        for mode in engine.compiled.mode_ids
    ]
    width = max(len(entry) for entry in lists)
    return np.array(
        [[*entry, *([len(order)] * (width - len(entry)))] for entry in [*lists, []]],
        dtype=np.int64,
    )


class _Closure:
    """Rows with those that repairs lead to, and the map between them."""

    def __init__(self, engine: Engine, rows: _Rows) -> None:
        self.engine = engine
        self.rows = rows
        position = engine.compiled.mode_position
        self.cures = [
            frozenset(position[mode] for mode in repair.cures)
            for repair in engine.network.repairs.values()
        ]
        self.curing: list[list[int]] = [[] for _ in engine.compiled.mode_ids]
        for repair, cured in enumerate(self.cures):
            for mode in cured:
                self.curing[mode].append(repair)
        self.clusters = tuple(rows.shown)
        self.usual_states = _USUAL_STATES.setdefault(engine, {})
        self.members = [tuple(int(mode) for mode in row) for row in rows.members]
        states = zip(*rows.shown.values(), strict=True) if rows.shown else [()] * len(self.members)
        self.shown = [tuple(int(state) for state in row) for row in states]
        self.place = {key: k for k, key in enumerate(zip(self.members, self.shown, strict=True))}

    def closed(self) -> tuple[_Rows, IntArray]:
        """All rows, and the map ``(Q, R)`` from row to row."""
        after = []
        row = 0
        while row < len(self.members):  # the list grows while it is walked
            after.append(self._after(row))
            row += 1
        if not after:
            return self.rows, np.zeros((len(self.cures), 0), dtype=np.int64)
        added = len(self.members) - len(self.rows.weights)
        columns = np.array(self.shown, dtype=np.int64).reshape(row, len(self.clusters))
        rows = _Rows(
            np.array(self.members, dtype=np.int64),
            {cluster: columns[:, k] for k, cluster in enumerate(self.clusters)},
            np.concatenate([self.rows.weights, np.zeros(added)]),
            np.concatenate([self.rows.origin, np.full(added, -1)]),
        )
        return rows, np.stack(after, axis=1)

    def _after(self, row: int) -> IntArray:
        """Row after each repair; itself where the repair cures nothing of it."""
        nothing = self.engine.compiled.mode_count
        target = np.full(len(self.cures), row, dtype=np.int64)
        failed = [mode for mode in self.members[row] if mode != nothing]
        helpful = sorted({repair for mode in failed for repair in self.curing[mode]})
        for repair in helpful:
            left = [mode for mode in failed if mode not in self.cures[repair]]
            target[repair] = self._row_of(left) if left else SOLVED
        return target

    def _row_of(self, failed: list[int]) -> int:
        nothing = self.engine.compiled.mode_count
        width = self.rows.members.shape[1]
        members = (*sorted(failed), *([nothing] * (width - len(failed))))
        shown = tuple(self._usual_state(cluster, members) for cluster in self.clusters)
        if (members, shown) not in self.place:
            self.place[members, shown] = len(self.members)
            self.members.append(members)
            self.shown.append(shown)
        return self.place[members, shown]

    def _usual_state(self, cluster: Cluster, members: tuple[int, ...]) -> int:
        key = (cluster, members)
        if key not in self.usual_states:
            self.usual_states[key] = _usual_state(self.engine, cluster, members)
        return self.usual_states[key]


def _usual_state(engine: Engine, cluster: Cluster, members: tuple[int, ...]) -> int:
    """Most probable shown state of the maskers for a set of failed modes, nothing seen."""
    signs = engine.compiled.signs
    width = max(len(sign.states) for sign in signs)
    row = np.array([members], dtype=np.int64)
    local = {sign: _padded(signs[sign].distribution(row), width) for sign in cluster.maskers}
    nothing_found = np.ones((len(signs), width))
    return int(np.argmax(cluster_posterior(cluster, local, nothing_found).joint[0]))


def _local(posterior: Posterior, rows: _Rows, signs: list[int]) -> FloatArray:
    """P(state shown | row, findings) of each sign, shape ``(J, R, V)``."""
    compiled = posterior.state.table.compiled
    width = posterior.likelihood.sign.shape[1]
    local = np.zeros((len(signs), len(rows.members), width))
    for place, sign in enumerate(signs):
        seen = _padded(compiled.signs[sign].distribution(rows.members), width)
        if sign in posterior.state.messages:
            known = rows.origin >= 0
            seen[known] *= posterior.state.messages[sign][rows.origin[known]]
        seen = seen * posterior.likelihood.sign[sign]
        local[place] = seen / seen.sum(axis=1, keepdims=True)
        for cluster, joint_state in rows.shown.items():
            if sign in cluster.signs:
                local[place] = _as_shown(cluster, sign, joint_state, local[place])
    return local


def _as_shown(cluster: Cluster, sign: int, joint_state: IntArray, local: FloatArray) -> FloatArray:
    """Distribution (R, V) of what a sign of a cluster shows, given the state of the maskers."""
    states = np.arange(local.shape[1])
    if sign in cluster.maskers:
        column = cluster.shown[joint_state, cluster.maskers.index(sign)]
        return np.asarray(states == column[:, None], dtype=np.float64)
    forced = cluster.forced[sign][joint_state]
    hidden = (states == forced[:, None]).astype(np.float64)
    return np.where((forced == SEEN)[:, None], local, hidden)


def _answers(engine: Engine, tests: tuple[Observation, ...]) -> FloatArray:
    """P(answer | state) of each test, shape ``(T, V, A)``, padded with 0."""
    tables = [np.asarray(test.likelihood) for test in tests]
    width = max(len(sign.states) for sign in engine.compiled.signs)
    columns = max((table.shape[1] for table in tables), default=1)
    answers = np.zeros((len(tests), width, columns))
    for place, table in enumerate(tables):
        answers[place, : table.shape[0], : table.shape[1]] = table
    return answers


def _repair_costs(engine: Engine, costs: CostModel) -> FloatArray:
    """Cost of each repair, ``(Q,)``; one that does not hold costs a return trip."""
    network = engine.network
    return np.array(
        [
            costs.repair_minor(repair, tuple(network.parts[part] for part in repair.parts))
            + (1.0 - repair.success) * costs.return_trip_minor
            for repair in network.repairs.values()
        ]
    )


def _padded(distribution: FloatArray, width: int) -> FloatArray:
    padded = np.zeros((len(distribution), width))
    padded[:, : distribution.shape[1]] = distribution
    return padded
