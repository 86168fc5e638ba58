"""What a repair does to the belief: modes leave, what the others show persists.

A repair removes the modes it cures with its success rate. A sign is the maximum of independent
activations, one per failed mode and one of the leak; those of the surviving modes and of the leak
stay as they were, they are not drawn anew. With ``u`` the state after and ``d`` the worst state the
removed modes caused, the state before was ``max(u, d)``. What was found before thus becomes a
**message** about the state after,

    B'(u) = sum_d P(d | removed modes) g(max(u, d)) B(max(u, d))

where ``g(s)`` is the likelihood of the findings made in the epoch that ends and ``B`` the message
it began with. Signs that follow a table have no activations: they keep their state where the repair
leaves their distribution alone and are drawn anew where it does not.

Rows are split by the outcome of the repair and by the shown states of maskers, so that within a
row it is known which findings were made on a hidden sign. Rows lighter than the dropped mass go.
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import SignArrays
from triage.inference.gain import support
from triage.inference.hypotheses import HypothesisTable
from triage.inference.masking import SEEN, Cluster, cluster_posterior
from triage.inference.posterior import MachineState, Posterior
from triage.network.values import Repair

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class _Rows:
    """Rows of the next table: ``origin`` in the present one, shown state of each cluster, fate."""

    origin: IntArray
    shown: Mapping[Cluster, IntArray]
    probability: FloatArray
    members: IntArray
    removed: IntArray


def after_repair(posterior: Posterior, repair: Repair, dropped_mass: float) -> MachineState:
    """Belief about the machine after a repair was carried out.

    Parameters
    ----------
    posterior : Posterior
        At the moment of the repair, its findings included.
    repair : Repair
        Cures its modes together, with probability ``repair.success``.
    dropped_mass : float
        Posterior mass that may be dropped from the table.

    Returns
    -------
    MachineState
        Hypotheses about what is still failed; the empty set is "all is well now".
    """
    state = posterior.state
    compiled = state.table.compiled
    cured = np.array([compiled.mode_position[mode] for mode in repair.cures])
    sentinel = compiled.mode_count
    shown = _split_by_shown(posterior, dropped_mass)
    rows = _split_by_fate(shown, cured, repair.success, sentinel)
    table = HypothesisTable(compiled, state.table.prior, rows.members)
    context_joint = state.context_joint[:, rows.origin] * rows.probability
    return MachineState(table, context_joint, _messages(posterior, rows))


def _split_by_shown(posterior: Posterior, dropped_mass: float) -> _Rows:
    """One row per hypothesis of the support and shown state of its clusters."""
    state = posterior.state
    origin = support(posterior.weights, dropped_mass)
    shown: dict[Cluster, IntArray] = {}
    for place in state.clusters:
        if not place.concerns(posterior.likelihood):
            continue
        needed = place.signs_with_evidence(posterior.likelihood)
        local = {sign: state.local(sign, origin) for sign in needed}
        found = cluster_posterior(place.cluster, local, posterior.likelihood.sign)
        mass = posterior.weights[origin][:, None] * found.joint / found.factor[:, None]
        kept = mass > dropped_mass / mass.size  # (rows, Z)
        row, joint_state = np.nonzero(kept)
        shown = {cluster: states[row] for cluster, states in shown.items()}
        shown[place.cluster] = joint_state
        origin = origin[row]
    members = state.table.members[origin]
    nothing = np.full_like(members, state.table.compiled.mode_count)
    return _Rows(origin, shown, np.ones(len(origin)), members, nothing)


def _split_by_fate(rows: _Rows, cured: IntArray, success: float, sentinel: int) -> _Rows:
    """Split each row that has a cured mode into "repair worked" and "it did not"."""
    hit = np.isin(rows.members, cured)  # (rows, K)
    concerned = np.flatnonzero(hit.any(axis=1))
    failed = concerned if success < 1.0 else concerned[:0]
    order = np.concatenate([np.arange(len(hit)), failed])
    works = np.concatenate([hit.any(axis=1), np.zeros(len(failed), dtype=bool)])
    probability = np.ones(len(order))
    probability[concerned] = success
    probability[len(hit) :] = 1.0 - success
    removed_here = hit[order] & works[:, None]
    return _Rows(
        origin=rows.origin[order],
        shown={cluster: states[order] for cluster, states in rows.shown.items()},
        probability=rows.probability[order] * probability,
        members=np.where(removed_here, sentinel, rows.members[order]),
        removed=np.where(removed_here, rows.members[order], sentinel),
    )


def _messages(posterior: Posterior, rows: _Rows) -> Mapping[int, FloatArray]:
    """Messages of every sign that has findings, now or before."""
    state, likelihood = posterior.state, posterior.likelihood
    masker_state = {
        sign: cluster.shown[states, place]
        for cluster, states in rows.shown.items()
        for place, sign in enumerate(cluster.maskers)
    }
    hidden_by = {
        sign: cluster.forced[sign][states]
        for cluster, states in rows.shown.items()
        for sign in cluster.signs
    }
    messages = {}
    for sign in range(len(likelihood.sign)):
        if not (likelihood.has_findings[sign] or sign in state.messages or sign in masker_state):
            continue
        now = np.repeat(likelihood.sign[sign][None, :], len(rows.origin), axis=0)  # (rows, V)
        if sign in masker_state:
            now = now * (np.arange(now.shape[1]) == masker_state[sign][:, None])
        if sign in hidden_by:
            now = _as_shown(now, hidden_by[sign], likelihood.sign[sign])
        if sign in state.messages:
            now = now * state.messages[sign][rows.origin]
        messages[sign] = _carried(state.table.compiled.signs[sign], now, rows, state)
    return messages


def _as_shown(seen: FloatArray, forced: IntArray, likelihood: FloatArray) -> FloatArray:
    """Likelihood of a state that may have been hidden: then it says nothing about the state."""
    hidden = likelihood[np.maximum(forced, 0)]  # (rows,)
    return np.where((forced == SEEN)[:, None], seen, hidden[:, None])


def _carried(sign: SignArrays, past: FloatArray, rows: _Rows, state: MachineState) -> FloatArray:
    """Message about the state after the repair, shape ``(rows, V)``."""
    count = len(sign.states)
    if sign.is_table:
        before = sign.distribution(state.table.members[rows.origin])
        after = sign.distribution(rows.members)
        unchanged = (before == after).all(axis=1)  # the same row of the list
        anew = np.einsum("rv,rv->r", before, past[:, :count])
        return np.where(unchanged[:, None], past, anew[:, None])
    caused = sign.distribution(rows.removed, with_leak=False)  # (rows, V)
    carried = past.copy()
    for after_state in range(count):
        total = caused[:, : after_state + 1].sum(axis=1) * past[:, after_state]
        for worse in range(after_state + 1, count):
            total = total + caused[:, worse] * past[:, worse]
        carried[:, after_state] = total
    return carried
