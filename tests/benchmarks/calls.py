"""Calls drawn from the model itself: a machine that has failed, and what is found on it.

The machine is drawn from the prior: context, failed modes, state of every sign, masks applied. Then
the engine leads the call: the open observation with the largest gain per minute is made next, and
its answer is drawn from the machine. One seed gives one call.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.oracle import shown_states, state_distribution
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.values import FaultNetwork, Observation


@dataclass(frozen=True, slots=True, kw_only=True)
class Machine:
    """A drawn machine: value of each context, failed modes, and what each sign shows."""

    contexts: dict[str, int]
    failed: tuple[str, ...]
    shown: dict[str, str]

    def state(self, network: FaultNetwork, observation: Observation) -> int:
        """State of what is looked at, by number."""
        if observation.sign is None:
            return self.contexts[observation.target]
        return network.signs[observation.sign].states.index(self.shown[observation.sign])


def draw_machine(engine: Engine, rng: np.random.Generator) -> Machine:
    """Machine drawn from the prior of the standing table."""
    table = engine.state.table
    joint = table.context_joint  # (C, H)
    cell = rng.choice(joint.size, p=joint.ravel() / joint.sum())
    combination, hypothesis = divmod(int(cell), joint.shape[1])
    ids = engine.compiled.mode_ids
    failed = tuple(ids[mode] for mode in table.members[hypothesis] if mode < len(ids))
    network = engine.network
    seen = {}
    for name, sign in network.signs.items():
        distribution = state_distribution(network, name, set(failed))
        seen[name] = sign.states[rng.choice(len(sign.states), p=distribution)]
    values = engine.compiled.context_values[combination]
    return Machine(
        contexts=dict(zip(network.contexts, values.tolist(), strict=True)),
        failed=failed,
        shown=shown_states(network, seen),
    )


def lead_call(
    engine: Engine, machine: Machine, findings: int, rng: np.random.Generator
) -> Evidence:
    """Evidence of a call of that many findings."""
    evidence = Evidence()
    for _ in range(findings):
        assessment = engine.assess(evidence, check_missing_mass=False)
        observation = assessment.open_observations[0].observation
        row = np.array(observation.likelihood[machine.state(engine.network, observation)])
        answer = rng.choice(list(observation.answers), p=row / row.sum())
        evidence = evidence.adding(Finding(observation.id, str(answer)))
    return evidence


def draw_call(
    engine: Engine, seed: int, counts: Sequence[int]
) -> tuple[Machine, dict[int, Evidence]]:
    """A machine and the call about it, cut off after each of some numbers of findings."""
    rng = np.random.default_rng(seed)
    machine = draw_machine(engine, rng)
    whole = lead_call(engine, machine, max(counts), rng)
    return machine, {count: Evidence(whole.events[:count]) for count in counts}
