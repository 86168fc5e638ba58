"""The phone stage: when to stop asking.

Questions are ordered by expected information gain per minute. Asking goes on while some question
lowers the expected cost of repair by several times what it costs. A saving as large as the cost
would not do: it is counted as if nothing else told the same, but on site a test often does, and
many questions claim the same saving. How many times is measured in whole jobs (docs/policies.md,
"The phone"). A caller tires, so minutes grow dearer with every question beyond the first few.

Questions about contexts (age, drive) are cheap and always worth it; they are not valued here.
"""

from dataclasses import dataclass

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Observation
from triage.planning.policy.value import ValueTable
from triage.planning.problem.arrays import test_costs_from
from triage.planning.problem.site import phone_problem
from triage.planning.shop.costs import CostModel

# Callers tire after six to eight questions (common practice, no source); each further one makes a
# minute of theirs a quarter dearer (judged).
PATIENT_QUESTIONS = 7
PATIENCE_STEP = 0.25
# From 4 to 16 times the measured cost of a job is the same; this is between (docs/policies.md).
SAVING_PER_COST_MIN = 8.0


@dataclass(frozen=True, slots=True)
class QuestionValue:
    """What a question saves and costs now, minor units."""

    observation: Observation
    saving_minor: float
    cost_minor: float

    @property
    def saving_per_cost(self) -> float:
        """How many times its cost a question saves."""
        return self.saving_minor / self.cost_minor

    @property
    def pays(self) -> bool:
        """Whether it saves enough to be asked."""
        return self.saving_per_cost >= SAVING_PER_COST_MIN


@dataclass(frozen=True, slots=True)
class PhoneAdvice:
    """Whether to go on asking; ``questions`` by saving per cost, largest first."""

    questions: tuple[QuestionValue, ...]

    @property
    def is_worth_asking(self) -> bool:
        """Whether some question saves enough to be asked."""
        return bool(self.questions) and self.questions[0].pays


def patience(asked: int) -> float:
    """How dear a minute of the caller is after some questions, 1 at first."""
    return 1.0 + PATIENCE_STEP * max(0, asked - PATIENT_QUESTIONS)


def phone_advice(engine: Engine, evidence: Evidence, costs: CostModel) -> PhoneAdvice:
    """Value of every open question from what is known.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    asked = len(evidence.findings)
    found = phone_problem(engine, evidence, costs, patience(asked))
    problem, start = found.problem, found.problem.start()
    values = ValueTable(problem)
    tests = start.open_tests(problem)
    if len(tests) == 0 or start.mass == 0.0:
        return PhoneAdvice(())
    price = test_costs_from(problem, start, tests)
    saving = values.cost_of(start) - (values.test_costs(start, tests) - price)
    questions = [
        QuestionValue(found.tests[test], float(saved), float(paid))
        for test, saved, paid in zip(tests, saving, price, strict=True)
    ]
    return PhoneAdvice(
        tuple(sorted(questions, key=lambda q: (-q.saving_per_cost, q.observation.id)))
    )
