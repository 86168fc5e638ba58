"""Danger before diagnosis: a table, not a weight.

Every call asks every safety question of the network first. A raised flag has a class, and the
worst class decides: ``leave_and_call`` and ``make_safe_and_stop`` end the call with a script and a
referral; ``make_safe_then_book`` may rank causes after a named person confirmed that the machine
was made safe. No probability enters.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from triage.network.values import FaultNetwork, SafetyClass, SafetyFlag

WORST_FIRST = (
    SafetyClass.LEAVE_AND_CALL,
    SafetyClass.MAKE_SAFE_AND_STOP,
    SafetyClass.MAKE_SAFE_THEN_BOOK,
)


class SafetyVerdict(StrEnum):
    """What may happen next in a call."""

    ASK = "ask"  # questions are open, nothing is ranked
    STOP = "stop"  # say the script, refer, end the call
    CONFIRM = "confirm"  # make safe, then a named person confirms
    GO_ON = "go_on"


@dataclass(frozen=True, slots=True)
class SafetyState:
    """Answers to the safety questions of one call.

    ``raised`` worst class first; ``unanswered`` in the order of the network; ``confirmed_by`` the
    person who confirmed that the machine was made safe.
    """

    raised: tuple[SafetyFlag, ...]
    unanswered: tuple[SafetyFlag, ...]
    confirmed_by: str | None = None

    @classmethod
    def of(
        cls,
        network: FaultNetwork,
        answers: Mapping[str, bool | None],
        confirmed_by: str | None = None,
    ) -> "SafetyState":
        """State from the answers by flag id; None or absent is "not asked yet"."""
        flags = network.safety_flags.values()
        raised = [flag for flag in flags if answers.get(flag.id)]
        raised.sort(key=lambda flag: WORST_FIRST.index(flag.safety_class))
        unanswered = tuple(flag for flag in flags if answers.get(flag.id) is None)
        return cls(tuple(raised), unanswered, confirmed_by)

    @property
    def is_complete(self) -> bool:
        """Whether every question was answered."""
        return not self.unanswered

    @property
    def is_confirmed(self) -> bool:
        """Whether a named person confirmed; blanks are no name."""
        return bool((self.confirmed_by or "").strip())

    @property
    def worst_class(self) -> SafetyClass | None:
        """Class of the worst raised flag; None if none is raised."""
        return self.raised[0].safety_class if self.raised else None

    @property
    def verdict(self) -> SafetyVerdict:
        """What may happen next. A stopping flag stops at once, other questions open or not."""
        if self.worst_class in (SafetyClass.LEAVE_AND_CALL, SafetyClass.MAKE_SAFE_AND_STOP):
            return SafetyVerdict.STOP
        if self.unanswered:
            return SafetyVerdict.ASK
        if self.raised and not self.is_confirmed:
            return SafetyVerdict.CONFIRM
        return SafetyVerdict.GO_ON

    def may_rank(self, confirmed_by: str | None = None) -> bool:
        """Whether causes may be ranked, given who confirmed that the machine was made safe."""
        confirmed = SafetyState(self.raised, self.unanswered, confirmed_by or self.confirmed_by)
        return confirmed.verdict is SafetyVerdict.GO_ON
