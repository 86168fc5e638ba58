"""Closed jobs, and how much they are trusted: the contract of learning.

A closed job says what was found on the machine **as it was at the call** (findings made before the
first repair), how the call ended, and what was wrong as far as anybody knows. What is known of the
cause takes one of three forms, strongest first:

causes      failure modes that were confirmed, each with how; together they are all that was wrong
suspected   weights over failure modes of which one was wrong, as far as the technician could tell
neither     nobody knows: declined, referred, or closed without a finding
"""

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from enum import StrEnum
from types import MappingProxyType

from triage.errors import ClosedJobError, LearningSettingsError
from triage.inference.evidence import Finding


class Outcome(StrEnum):
    """How a call ended."""

    REPAIRED = "repaired"
    DECLINED = "declined"
    SOLVED_BY_PHONE = "solved_by_phone"
    REFERRED = "referred"
    NO_FAULT_FOUND = "no_fault_found"


class Confirmation(StrEnum):
    """How it is known that a failure mode was there."""

    VERIFIED = "verified"  # the machine worked after that repair, seen in a check run
    JUDGED = "judged"  # a test said so, nobody checked afterwards
    GUESSED = "guessed"


class Complaint(StrEnum):
    """What a customer who calls back complains of."""

    SAME = "same"
    NEW = "new"


@dataclass(frozen=True, slots=True, kw_only=True)
class ConfirmedCause:
    """A failure mode that was found, and how it is known."""

    mode: str
    confirmation: Confirmation = Confirmation.VERIFIED


@dataclass(frozen=True, slots=True, kw_only=True)
class CallBack:
    """The customer called again ``days`` after the job was closed."""

    days: int
    complaint: Complaint


@dataclass(frozen=True, slots=True, kw_only=True)
class ClosedJob:
    """A closed job, as learning sees it.

    ``network`` and ``network_version`` are those used at the call; the network is the appliance
    kind. ``findings`` were made before the first repair, circumstances of the machine among them;
    of several answers to one observation the last counts. ``chose_diagnosis`` names the
    observations whose answers made the technician name the cause. ``suspected`` maps failure modes
    to weights that sum to at most 1; what is missing to 1 may be anything else. ``minutes`` maps
    ids of repairs and observations to the minutes they took. ``person`` took the call.
    """

    id: str
    network: str
    network_version: int
    closed_at: datetime
    outcome: Outcome
    findings: tuple[Finding, ...] = ()
    causes: tuple[ConfirmedCause, ...] = ()
    suspected: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    chose_diagnosis: tuple[str, ...] = ()
    minutes: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    call_back: CallBack | None = None
    person: str = ""

    def __post_init__(self) -> None:
        if self.closed_at.tzinfo is None:
            raise ClosedJobError(self.id, "closed_at has no time zone", "a time in UTC")
        if self.causes and self.suspected:
            raise ClosedJobError(
                self.id, "both causes and suspected causes", "one of the two, or neither"
            )
        total = sum(self.suspected.values())
        if total > 1.0 + 1e-9 or any(weight <= 0.0 for weight in self.suspected.values()):
            raise ClosedJobError(
                self.id,
                f"weights {list(self.suspected.values())} of suspected causes",
                "weights above 0 that sum to at most 1",
            )


@dataclass(frozen=True, slots=True, kw_only=True)
class LearningSettings:
    """What learning assumes; every number may be changed by the owner.

    Prior weights are **equivalent sample sizes in jobs**: a number of the network counts as much
    as that many jobs. The defaults are those that made no network worse at any number of jobs in
    the simulations of docs/learning.md.

    Strengths, leaks and answers state the weight of one half; the nearer a number is to certain,
    the more it is worth, so that all are equally sure in log odds (``belief``).

    share_jobs, link_jobs, channel_jobs, context_jobs
        Weights of shares; of strengths (jobs in which the cause was there and the sign looked at);
        of rows of P(answer | state); of the probabilities of circumstances. Where the network
        states a weight of its own for a sign or observation, that counts.
    stated_weight
        Part of the weight that a network states for a number which counts here. With 0.1 a strength
        that states 100 jobs is uncertain by about 0.6 in log odds.
    careless_share, careless_answers
        Share of a caller's answers that are thought to be given without looking, beyond what the
        network says of each question, and the number of answers that this is worth. 0: none are.
    multiplier_cases
        Weight of "how much more often on old machines", in cases of that cause.
    minutes_jobs, minutes_log_sd
        Weight of the minutes in the network, and spread of minutes around their median (nats).
    judged_reliability, guessed_reliability
        P(the cause is right) without a check run; with one it is taken as certain.
    call_back_days, call_back_same, call_back_new
        How long a call back tells about the earlier cause; P(call back | cause right) and
        P(call back | cause wrong) with the same and with a new complaint.
    learns_together
        Whether jobs of other appliance kinds lend to the links they share (``pooling``).
    half_life_months
        A job of that age counts half; None for ever.
    channel_jobs_min
        The P(answer | state) of a question or test moves by itself only where so many jobs saw the
        sign through a second observation; elsewhere it is held, and only the share of careless
        answers moves it. With 0 it moves everywhere, and where nothing else checks it, it and the
        strengths share what jobs tell by what each is worth.
    closure_rates
        P(a call closes with its cause known) by failure mode. Where given, jobs weigh one over
        it and jobs without a known cause are left out; otherwise these stay in with their cause
        unknown, which corrects for calls that were declined or solved by phone.
    """

    share_jobs: float = 100.0
    link_jobs: float = 10.0
    channel_jobs: float = 30.0
    stated_weight: float = 0.1
    careless_share: float = 0.05
    careless_answers: float = 100.0
    context_jobs: float = 300.0
    multiplier_cases: float = 50.0
    minutes_jobs: float = 20.0
    minutes_log_sd: float = 0.5
    judged_reliability: float = 0.9
    guessed_reliability: float = 0.7
    call_back_days: int = 60
    call_back_same: tuple[float, float] = (0.02, 0.5)
    call_back_new: tuple[float, float] = (0.03, 0.06)
    learns_together: bool = True
    half_life_months: float | None = None
    channel_jobs_min: float = 20.0
    closure_rates: Mapping[str, float] = field(default_factory=lambda: MappingProxyType({}))
    iterations_max: int = 50
    tolerance_nats: float = 0.5  # a smaller gain of the objective ends the run, or
    tolerance_per_job: float = 5e-5  # one below this, times the jobs

    def __post_init__(self) -> None:
        positive = (
            "share_jobs link_jobs channel_jobs careless_answers stated_weight context_jobs "
            "multiplier_cases minutes_jobs minutes_log_sd iterations_max tolerance_nats "
            "tolerance_per_job"
        )
        for name in positive.split():
            if getattr(self, name) <= 0.0:
                raise LearningSettingsError(name, getattr(self, name), "more than 0")
        if self.half_life_months is not None and self.half_life_months <= 0.0:
            raise LearningSettingsError(
                "half_life_months", self.half_life_months, "more than 0, or nothing"
            )
        if not 0.0 <= self.careless_share < 1.0:
            raise LearningSettingsError(
                "careless_share", self.careless_share, "at least 0 and below 1"
            )
        for name in ("judged_reliability", "guessed_reliability"):
            if not 0.0 < getattr(self, name) <= 1.0:
                raise LearningSettingsError(name, getattr(self, name), "above 0 and at most 1")
        for mode, rate in self.closure_rates.items():
            if not 0.0 < rate <= 1.0:
                raise LearningSettingsError(f"closure_rates {mode}", rate, "above 0 and at most 1")
