"""The lists that end a branching plan, in words: what to check and repair in which order.

How a repair is checked is the same in every list of a plan, so it is told once, in a table; a list
names the repairs only.
"""

from collections.abc import Iterable
from dataclasses import dataclass

import numpy as np

from triage.network.values import Observation, Repair
from triage.planning.policy.screening import UNTESTED, Screening
from triage.planning.problem.preparations import own_minutes
from triage.planning.problem.site import SiteProblem
from triage.planning.shop.costs import CostModel
from triage.planning.visit.repair_lists import ListEntry, RepairList

GO_ON = "Run the machine through after each repair and go on until it works."
HOLD_RULE = (
    "Still not right after a repair: look at the repair first (right part, seated, plugs and hoses "
    "on), and do it again if it did not hold. The steps after it take it to have held."
)
CHECK_RULE = (
    "Repair only if its check says so; a check already made is not made again, and the repair is "
    "then done unchecked."
)


@dataclass(frozen=True, slots=True)
class ListedRepair:
    """A repair of a list, with the tests made before it; none of them if it is unchecked."""

    repair: Repair
    checks: tuple[Observation, ...]


@dataclass(frozen=True, slots=True)
class RepairCheck:
    """How the lists of a plan check a repair: the tests, and the sentence that says so."""

    repair: Repair
    tests: tuple[Observation, ...]
    sentence: str


@dataclass(frozen=True, slots=True)
class ListTold:
    """A list in words; ``minutes`` are expected, ``stops`` whether what it leaves is given up."""

    title: str
    sentence: str
    minutes: float
    repairs: tuple[ListedRepair, ...]
    stops: bool


class ListTeller:
    """Tells the lists of one plan."""

    def __init__(self, site: SiteProblem, screening: Screening, costs: CostModel) -> None:
        self.site, self.screening, self.costs = site, screening, costs

    def told(self, ending: RepairList, probability: float) -> ListTold:
        """A list in words."""
        repairs = tuple(self._listed(entry) for entry in ending.entries)
        is_checked = any(one.checks for one in repairs)
        names = [self._name(one, is_checked) for one in repairs]
        end = "; then stop and talk to the customer" if ending.gives_up else ""
        return ListTold(
            title="Check and repair in this order" if is_checked else "Repair in this order",
            sentence=f"{'; '.join(names)}{end}.",
            minutes=float(round(sum(map(self._minutes, ending.entries)) / probability)),
            repairs=repairs,
            stops=ending.gives_up,
        )

    def checks(self, lists: Iterable[ListTold]) -> tuple[RepairCheck, ...]:
        """How each repair is checked that some list checks, in the order of the network."""
        checked = {one.repair.id for told in lists for one in told.repairs if one.checks}
        return tuple(
            self._check(place, repair)
            for place, repair in enumerate(self.site.repairs)
            if repair.id in checked
        )

    def _check(self, place: int, repair: Repair) -> RepairCheck:
        tests, parts = [], []
        for look in self.screening.looks:
            if look.test[place] == UNTESTED:
                continue
            test = self.site.tests[look.test[place]]
            labels = list(test.answers.values())
            said = " or ".join(f"“{labels[k]}”" for k in np.flatnonzero(look.speaks[place]))
            tests.append(test)
            parts.append(f"{test.title}: {said}")
        return RepairCheck(repair, tuple(tests), "; and then ".join(parts))

    def _listed(self, entry: ListEntry) -> ListedRepair:
        tests = tuple(self.site.tests[test] for test in entry.looks)
        return ListedRepair(self.site.repairs[entry.repair], tests)

    def _name(self, one: ListedRepair, is_checked: bool) -> str:
        unchecked = is_checked and not one.checks
        return f"{one.repair.title} (unchecked)" if unchecked else one.repair.title

    def _minutes(self, entry: ListEntry) -> float:
        """Minutes of an entry, weighed by the probability of coming to each of its steps."""
        repair = self.site.repairs[entry.repair]
        steps = [own_minutes(self.site.tests[test]) for test in entry.looks]
        steps.append(repair.minutes + self.costs.verification_minutes)
        return sum(m * share for m, share in zip(steps, entry.reached, strict=True))
