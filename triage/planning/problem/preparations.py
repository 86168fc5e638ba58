"""What must be so before a test, and what bringing it about takes.

The **set-up** of the machine has facets: plugged in or not, gas on or shut, water in the tub or
none, basket standing or turning. A test needs some states of some facets (its preconditions in the
network file); changing a state takes minutes, some of them waiting. A panel is taken off once. What
a precondition is called in the file decides which facet it is; others are shown and cost nothing
beyond the minutes of the test.

The minutes are common practice, no source; a basket coasts for 10 to 60 seconds.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.inference.evidence import Evidence, Finding
from triage.network.values import FaultNetwork, Observation
from triage.planning.problem.arrays import FREE

IntArray = NDArray[np.int64]
FloatArray = NDArray[np.float64]

PANEL_OFF = "panel_off"  # precondition of tests inside the cabinet
PANEL_MINUTES = 4.0  # to take a panel off and put it back; common practice, no source
PANEL = 0  # the one panel a cabinet counts as


@dataclass(frozen=True, slots=True)
class SetupState:
    """A state of a facet: the precondition that asks for it, minutes and words to get there."""

    precondition: str
    minutes: float
    sentence: str


@dataclass(frozen=True, slots=True)
class Facet:
    """Two states that exclude each other. ``found`` is the state on arrival, ``FREE`` unknown.

    A test with the precondition ``implied_by`` but not that of state 0 needs state 1.
    """

    states: tuple[SetupState, SetupState]
    found: int
    after_check_run: int
    implied_by: str = ""

    def needed_by(self, test: Observation) -> int:
        """State a test needs, or ``FREE``."""
        for place, state in enumerate(self.states):
            if state.precondition in test.preconditions:
                return place
        return 1 if self.implied_by in test.preconditions else FREE


FACETS = (
    Facet(
        (
            SetupState("unplugged", 1.0, "unplug it and prove that it is dead"),
            SetupState("powered", 1.0, "plug it in, switch it on and wait for the control"),
        ),
        found=1,
        after_check_run=1,
    ),
    Facet(
        (
            SetupState("gas_shut", 1.0, "shut the gas valve"),
            SetupState("", 1.0, "open the gas valve"),
        ),
        found=1,
        after_check_run=1,
        implied_by="powered",
    ),
    Facet(
        (
            SetupState("empty_and_drained", 3.0, "see that the tub is empty and drained"),
            SetupState("water_in_tub", 2.0, "see that some water is in the tub"),
        ),
        found=FREE,
        after_check_run=FREE,
    ),
    Facet(
        (
            SetupState("basket_stopped", 0.5, "wait until the basket stands still"),
            SetupState("", 0.0, ""),
        ),
        found=0,
        after_check_run=0,
        implied_by="powered",
    ),
)


@dataclass(frozen=True, slots=True)
class Preparation:
    """What to do before a test: ``minutes`` of it, in all, and the ``steps`` in words."""

    minutes: float
    steps: tuple[str, ...]


def facets_of(network: FaultNetwork) -> tuple[Facet, ...]:
    """Facets that the preconditions of a network speak of."""
    return tuple(f for f in FACETS if f.states[0].precondition in network.preconditions)


@dataclass(frozen=True, slots=True)
class Setup:
    """State of each facet, and whether the panel is off."""

    facets: tuple[Facet, ...]
    states: tuple[int, ...]
    panel_off: bool

    @classmethod
    def found(cls, network: FaultNetwork) -> "Setup":
        """As a machine is found."""
        facets = facets_of(network)
        return cls(facets, tuple(facet.found for facet in facets), panel_off=False)

    @classmethod
    def after(cls, network: FaultNetwork, evidence: Evidence) -> "Setup":
        """As the tests and repairs of the visit so far have left it."""
        setup = cls.found(network)
        for event in evidence.events:
            if not isinstance(event, Finding):
                setup = setup.after_repair()
            elif network.observations[event.observation].channel.is_on_site:
                setup = setup.after_test(network.observations[event.observation])
        return setup

    def after_test(self, test: Observation) -> "Setup":
        """Set-up that a test needs and leaves."""
        pairs = zip(self.states, needed_states(self.facets, test), strict=True)
        states = tuple(now if then == FREE else then for now, then in pairs)
        return Setup(self.facets, states, self.panel_off or PANEL_OFF in test.preconditions)

    def after_repair(self) -> "Setup":
        """Set-up that the check run after a repair leaves."""
        pairs = zip(self.states, check_run_states(self.facets), strict=True)
        states = tuple(now if then == FREE else then for now, then in pairs)
        return Setup(self.facets, states, self.panel_off)

    def preparation(self, test: Observation) -> Preparation:
        """What a test asks for that is not so yet."""
        minutes, steps = 0.0, []
        needed = needed_states(self.facets, test)
        for facet, now, then in zip(self.facets, self.states, needed, strict=True):
            if then != FREE and then != now and facet.states[then].minutes > 0.0:
                minutes += facet.states[then].minutes
                steps.append(f"{facet.states[then].sentence} ({facet.states[then].minutes:g} min)")
        if PANEL_OFF in test.preconditions and not self.panel_off:
            minutes += PANEL_MINUTES
            steps.append(f"take the panel off ({PANEL_MINUTES:g} min with putting it back)")
        return Preparation(minutes, tuple(steps))

    def minutes(self, test: Observation) -> float:
        """Minutes of a test from here, preparations included."""
        return own_minutes(test) + self.preparation(test).minutes


def own_minutes(test: Observation) -> float:
    """Minutes of a test without taking the panel off, which a visit does once."""
    if PANEL_OFF in test.preconditions:
        return max(1.0, test.minutes - PANEL_MINUTES)
    return test.minutes


def needed_states(facets: Sequence[Facet], test: Observation) -> tuple[int, ...]:
    """State of each facet a test needs, ``FREE`` where any will do."""
    return tuple(facet.needed_by(test) for facet in facets)


def check_run_states(facets: Sequence[Facet]) -> tuple[int, ...]:
    """State in which the check run after a repair leaves each facet."""
    return tuple(facet.after_check_run for facet in facets)


def setup_minutes(facets: Sequence[Facet]) -> FloatArray:
    """Minutes to bring each facet into each state, shape ``(F, 2)``."""
    return np.array([[s.minutes for s in facet.states] for facet in facets]).reshape(-1, 2)
