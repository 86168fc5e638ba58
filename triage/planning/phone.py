"""The phone stage: when to stop asking.

Questions are ordered by expected information gain per minute. Asking goes on while some question
lowers the expected cost of repair by more than it costs; a caller tires, so minutes grow dearer
with every question beyond the first few. Questions about contexts (age, drive) are cheap and always
worth it; they are not valued here.
"""

from dataclasses import dataclass

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.values import Observation
from triage.planning.costs import CostModel
from triage.planning.problem import test_costs_from
from triage.planning.site_problem import phone_problem
from triage.planning.value import ValueTable

# Callers tire after six to eight questions (common practice, no source); each further one makes a
# minute of theirs a quarter dearer (judged).
PATIENT_QUESTIONS = 7
PATIENCE_STEP = 0.25


@dataclass(frozen=True, slots=True)
class QuestionValue:
    """What a question saves and costs now, minor units."""

    observation: Observation
    saving_minor: float
    cost_minor: float

    @property
    def net_minor(self) -> float:
        """Saving minus cost."""
        return self.saving_minor - self.cost_minor


@dataclass(frozen=True, slots=True)
class PhoneAdvice:
    """Whether to go on asking; ``questions`` by net saving, largest first."""

    questions: tuple[QuestionValue, ...]

    @property
    def is_worth_asking(self) -> bool:
        """Whether some question saves more than it costs."""
        return bool(self.questions) and self.questions[0].net_minor > 0.0


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
    return PhoneAdvice(tuple(sorted(questions, key=lambda q: (-q.net_minor, q.observation.id))))
