"""Machines drawn from a fault network: what has failed, what they show, how they answer.

A machine is drawn from the prior over sets of failed modes and circumstances. Each sign takes the
worst of what leak and failed modes do, then the masks act; each answer is drawn from its channel.
A repair takes its modes away and leaves what the others do as it was. Signs and answers come from
the values of the network, not from the arrays of the engine, so that the one tests the other.

Every draw has a name (``triage.simulation.draws``): two copies of a machine that are asked in
another order give the same answers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Finding
from triage.network.values import VOLUNTEERED, Combination, FaultNetwork, Observation, Repair, Sign
from triage.simulation.draws import Draws


@dataclass(frozen=True, eq=False)
class Machine:
    """A machine: ids of its failed modes, and the value of each context.

    A way in which nothing failed stands among ``failed`` like a failed mode; with none left the
    machine does what its owner wants.
    """

    network: FaultNetwork
    draws: Draws
    failed: tuple[str, ...]
    context_values: Mapping[str, str]

    @property
    def works(self) -> bool:
        """Whether there is nothing left to put right."""
        return not self.failed

    @cached_property
    def shown(self) -> Mapping[str, str]:
        """State each sign shows, masks applied."""
        signs = self.network.signs
        shown: dict[str, str] = {}
        while len(shown) < len(signs):  # a sign comes after what masks it; masks have no cycle
            for name, sign in signs.items():
                if name not in shown and all(mask.masker in shown for mask in sign.masks):
                    acting = [m.shows for m in sign.masks if shown[m.masker] in m.states]
                    shown[name] = acting[0] if acting else self._state(sign)
        return shown

    def answer(self, observation: Observation, times_asked: int = 0) -> Finding:
        """Answer to an observation, asked so many times before."""
        row = observation.likelihood[self._state_place(observation)]
        place = self.draws.place(row, "answer", observation.id, times_asked)
        return Finding(observation.id, list(observation.answers)[place])

    def volunteers(self, observation: Observation) -> bool:
        """Whether the caller says so unasked."""
        if observation.volunteered is None:
            return False
        chance = observation.volunteered[self._state_place(observation)]
        return self.draws.uniform(VOLUNTEERED, observation.id) < chance

    def after(self, repair: Repair, times_done: int = 0) -> "Machine":
        """The machine after a repair that was done so many times before."""
        if self.draws.uniform("repair", repair.id, times_done) >= repair.success:
            return self
        left = tuple(mode for mode in self.failed if mode not in repair.cures)
        return self if left == self.failed else replace(self, failed=left)

    def _state(self, sign: Sign) -> str:
        """State of a sign, masks left out: the worst of what leak and failed modes do."""
        if sign.combination is Combination.TABLE:
            row = next(k for k, row in enumerate(sign.rows) if set(row.when) <= set(self.failed))
            return sign.states[self.draws.place(sign.rows[row].then, "sign", sign.id, row)]
        effects = {"": sign.leak}
        effects |= {mode: sign.causes[mode] for mode in self.failed if mode in sign.causes}
        drawn = (self.draws.place(effect, "sign", sign.id, k) for k, effect in effects.items())
        return sign.states[max(drawn)]

    def _state_place(self, observation: Observation) -> int:
        """Place of the state of what an observation looks at."""
        if observation.sign is not None:
            states = self.network.signs[observation.sign].states
            return states.index(self.shown[observation.sign])
        values = self.network.contexts[observation.target].values
        return list(values).index(self.context_values[observation.target])


class MachineSource:
    """Draws machines from the prior of an engine.

    Sets of failed modes beyond the standing table of the engine are left out: their probability is
    part of the missing mass.
    """

    def __init__(self, engine: Engine) -> None:
        self.engine = engine
        self._cumulative = np.cumsum(engine.state.context_joint.ravel())

    def machine(self, draws: Draws) -> Machine:
        """Machine of a run of draws."""
        compiled, table = self.engine.compiled, self.engine.state.table
        level = draws.uniform("machine") * self._cumulative[-1]
        cell = int(np.searchsorted(self._cumulative, level, side="right"))
        combination, hypothesis = divmod(cell, len(table))
        ids = compiled.mode_ids
        contexts = self.engine.network.contexts.items()
        return Machine(
            network=self.engine.network,
            draws=draws,
            failed=tuple(ids[m] for m in table.members[hypothesis] if m < len(ids)),
            context_values={
                name: list(context.values)[place]
                for (name, context), place in zip(
                    contexts, compiled.context_values[combination], strict=True
                )
            },
        )
