"""Values of a fault network: what a network file says, checked, typed and frozen.

A **fault network** is a Bayesian network of four layers (docs/method.md):

context      what is known of the machine and its place: age band, drive type
components   each ``ok`` or in one of its exclusive **failure modes** (IEC 60812)
signs        what the machine really does; never seen directly
observations one look at one sign through one channel, with a fixed list of answers

These classes hold data and look-ups only; ``triage.network.loader`` checks files,
``triage.inference`` turns a network into arrays. Every collection keeps the order of the file.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from functools import cached_property

from triage.errors import UnknownModeError, UnknownObservationError, UnknownRepairError

UNTESTABLE = "untestable"
COULD_NOT_BE_RUN = "could_not_be_run"
INSIDE, OUTSIDE = "inside", "outside"  # answers of a reading: in the range to accept, or not
VOLUNTEERED = "volunteered"


class Grade(StrEnum):
    """How far a number can be trusted."""

    MEASURED = "measured"
    PUBLISHED = "published"
    JUDGED = "judged"


class Channel(StrEnum):
    """How a sign is looked at."""

    CALLER = "caller"
    GUIDED_CHECK = "guided_check"
    ON_SITE_TEST = "on_site_test"
    METER = "meter"

    @property
    def is_on_site(self) -> bool:
        """Whether a technician must be at the machine."""
        return self in (Channel.ON_SITE_TEST, Channel.METER)


class ComponentKind(StrEnum):
    """What a component belongs to; only ``EQUIPMENT`` is the machine itself."""

    EQUIPMENT = "equipment"
    INSTALLATION = "installation"
    USE = "use"
    NOTHING_FAILED = "nothing_failed"


class Combination(StrEnum):
    """How several failure modes act on one sign."""

    NOISY_MAX = "noisy_max"
    TABLE = "table"


class RepairBy(StrEnum):
    """Who may do a repair."""

    TECHNICIAN = "technician"
    CALLER = "caller"
    LICENSED_TRADE = "licensed_trade"


class OnVan(StrEnum):
    """Whether a part is usually carried."""

    USUALLY = "usually"
    SOMETIMES = "sometimes"
    ORDERED = "ordered"


class SafetyClass(StrEnum):
    """What a raised safety flag demands; only the last one may rank causes, after confirmation."""

    LEAVE_AND_CALL = "leave_and_call"
    MAKE_SAFE_AND_STOP = "make_safe_and_stop"
    MAKE_SAFE_THEN_BOOK = "make_safe_then_book"


@dataclass(frozen=True, slots=True, kw_only=True)
class Provenance:
    """Where a number comes from. ``equivalent_sample_size`` (jobs) is set for judged numbers."""

    source: str
    grade: Grade
    equivalent_sample_size: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Context:
    """A circumstance of the machine; ``probabilities`` (V,) are those at the call."""

    id: str
    title: str
    values: Mapping[str, str]
    probabilities: tuple[float, ...]
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class FailureMode:
    """One way in which one component fails.

    ``share`` is the share of calls whose leading cause this is. ``multipliers`` act on it per
    context value (context id, value id); a value not listed has 1, and 0 means "not fitted".
    ``id`` is ``component.mode``.
    """

    id: str
    title: str
    share: float
    multipliers: Mapping[str, Mapping[str, float]] = field(default_factory=dict)
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class Component:
    """A part that can fail: ``ok`` or in exactly one of its ``modes``."""

    id: str
    title: str
    kind: ComponentKind
    modes: tuple[FailureMode, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Pair:
    """Two modes of different components that fail together more often than chance.

    ``probability`` is the share of calls in which both have failed.
    """

    modes: tuple[str, str]
    probability: float
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class Mask:
    """While ``masker`` is in one of ``states``, the masked sign shows ``shows`` whatever failed."""

    masker: str
    states: tuple[str, ...]
    shows: str


@dataclass(frozen=True, slots=True, kw_only=True)
class TableRow:
    """Row of a decision list: if every mode of ``when`` failed, the sign is drawn from ``then``."""

    when: tuple[str, ...]
    then: tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """What the machine really does.

    ``states`` are ordered from normal to worst; ``leak`` (V,) is the distribution with nothing
    failed; ``causes`` gives for each failure mode the distribution (V,) over states it alone would
    produce (noisy-MAX, net convention). With ``Combination.TABLE`` the first matching row of
    ``rows`` holds instead. If a mask shows ``untestable``, that is the last state and has
    probability 0 in ``leak``, ``causes`` and ``rows``.
    """

    id: str
    title: str
    states: tuple[str, ...]
    combination: Combination = Combination.NOISY_MAX
    leak: tuple[float, ...]
    causes: Mapping[str, tuple[float, ...]] = field(default_factory=dict)
    rows: tuple[TableRow, ...] = ()
    masks: tuple[Mask, ...] = ()
    provenance: Provenance

    @property
    def parents(self) -> tuple[str, ...]:
        """Failure modes the sign depends on, in order of mention."""
        mentioned = [*self.causes, *(mode for row in self.rows for mode in row.when)]
        return tuple(dict.fromkeys(mentioned))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """A meter reading: the true value plus a normal error of standard deviation ``sd``.

    The true value lies inside ``accept`` with probability ``inside[state]``, uniformly; otherwise
    uniformly in the rest of ``span``. All in ``unit``.
    """

    unit: str
    accept: tuple[float, float]
    span: tuple[float, float]
    sd: float
    inside: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """One way to look at one sign (or context) through one channel.

    ``likelihood`` has one row per state of what is looked at and one column per answer; rows sum
    to 1. ``volunteered`` is P(caller says it unasked | state), a column outside those sums, or
    None where nobody would.
    """

    id: str
    sign: str | None = None
    context: str | None = None
    channel: Channel
    title: str
    wording: str
    answers: Mapping[str, str]
    likelihood: tuple[tuple[float, ...], ...]
    volunteered: tuple[float, ...] | None = None
    phrases: tuple[str, ...] = ()
    minutes: float
    preconditions: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    acceptance: str = ""
    reading: Reading | None = None
    provenance: Provenance

    @property
    def target(self) -> str:
        """Id of the sign or context that is looked at."""
        return self.sign or self.context or ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """What is carried and fitted; ``cost`` is the range the shop pays, in minor money units."""

    id: str
    title: str
    cost: tuple[int, int]
    on_van: OnVan
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class Repair:
    """One action that cures failure modes with probability ``success`` in ``minutes`` of labour."""

    id: str
    title: str
    cures: tuple[str, ...]
    by: RepairBy
    success: float
    minutes: float
    parts: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    caller_steps: str = ""
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class SafetyFlag:
    """A danger asked about in every call before anything else."""

    id: str
    title: str
    wording: str
    safety_class: SafetyClass
    script: str
    referral: str
    phrases: tuple[str, ...] = ()
    provenance: Provenance


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultNetwork:
    """A whole fault network for one appliance kind; see the module docstring for the layers.

    ``expected_failed_modes`` is the mean number of failed modes given that something failed.
    ``verification`` is the observation that checks a repair. ``currency`` is an ISO 4217 code.
    """

    id: str
    title: str
    version: int
    description: str
    currency: str = "USD"
    expected_failed_modes: float
    conflict_threshold_bits: float
    verification: str | None = None
    contexts: Mapping[str, Context] = field(default_factory=dict)
    components: Mapping[str, Component]
    pairs: tuple[Pair, ...] = ()
    signs: Mapping[str, Sign]
    observations: Mapping[str, Observation]
    repairs: Mapping[str, Repair] = field(default_factory=dict)
    parts: Mapping[str, Part] = field(default_factory=dict)
    safety_flags: Mapping[str, SafetyFlag] = field(default_factory=dict)
    preconditions: Mapping[str, str] = field(default_factory=dict)
    cautions: Mapping[str, str] = field(default_factory=dict)
    sources: Mapping[str, str] = field(default_factory=dict)


class NetworkIndex:
    """Look-ups over a fault network: which component a mode belongs to, which repair cures it."""

    def __init__(self, network: FaultNetwork) -> None:
        self.network = network

    @cached_property
    def modes(self) -> Mapping[str, FailureMode]:
        """Failure modes by id, in file order."""
        return {mode.id: mode for mode in self._walk_modes()}

    @cached_property
    def component_of(self) -> Mapping[str, Component]:
        """Component by failure mode id."""
        parts = self.network.components.values()
        return {mode.id: component for component in parts for mode in component.modes}

    @cached_property
    def observations_of(self) -> Mapping[str, Sequence[Observation]]:
        """Observations by the id of the sign or context they look at."""
        found: dict[str, list[Observation]] = {}
        for observation in self.network.observations.values():
            found.setdefault(observation.target, []).append(observation)
        return found

    @cached_property
    def repairs_of(self) -> Mapping[str, Sequence[Repair]]:
        """Repairs by the failure mode they cure, in file order."""
        found: dict[str, list[Repair]] = {mode: [] for mode in self.modes}
        for repair in self.network.repairs.values():
            for mode in repair.cures:
                found[mode].append(repair)
        return found

    def mode(self, mode_id: str) -> FailureMode:
        """Failure mode of that id, or ``UnknownModeError``."""
        if mode_id not in self.modes:
            raise UnknownModeError(mode_id, list(self.modes))
        return self.modes[mode_id]

    def observation(self, observation_id: str) -> Observation:
        """Observation of that id, or ``UnknownObservationError``."""
        if observation_id not in self.network.observations:
            raise UnknownObservationError(observation_id, list(self.network.observations))
        return self.network.observations[observation_id]

    def repair(self, repair_id: str) -> Repair:
        """Repair of that id, or ``UnknownRepairError``."""
        if repair_id not in self.network.repairs:
            raise UnknownRepairError(repair_id, list(self.network.repairs))
        return self.network.repairs[repair_id]

    def mode_title(self, mode_id: str) -> str:
        """Cause as people read it: "Drain pump: jammed by an object"."""
        return f"{self.component_of[mode_id].title}: {self.mode(mode_id).title}"

    def _walk_modes(self) -> Iterator[FailureMode]:
        for component in self.network.components.values():
            yield from component.modes
