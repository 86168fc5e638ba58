"""Ids of old jobs under a newer network, by the table of renamed and retired ids.

Each look-up gives the present id, ``RETIRED`` (empty) if there is none any more, or None if the
network does not know the name and the table has no word of it.
"""

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from triage.inference.evidence import answers_accepted
from triage.network.renames import RETIRED, RenameTable, shipped_renames
from triage.network.values import FaultNetwork, NetworkIndex
from triage.services.closing.values import CauseClosed
from triage.services.learning.records import JobRecord


@dataclass(frozen=True, slots=True)
class IdsOf:
    """Ids of one version of a network."""

    network: FaultNetwork
    table: RenameTable = field(default_factory=shipped_renames)

    def observation(self, name: str) -> str | None:
        """Observation that is made today in place of that one."""
        return self._find("observation", name, self.network.observations)

    def answer(self, observation: str, answer: str) -> str | None:
        """Answer of an observation under its present id."""
        known = dict.fromkeys(answers_accepted(self.network.observations[observation]))
        return self._find("answer", answer, known, of=observation)

    def cause(self, name: str) -> str | None:
        """Failure mode."""
        return self._find("cause", name, NetworkIndex(self.network).modes)

    def repair(self, name: str) -> str | None:
        """Repair."""
        return self._find("repair", name, self.network.repairs)

    def part(self, name: str) -> str | None:
        """Part."""
        return self._find("part", name, self.network.parts)

    def step(self, name: str) -> str | None:
        """Observation or repair."""
        found = self.observation(name)
        return self.repair(name) if found is None else found

    def finding(self, name: str, answer: str | float) -> tuple[str, str | float] | None:
        """Finding under present ids; None if it is no longer asked, or not known at all."""
        observation = self.observation(name)
        if not observation:
            return None
        if not isinstance(answer, str):
            takes = self.network.observations[observation].reading is not None
            return (observation, answer) if takes else None
        found = self.answer(observation, answer)
        return (observation, found) if found else None

    def _find(
        self, kind: str, name: str, known: Mapping[str, object], *, of: str = ""
    ) -> str | None:
        return self.table.find(kind, name, self.network.id, known=known.keys(), of=of)


def under(record: JobRecord, ids: IdsOf, left_out: Counter[str] | None = None) -> JobRecord:
    """The job under a newer network: findings, causes, repairs and minutes by their present ids.

    What the network does not have any more is left out and counted; a cause keeps its old name,
    so that learning counts the job as one whose cause the network does not have.
    """
    count = Counter[str]() if left_out is None else left_out
    findings = [ids.finding(name, answer) for name, answer in record.findings]
    minutes = {ids.step(name): value for name, value in record.step_minutes.items()}
    repairs = [ids.repair(name) for name in record.repairs]
    count["findings that are no longer asked"] += sum(one is None for one in findings)
    return replace(
        record,
        findings=tuple(one for one in findings if one is not None),
        causes=tuple(_cause(cause, ids) for cause in record.causes),
        repairs=tuple(name for name in repairs if name),
        step_minutes={name: value for name, value in minutes.items() if name},
    )


def _cause(cause: CauseClosed, ids: IdsOf) -> CauseClosed:
    chosen = (ids.observation(name) for name in cause.chosen_by)
    present = ids.cause(cause.cause)
    return replace(
        cause,
        cause=cause.cause if present in (None, RETIRED) else present,
        chosen_by=tuple(name for name in chosen if name),
    )
