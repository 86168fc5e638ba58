"""The base policy on site: which test next, or which repair.

Value of information per minute against the best repair (docs/method.md, "What to do next"):

    saving(t) = ECR(e) - sum over answers P(a | e) ECR(e, a)
    t*        = test with the largest saving per cost among those whose saving exceeds their cost
    r*        = repair with the largest P(needed) per cost

Testing is worth it while some test saves more than it costs. Information in bits is shown beside
it and decides nothing.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.inference.gain import row_answer_probabilities, support
from triage.inference.posterior import Posterior
from triage.network.values import Observation, Repair
from triage.planning.costs import CostModel
from triage.planning.repair_cost import RepairTable

FloatArray = NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class TestValue:
    """What a test is worth now: expected saving and cost, minor units."""

    __test__ = False  # not a test class, whatever its name suggests to a test runner

    observation: Observation
    saving_minor: float
    cost_minor: float

    @property
    def net_minor(self) -> float:
        """Saving minus cost."""
        return self.saving_minor - self.cost_minor

    @property
    def saving_per_cost(self) -> float:
        """Saving per unit of cost: the order in which tests are taken."""
        return self.saving_minor / self.cost_minor


@dataclass(frozen=True, slots=True)
class Step:
    """What to do next: a test, or a repair when no test pays; neither when all is well.

    ``expected_cost_minor`` is that of the rest of the visit with at most one more test: an upper
    bound for the policy, which may test again.
    """

    test: TestValue | None
    repair: Repair | None
    repair_probability: float
    expected_cost_minor: float


class SitePolicy:
    """Base policy for one network and one cost model."""

    def __init__(self, engine: Engine, costs: CostModel) -> None:
        self.engine = engine
        self.costs = costs
        self.repairs = RepairTable.of(engine.compiled, costs)

    def next_step(self, evidence: Evidence) -> Step:
        """Best test or repair from here; ties go to the first in the network."""
        posterior = self.engine.posterior(evidence)
        rows = support(posterior.weights, self.engine.dropped_mass)
        weights = posterior.weights[None, rows] / posterior.weights[rows].sum()
        needed = self.repairs.needed(posterior.state.table.members[rows])
        expected = float(self.repairs.expected_cost(weights, needed)[0])
        values = self.test_values(posterior, evidence)
        worth = [value for value in values if value.net_minor > 0.0]
        probability = self.repairs.needed_probability(weights, needed)[0]
        best = int(np.argmax(probability / self.repairs.cost_minor))
        repair = self.engine.network.repairs[self.repairs.ids[best]]
        if worth:
            test = max(worth, key=lambda value: value.saving_per_cost)
            return Step(test, None, float(probability[best]), expected - test.net_minor)
        if probability[best] == 0.0:
            return Step(None, None, 0.0, expected)
        return Step(None, repair, float(probability[best]), expected)

    def test_values(self, posterior: Posterior, evidence: Evidence) -> tuple[TestValue, ...]:
        """Value of every on-site test not made yet in this epoch, in the order of the network."""
        compiled = self.engine.compiled
        made = {finding.observation for finding in evidence.epochs()[-1][0]}
        open_tests = [
            place
            for place, entry in enumerate(compiled.observations)
            if entry.channel.is_on_site
            and entry.id not in made
            and entry.sign is not None
            and entry.id != self.engine.network.verification
        ]
        rows = support(posterior.weights, self.engine.dropped_mass)
        weights = posterior.weights[rows] / posterior.weights[rows].sum()  # (R',)
        needed = self.repairs.needed(posterior.state.table.members[rows])
        before = float(self.repairs.expected_cost(weights[None, :], needed)[0])
        answers = self._answers(posterior, rows, open_tests)
        values = []
        for place in open_tests:
            beliefs = answers[place].T * weights  # (A, R')
            after = float(self.repairs.expected_cost(beliefs, needed).sum())
            entry = compiled.observations[place]
            cost = self.costs.on_site_minor(entry.minutes)
            values.append(TestValue(entry, max(0.0, before - after), cost))
        return tuple(values)

    def _answers(
        self, posterior: Posterior, rows: NDArray[np.int64], open_tests: list[int]
    ) -> dict[int, FloatArray]:
        compiled = self.engine.compiled
        signs = frozenset(
            compiled.sign_position[compiled.observations[place].sign or ""] for place in open_tests
        )
        gain_table = self.engine.gain_table_of(posterior.state)
        return dict(row_answer_probabilities(posterior, gain_table, rows, signs))
