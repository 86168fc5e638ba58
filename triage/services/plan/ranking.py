"""Rank the causes of a call: the read model behind `triage rank` and the call page."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.engine import Assessment, Cause, Engine, HypothesisWeight, OpenObservation
from triage.inference.evidence import Evidence, Finding
from triage.inference.explanation import (
    Conflict,
    conflict,
    odds_shifts,
    weights_of_evidence,
)
from triage.inference.missing_mass import Certainty, MissingMass
from triage.network.values import Observation
from triage.planning.policy.phone import phone_advice
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.wording import (
    asking_sentence,
    chance_word,
    conflict_sentence,
    missing_mass_sentence,
    reason_to_ask,
    weight_sentence,
)

FloatArray = NDArray[np.float64]

GAIN_WORTH_SHOWING_BITS = 0.001
CAUSES_IN_REASONS = 12


@dataclass(frozen=True, slots=True)
class RankedCause:
    """A cause with its probability as number and word, and the number before the last finding."""

    mode: str
    title: str
    probability: float
    word: str
    before: float | None

    @property
    def change(self) -> float:
        """How far the last finding moved it; 0 when there was none."""
        return 0.0 if self.before is None else self.probability - self.before


@dataclass(frozen=True, slots=True)
class NextObservation:
    """An observation worth making, with the reason.

    ``class_gain_bits`` is the gain about what would be repaired; None where it was not asked for.
    """

    observation: Observation
    gain_bits: float
    class_gain_bits: float | None
    reason: str

    @property
    def minutes(self) -> float:
        """Minutes it takes."""
        return self.observation.minutes

    @property
    def gain_bits_per_minute(self) -> float:
        """Gain per minute."""
        return self.gain_bits / self.observation.minutes


@dataclass(frozen=True, slots=True)
class ExplainedFinding:
    """Weight of one finding for the leading cause, with its sentence."""

    finding: Finding
    observation: Observation
    mode: str
    decibans: float
    alone_decibans: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """Everything a ranking shows."""

    network_id: str
    network_title: str
    version: int
    evidence: Evidence
    causes: tuple[RankedCause, ...]
    nothing_failed: float
    hypotheses: tuple[HypothesisWeight, ...]
    missing: MissingMass
    missing_sentence: str
    conflict: Conflict
    conflict_sentence: str
    next_questions: tuple[NextObservation, ...]
    next_tests: tuple[NextObservation, ...]
    questions_that_pay: int
    asking_sentence: str
    explanation: tuple[ExplainedFinding, ...]


def rank(
    engine: Engine,
    evidence: Evidence,
    *,
    causes_limit: int = 10,
    next_limit: int = 10,
    at_the_phone: bool = False,
    settings: ShopSettings = DEFAULT_SETTINGS,
) -> Ranking:
    """Causes, next observations and explanation for some evidence.

    Parameters
    ----------
    engine : Engine
    evidence : Evidence
    causes_limit, next_limit : int
        Longest lists of causes, and of questions and tests each.
    at_the_phone : bool
        Leave out what a call does not need: tests on site, gains about repairs.
    settings : ShopSettings
        Their costs decide whether further questions pay.

    Raises
    ------
    EvidenceError
        A finding does not fit the network, or the findings exclude each other.
    """
    assessment = engine.assess(evidence)
    found_conflict = conflict(engine, evidence)
    advice = phone_advice(engine, evidence, settings.costs_for(engine.network.id))
    paying = sum(question.pays for question in advice.questions)
    return Ranking(
        network_id=engine.network.id,
        network_title=engine.network.title,
        version=engine.network.version,
        evidence=evidence,
        causes=_causes(assessment, causes_limit),
        nothing_failed=_nothing_failed(assessment),
        hypotheses=assessment.hypotheses[:causes_limit],
        missing=assessment.missing,
        missing_sentence=missing_mass_sentence(assessment.missing, engine.missing_mass_max),
        conflict=found_conflict,
        conflict_sentence=conflict_sentence(engine.compiled.index, found_conflict),
        next_questions=_next(assessment, next_limit, on_site=False, about_repairs=not at_the_phone),
        next_tests=()
        if at_the_phone
        else _next(assessment, next_limit, on_site=True, about_repairs=True),
        questions_that_pay=paying,
        asking_sentence=asking_sentence(paying),
        explanation=_explanation(engine, evidence, assessment.causes[0]),
    )


def _causes(assessment: Assessment, limit: int) -> tuple[RankedCause, ...]:
    before = _before_last(assessment.engine, assessment.evidence)
    return tuple(
        RankedCause(
            cause.mode,
            cause.title,
            cause.probability,
            chance_word(cause.probability),
            before.get(cause.mode),
        )
        for cause in assessment.causes[:limit]
    )


def _before_last(engine: Engine, evidence: Evidence) -> dict[str, float]:
    """Probabilities before the last event; empty when there was none."""
    if not evidence.events:
        return {}
    shifts = odds_shifts(engine, Evidence(evidence.events[:-1]), evidence)
    return {shift.mode: shift.before for shift in shifts}


def _nothing_failed(assessment: Assessment) -> float:
    """P(no failure mode explains the call)."""
    exclusive = assessment.engine.compiled.nothing_failed
    return float(assessment.mode_probabilities[exclusive].sum())


def _next(
    assessment: Assessment, limit: int, *, on_site: bool, about_repairs: bool
) -> tuple[NextObservation, ...]:
    """Observations worth making, largest gain per minute first."""
    positions = {name: k for k, name in enumerate(assessment.engine.compiled.observation_ids)}
    verification = assessment.engine.network.verification
    chosen = [
        entry
        for entry in assessment.open_observations
        if entry.observation.channel.is_on_site is on_site
        and entry.gain_bits > GAIN_WORTH_SHOWING_BITS
        and entry.observation.id != verification
    ][:limit]
    places = [positions[entry.observation.id] for entry in chosen]
    after = assessment.mode_probabilities_after(places)
    class_gains = assessment.class_gains_bits if about_repairs else None
    return tuple(
        NextObservation(
            entry.observation,
            entry.gain_bits,
            None if class_gains is None else float(class_gains[place]),
            _reason(assessment, entry, after[place]),
        )
        for entry, place in zip(chosen, places, strict=True)
    )


def _reason(assessment: Assessment, entry: OpenObservation, after: FloatArray) -> str:
    """Why to ask: what the answers would do to the leading causes; ``after`` (A, F)."""
    position = assessment.engine.compiled.mode_position
    labels = entry.observation.answers.values()
    return reason_to_ask(
        [
            (label, cause, float(probabilities[position[cause.mode]]))
            for label, probabilities in zip(labels, after, strict=True)
            for cause in assessment.causes[:CAUSES_IN_REASONS]
        ]
    )


def _explanation(
    engine: Engine, evidence: Evidence, leading: Cause
) -> tuple[ExplainedFinding, ...]:
    index = engine.compiled.index
    return tuple(
        ExplainedFinding(
            weight.finding,
            index.observation(weight.finding.observation),
            weight.mode,
            weight.decibans,
            weight.alone_decibans,
            weight_sentence(index, weight),
        )
        for weight in weights_of_evidence(engine, evidence, leading.mode)
    )


def ranking_as_json(ranking: Ranking) -> dict[str, object]:
    """Ranking as plain values; keys are stable (docs/json.md)."""
    is_known = ranking.missing.certainty is not Certainty.UNKNOWN
    return {
        "network": ranking.network_id,
        "version": ranking.version,
        "findings": [_finding_as_json(finding) for finding in ranking.evidence.findings],
        "causes": [_cause_as_json(cause) for cause in ranking.causes],
        "nothing_failed": ranking.nothing_failed,
        "hypotheses": [
            {"modes": list(entry.modes), "probability": entry.probability}
            for entry in ranking.hypotheses
        ],
        "missing_mass": {
            "share": ranking.missing.share if is_known else None,
            "certainty": ranking.missing.certainty.value,
            "sentence": ranking.missing_sentence,
        },
        "conflict": {
            "bits": ranking.conflict.bits,
            "threshold_bits": ranking.conflict.threshold_bits,
            "is_suspicious": ranking.conflict.is_suspicious,
            "least_likely": str(ranking.conflict.least_likely or "") or None,
            "sentence": ranking.conflict_sentence,
        },
        "next_questions": [_next_as_json(entry) for entry in ranking.next_questions],
        "next_tests": [_next_as_json(entry) for entry in ranking.next_tests],
        "questions_that_pay": ranking.questions_that_pay,
        "explanation": [_explained_as_json(entry) for entry in ranking.explanation],
    }


def _cause_as_json(cause: RankedCause) -> dict[str, object]:
    return {
        "mode": cause.mode,
        "title": cause.title,
        "probability": cause.probability,
        "word": cause.word,
        "before": cause.before,
    }


def _explained_as_json(entry: ExplainedFinding) -> dict[str, object]:
    return {
        "finding": _finding_as_json(entry.finding),
        "mode": entry.mode,
        "decibans": entry.decibans,
        "alone_decibans": entry.alone_decibans,
        "sentence": entry.sentence,
    }


def _finding_as_json(finding: Finding) -> dict[str, object]:
    return {"observation": finding.observation, "answer": finding.answer, "by": finding.by}


def _next_as_json(entry: NextObservation) -> dict[str, object]:
    return {
        "observation": entry.observation.id,
        "channel": entry.observation.channel.value,
        "title": entry.observation.title,
        "wording": entry.observation.wording,
        "answers": dict(entry.observation.answers),
        "minutes": entry.observation.minutes,
        "gain_bits": entry.gain_bits,
        "class_gain_bits": entry.class_gain_bits,
        "reason": entry.reason,
    }
