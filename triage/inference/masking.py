"""Signs that hide other signs: no spin test while water stands in the tub.

While a **masker** is in a masking state, the masked sign shows a fixed state (often ``untestable``)
whatever has failed. Maskers and what they mask form a **cluster**; within it the signs are
independent given the hypothesis and the *shown* states ``z`` of the maskers. A cluster is summed
over ``z`` (docs/method.md, "Masks"):

    P(z | h) = prod over maskers of  1[z_i = shows]     if an earlier masker hides it in z
                                     P(u_i = z_i | h)   otherwise

Axes: ``Z`` joint shown states of the maskers, ``R`` rows (hypotheses), ``V`` states.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from itertools import product

import networkx as nx
import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

SEEN = -1


@dataclass(frozen=True, slots=True, eq=False)
class Cluster:
    """Signs joined by masks.

    ``maskers`` in an order in which each comes after its own maskers; ``others`` only masked.
    ``shown`` (Z, maskers) are the joint shown states; ``forced`` gives for each sign ``(Z,)`` the
    state a mask forces, or ``SEEN`` where the sign is seen as it is.
    """

    maskers: tuple[int, ...]
    others: tuple[int, ...]
    shown: IntArray
    forced: Mapping[int, IntArray]

    @property
    def signs(self) -> tuple[int, ...]:
        """All signs of the cluster."""
        return (*self.maskers, *self.others)


@dataclass(frozen=True, slots=True)
class ClusterPosterior:
    """What a cluster contributes per row.

    ``factor`` (R,) is P(evidence of the cluster | row); ``joint`` (R, Z) is P(z, evidence | row).
    """

    cluster: Cluster
    factor: FloatArray
    joint: FloatArray

    def shown_distribution(
        self, sign: int, local: FloatArray, likelihood: FloatArray
    ) -> FloatArray:
        """P(shown state | row, evidence), shape ``(R, V)``.

        ``local`` (R, V) is the distribution of the sign were it seen, ``likelihood`` (V,) that of
        the present findings on it.
        """
        z_given = self.joint / self.factor[:, None]  # (R, Z)
        states = np.arange(local.shape[1])
        if sign in self.cluster.maskers:
            column = self.cluster.shown[:, self.cluster.maskers.index(sign)]
            return np.asarray(z_given @ (column[:, None] == states))
        forced = self.cluster.forced[sign]
        hidden = z_given @ (forced[:, None] == states)  # (R, V)
        weighted = local * likelihood
        total = weighted.sum(axis=1)
        seen = z_given @ (forced == SEEN)  # (R,)
        share = np.divide(seen, total, out=np.zeros_like(seen), where=total > 0.0)
        return np.asarray(hidden + weighted * share[:, None])


@lru_cache(maxsize=64)
def clusters(compiled: CompiledNetwork) -> tuple[Cluster, ...]:
    """Clusters of a network, in order of their first sign."""
    graph = nx.DiGraph()
    for sign, masks in enumerate(compiled.masks):
        graph.add_edges_from((mask.masker, sign) for mask in masks)
    found = []
    for group in sorted(sorted(part) for part in nx.weakly_connected_components(graph)):
        part = graph.subgraph(group)
        order = list(nx.lexicographical_topological_sort(part))
        maskers = tuple(sign for sign in order if part.out_degree(sign) > 0)
        others = tuple(sign for sign in order if part.out_degree(sign) == 0)
        found.append(_cluster(compiled, maskers, others))
    return tuple(found)


def cluster_posterior(
    cluster: Cluster, local: Mapping[int, FloatArray], likelihood: FloatArray
) -> ClusterPosterior:
    """Sum a cluster over the shown states of its maskers.

    Parameters
    ----------
    cluster : Cluster
    local : mapping of sign position to ndarray
        ``(R, V)`` P(state | row) of every masker and of every other sign that has findings.
    likelihood : ndarray
        ``(S, V)`` P(findings | state shown), 1 where there are none.
    """
    rows = len(next(iter(local.values())))
    joint = np.ones((rows, len(cluster.shown)))  # (R, Z)
    for place, sign in enumerate(cluster.maskers):
        state = cluster.shown[:, place]
        forced = cluster.forced[sign]
        hidden_total = local[sign].sum(axis=1)[:, None]  # (R, 1), 1 unless a past is carried
        seen = np.where(forced == SEEN, local[sign][:, state], hidden_total * (forced == state))
        joint *= seen * likelihood[sign, state]
    for sign in cluster.others:
        if sign in local:
            joint *= hidden_or_seen(cluster.forced[sign], local[sign], likelihood[sign])
    return ClusterPosterior(cluster, joint.sum(axis=1), joint)


def hidden_or_seen(forced: IntArray, local: FloatArray, likelihood: FloatArray) -> FloatArray:
    """P(findings | row, z) of one masked sign, shape ``(R, Z)``."""
    seen = local @ likelihood  # (R,)
    hidden = local.sum(axis=1)[:, None] * likelihood[np.maximum(forced, 0)]  # (R, Z)
    return np.where(forced == SEEN, seen[:, None], hidden)


def _cluster(
    compiled: CompiledNetwork, maskers: tuple[int, ...], others: tuple[int, ...]
) -> Cluster:
    counts = [len(compiled.signs[sign].states) for sign in maskers]
    shown = np.array(list(product(*(range(count) for count in counts))), dtype=np.int64)
    forced = {sign: _forced_states(compiled, sign, maskers, shown) for sign in (*maskers, *others)}
    possible = np.ones(len(shown), dtype=bool)
    for place, sign in enumerate(maskers):
        possible &= (forced[sign] == SEEN) | (forced[sign] == shown[:, place])
    return Cluster(
        maskers,
        others,
        shown[possible],
        {sign: states[possible] for sign, states in forced.items()},
    )


def _forced_states(
    compiled: CompiledNetwork, sign: int, maskers: tuple[int, ...], shown: IntArray
) -> IntArray:
    """State the first acting mask forces in each joint state, or ``SEEN``; shape ``(Z,)``."""
    forced = np.full(len(shown), SEEN, dtype=np.int64)
    for mask in compiled.masks[sign]:
        acts = mask.is_masking[shown[:, maskers.index(mask.masker)]]
        forced[acts & (forced == SEEN)] = mask.shows
    return forced
