"""An interview at the terminal as a value: the steps taken so far, and what comes next.

Danger comes first (``triage.planning.safety``), then what the caller complains of, then one
question after the other. Taking the last step back is forgetting it, nothing else is to be undone.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Any

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import VOLUNTEERED, Observation, SafetyFlag
from triage.planning.safety import SafetyState, SafetyVerdict
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.plan.ranking import NextObservation, Ranking, rank, ranking_as_json
from triage.services.plan.visit import VisitPlan, first_visit_plan, plan_as_json

CAUSES_SHOWN = 5


class Stage(StrEnum):
    """What an interview is about to do."""

    SAFETY = "safety"
    CONFIRM = "confirm"
    STOPPED = "stopped"
    COMPLAINT = "complaint"
    QUESTIONS = "questions"


@dataclass(frozen=True, slots=True)
class FlagAnswered:
    """A safety question was answered."""

    flag: str
    is_raised: bool


@dataclass(frozen=True, slots=True)
class MadeSafe:
    """A named person said that the machine was made safe."""

    by: str


@dataclass(frozen=True, slots=True)
class ComplaintTaken:
    """The signs the caller named unasked, picked from what the words suggest; there may be none."""

    observations: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class QuestionAnswered:
    """A question was answered, or the caller did not know."""

    observation: str
    answer: str


InterviewStep = FlagAnswered | MadeSafe | ComplaintTaken | QuestionAnswered


@dataclass(frozen=True, slots=True)
class Interview:
    """Steps of one interview, in order; ``engine`` is that of the network under ``settings``."""

    engine: Engine
    steps: tuple[InterviewStep, ...] = ()
    settings: ShopSettings = DEFAULT_SETTINGS

    def adding(self, *steps: InterviewStep) -> "Interview":
        """Interview with these steps after the present ones."""
        return replace(self, steps=(*self.steps, *steps))

    def undone(self) -> "Interview":
        """Interview without its last step; as it is if there is none."""
        return replace(self, steps=self.steps[:-1])

    @property
    def safety(self) -> SafetyState:
        """Answers to the safety questions; a danger raised later has to be confirmed anew."""
        answers: dict[str, bool | None] = {}
        confirmed_by = None
        for step in self.steps:
            match step:
                case FlagAnswered(flag, is_raised):
                    answers[flag] = is_raised
                    confirmed_by = None if is_raised else confirmed_by
                case MadeSafe(by):
                    confirmed_by = by
        return SafetyState.of(self.engine.network, answers, confirmed_by)

    @property
    def stage(self) -> Stage:
        """What comes next."""
        match self.safety.verdict:
            case SafetyVerdict.STOP:
                return Stage.STOPPED
            case SafetyVerdict.ASK:
                return Stage.SAFETY
            case SafetyVerdict.CONFIRM:
                return Stage.CONFIRM
        has_complaint = any(isinstance(step, ComplaintTaken) for step in self.steps)
        return Stage.QUESTIONS if has_complaint else Stage.COMPLAINT

    @property
    def evidence(self) -> Evidence:
        """Findings of the steps."""
        events = []
        for step in self.steps:
            match step:
                case ComplaintTaken(observations):
                    events += [Finding(name, VOLUNTEERED) for name in observations]
                case QuestionAnswered(observation, answer):
                    events.append(Finding(observation, answer))
        return Evidence(tuple(events))

    @property
    def complaints(self) -> tuple[Observation, ...]:
        """Observations a caller may name unasked, in the order of the network."""
        every = self.engine.network.observations.values()
        return tuple(entry for entry in every if entry.volunteered is not None)

    def ranking(self) -> Ranking | None:
        """Causes and next questions; None while the safety questions do not allow any."""
        if self.safety.verdict is not SafetyVerdict.GO_ON:
            return None
        return rank(self.engine, self.evidence, causes_limit=CAUSES_SHOWN, settings=self.settings)

    def plan(self) -> VisitPlan | None:
        """First visit plan; None while the safety questions do not allow one."""
        if self.safety.verdict is not SafetyVerdict.GO_ON:
            return None
        return first_visit_plan(self.engine, self.evidence, self.settings)


def next_question(ranking: Ranking) -> NextObservation | None:
    """Return the question with the largest gain per minute; None if none tells anything."""
    return ranking.next_questions[0] if ranking.next_questions else None


def interview_as_json(interview: Interview) -> Mapping[str, Any]:
    """Final state of an interview as plain values; keys are stable (docs/json.md)."""
    safety, ranking, plan = interview.safety, interview.ranking(), interview.plan()
    unanswered = {flag.id for flag in safety.unanswered}
    raised = {flag.id for flag in safety.raised}
    return {
        "network": interview.engine.network.id,
        "version": interview.engine.network.version,
        "stage": interview.stage.value,
        "safety": {
            "answers": {
                flag: flag in raised
                for flag in interview.engine.network.safety_flags
                if flag not in unanswered
            },
            "raised": [_flag_as_json(flag) for flag in safety.raised],
            "confirmed_by": safety.confirmed_by,
        },
        "findings": [
            {"observation": finding.observation, "answer": finding.answer, "by": finding.by}
            for finding in interview.evidence.findings
        ],
        "ranking": None if ranking is None else ranking_as_json(ranking),
        "plan": None if plan is None else plan_as_json(plan),
    }


def _flag_as_json(flag: SafetyFlag) -> Mapping[str, Any]:
    return {
        "flag": flag.id,
        "title": flag.title,
        "class": flag.safety_class.value,
        "script": flag.script,
        "referral": flag.referral,
    }
