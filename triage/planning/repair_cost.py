r"""Expected cost of repair, the value at the end of every look ahead.

From a belief, repairs are tried in falling order of P(needed) / cost until the machine works. With
``cum`` the running cost of that order, a hypothesis costs the running cost at the last repair it
needs, and the **expected cost of repair** [HeckermanBreeseRommelse1995]_ is

.. math:: \mathrm{ECR}(w) = \sum_h w(h) \max_{r \text{ needed by } h} \mathrm{cum}_r

All beliefs of one call (the present one and one per possible answer) are valued in one pass.

Axes: ``B`` beliefs, ``H`` hypotheses, ``Q`` repairs, ``K`` repairs a hypothesis needs (padded).
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.compiled import CompiledNetwork
from triage.planning.costs import CostModel

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class RepairTable:
    """Repairs of a network with their cost.

    ``ids`` (Q,); ``cost_minor`` (Q,); ``repair_of_mode`` (F+1,) first repair that cures each mode,
    ``Q`` where none does and for the sentinel.
    """

    ids: tuple[str, ...]
    cost_minor: FloatArray
    repair_of_mode: IntArray

    @classmethod
    def of(cls, compiled: CompiledNetwork, costs: CostModel) -> "RepairTable":
        """Repairs of the network, in file order."""
        network = compiled.network
        ids = tuple(network.repairs)
        cost = np.array(
            [
                costs.repair_minor(repair, tuple(network.parts[part] for part in repair.parts))
                for repair in network.repairs.values()
            ]
        )
        order = {repair: place for place, repair in enumerate(ids)}
        cured_by = compiled.index.repairs_of
        first = [
            order[cured_by[mode][0].id] if cured_by[mode] else len(ids)
            for mode in compiled.mode_ids
        ]
        return cls(ids, cost, np.array([*first, len(ids)], dtype=np.int64))

    def needed(self, members: IntArray) -> IntArray:
        """Repairs each hypothesis needs, ``(H, K)``, padded with ``Q``."""
        return self.repair_of_mode[members]

    def needed_probability(self, weights: FloatArray, needed: IntArray) -> FloatArray:
        """P(repair needed) per belief, shape ``(B, Q)``; weights ``(B, H)``."""
        ordered = np.sort(needed, axis=1)
        ordered[:, 1:][ordered[:, 1:] == ordered[:, :-1]] = len(self.ids)  # count a repair once
        result = np.zeros((len(weights), len(self.ids) + 1))
        for column in ordered.T:
            for belief, row in enumerate(weights):
                result[belief] += np.bincount(column, weights=row, minlength=len(self.ids) + 1)
        return result[:, :-1]

    def expected_cost(self, weights: FloatArray, needed: IntArray) -> FloatArray:
        """Expected cost of repair of each belief in minor units, shape ``(B,)``.

        ``weights`` (B, H) need not sum to 1: the result is scaled by their sum, so that answers can
        be weighed by their probability.
        """
        probability = self.needed_probability(weights, needed)  # (B, Q)
        order = np.argsort(-probability / self.cost_minor, axis=1, kind="stable")
        running = np.cumsum(self.cost_minor[order], axis=1)
        cumulative = np.zeros((len(weights), len(self.ids) + 1))  # last column: nothing needed
        np.put_along_axis(cumulative, order, running, axis=1)
        per_hypothesis = cumulative[:, needed].max(axis=2)  # (B, H)
        expected: FloatArray = np.einsum("bh,bh->b", weights, per_hypothesis)
        return expected
