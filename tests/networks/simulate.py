"""Calls drawn from a fault network itself: a machine, its signs, and the answers of its owner.

A machine is drawn from the prior over sets of failed modes and circumstances; each sign takes the
worst of what its causes do, then the masks act; each answer is drawn from its channel. The signs
are drawn from the values of the network, not from the arrays of the engine, so that the engine is
held against them.

A call starts with what the caller says unasked, and goes on with questions and guided checks: some
in the order of their gain, as a dispatcher would ask, the rest by chance.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

import numpy as np

from tests.oracle import shown_states
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import VOLUNTEERED, Combination, Observation, Sign

FINDINGS_MIN, FINDINGS_MAX = 6, 14
VOLUNTEERED_MAX = 2  # complaints a caller gets out before the first question
BEST_FIRST, BY_CHANCE = 3, 2  # questions asked on one ranking, then it is made anew


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """Failed modes, value of each context, and the state each sign shows."""

    failed: tuple[str, ...]
    context_values: Mapping[str, str]
    shown: Mapping[str, str]


class CallSimulator:
    """Draws machines and calls about them from the network of an engine."""

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self.network = engine.network
        self._openings: dict[Evidence, list[Observation]] = {}

    def machine(self, rng: np.random.Generator) -> Machine:
        """Machine drawn from the prior."""
        compiled = self.engine.compiled
        cell = int(np.searchsorted(self._cumulative_prior, rng.random() * self._prior_total))
        combination, hypothesis = divmod(cell, len(self.engine.state.table))
        members = self.engine.state.table.members[hypothesis]
        failed = tuple(compiled.mode_ids[m] for m in members if m < compiled.mode_count)
        values = {
            name: list(context.values)[place]
            for (name, context), place in zip(
                self.network.contexts.items(), compiled.context_values[combination], strict=True
            )
        }
        seen = {name: state_drawn(sign, failed, rng) for name, sign in self.network.signs.items()}
        return Machine(failed=failed, context_values=values, shown=shown_states(self.network, seen))

    def volunteered(self, machine: Machine, rng: np.random.Generator) -> list[Finding]:
        """What the caller says unasked, at most ``VOLUNTEERED_MAX`` things."""
        said = [
            Finding(entry.id, VOLUNTEERED)
            for entry in self._phone_observations
            if entry.volunteered is not None
            and rng.random() < entry.volunteered[self._state(machine, entry)]
        ]
        order = rng.permutation(len(said))[:VOLUNTEERED_MAX]
        return [said[place] for place in order]

    def answer(self, machine: Machine, entry: Observation, rng: np.random.Generator) -> Finding:
        """Answer drawn from the channel of an observation."""
        row = np.array(entry.likelihood[self._state(machine, entry)])
        place = int(np.searchsorted(np.cumsum(row), rng.random() * row.sum()))
        return Finding(entry.id, list(entry.answers)[place])

    def call(self, rng: np.random.Generator, machines_count: int = 1) -> Evidence:
        """Findings of one call.

        With more than one machine, complaints and answers come from each in turn, as if calls had
        been mixed up: evidence that contradicts itself.
        """
        machines = [self.machine(rng) for _ in range(machines_count)]
        said = {f.observation: f for machine in machines for f in self.volunteered(machine, rng)}
        findings = list(said.values())
        count = int(rng.integers(FINDINGS_MIN, FINDINGS_MAX + 1))
        while len(findings) < count:
            for entry in self._next_questions(findings, rng)[: count - len(findings)]:
                machine = machines[len(findings) % machines_count]
                findings.append(self.answer(machine, entry, rng))
        return Evidence(tuple(findings))

    def _next_questions(
        self, findings: list[Finding], rng: np.random.Generator
    ) -> list[Observation]:
        ranked = self._ranked(Evidence(tuple(findings)))
        others = rng.permutation(len(ranked) - BEST_FIRST)[:BY_CHANCE] + BEST_FIRST
        return [*ranked[:BEST_FIRST], *(ranked[place] for place in others)]

    def _ranked(self, evidence: Evidence) -> list[Observation]:
        """Open phone observations, largest gain per minute first; openings are ranked once."""
        if evidence in self._openings:
            return self._openings[evidence]
        assessment = self.engine.assess(evidence, check_missing_mass=False)
        ranked = [
            entry.observation
            for entry in assessment.open_observations
            if not entry.observation.channel.is_on_site
        ]
        if len(evidence.events) <= 1:
            self._openings[evidence] = ranked
        return ranked

    def _state(self, machine: Machine, entry: Observation) -> int:
        """Place of the state of what an observation looks at."""
        if entry.sign is not None:
            return self.network.signs[entry.sign].states.index(machine.shown[entry.sign])
        values = self.network.contexts[entry.target].values
        return list(values).index(machine.context_values[entry.target])

    @cached_property
    def _cumulative_prior(self) -> np.ndarray:
        return np.cumsum(self.engine.state.context_joint.ravel())

    @property
    def _prior_total(self) -> float:
        return float(self._cumulative_prior[-1])  # sets beyond the standing table are left out

    @cached_property
    def _phone_observations(self) -> list[Observation]:
        entries = self.network.observations.values()
        return [entry for entry in entries if not entry.channel.is_on_site]


def state_drawn(sign: Sign, failed: tuple[str, ...], rng: np.random.Generator) -> str:
    """State of a sign, masks left out: the worst of what leak and failed modes do."""
    if sign.combination is Combination.TABLE:
        effects = [next(row.then for row in sign.rows if set(row.when) <= set(failed))]
    else:
        effects = [sign.leak, *(sign.causes[mode] for mode in failed if mode in sign.causes)]
    drawn = [int(np.searchsorted(np.cumsum(effect), rng.random())) for effect in effects]
    return sign.states[min(max(drawn), len(sign.states) - 1)]
