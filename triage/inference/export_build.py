"""Variables and tables of an exported network: contexts, components, counts, signs, observations.

``export`` says why each of them is there. Tables are built from distributions by sums and products
only; nothing is subtracted. Axes: ``C`` context combinations, ``V`` states of a sign.
"""

from collections.abc import Callable, Iterable, Mapping, Sequence
from functools import partial

import numpy as np
from numpy.typing import NDArray

from triage.errors import NetworkFileError
from triage.inference.compiled import CompiledNetwork
from triage.inference.prior import Prior
from triage.network.discrete import DiscreteNetwork
from triage.network.values import Combination, Component, FaultNetwork, Sign

FloatArray = NDArray[np.float64]

TABLE_ROWS_MAX = 2**16  # of a decision-list sign, which has to be written out over all its parents
COUNTS_ALONE = 2  # ways in which nothing failed are counted as none, one, more


class Tables:
    """Variables under construction, in the order in which they were added."""

    def __init__(self) -> None:
        self._states: dict[str, tuple[str, ...]] = {}
        self._parents: dict[str, tuple[str, ...]] = {}
        self._tables: dict[str, FloatArray] = {}

    def add(
        self, name: str, states: Iterable[str], parents: Sequence[str], table: FloatArray
    ) -> str:
        """Add a variable; gives the name it got. ``table`` has one axis per parent, itself last."""
        variable = plain_word(name, self._states)
        words: list[str] = []
        for state in states:
            words.append(plain_word(state, words))
        self._states[variable] = tuple(words)
        self._parents[variable] = tuple(parents)
        self._tables[variable] = table
        return variable

    def add_certain(
        self,
        name: str,
        states: Sequence[str],
        parents: Sequence[str],
        state_of: Callable[..., int],
    ) -> str:
        """Add a variable whose state follows from those of its parents, given as positions."""
        shape = [self.size(parent) for parent in parents]
        table = np.zeros((*shape, len(states)))
        for cell in np.ndindex(*shape):
            table[(*cell, state_of(*cell))] = 1.0
        return self.add(name, states, parents, table)

    def size(self, variable: str) -> int:
        """Number of states."""
        return len(self._states[variable])

    def states(self, variable: str) -> tuple[str, ...]:
        """States, in the order of the fault network."""
        return self._states[variable]

    def network(self, name: str) -> DiscreteNetwork:
        """The finished network."""
        return DiscreteNetwork(
            name=plain_word(name, ()),
            states=self._states,
            parents=self._parents,
            tables=self._tables,
        )


def plain_word(name: str, taken: Iterable[str]) -> str:
    """The name in lower-case letters, digits and ``_``, with a number if it is taken already."""
    word = "".join(letter if letter.isalnum() else "_" for letter in name.lower())
    word = word.encode("ascii", "replace").decode().replace("?", "_")
    if not word[:1].isalpha():
        word = f"n{word}"
    found, number = word, 1
    while found in taken:
        number += 1
        found = f"{word}_{number}"
    return found


def add_contexts(
    tables: Tables, compiled: CompiledNetwork, prior: Prior
) -> tuple[tuple[str, ...], Mapping[str, str]]:
    """Add the joint context and each context variable.

    Returns
    -------
    root : tuple of str
        The joint context as parent of every component; empty if the network has no contexts.
    variables : mapping
        Variable of each context.
    """
    if not compiled.context_ids:
        return (), {}
    weight = prior.context / prior.normaliser
    for component in compiled.network.components.values():
        weight = weight * component_weights(component, compiled, prior).sum(axis=1)  # (C,)
    values = [list(context.values) for context in compiled.network.contexts.values()]
    labels = [
        "_".join(names[value] for names, value in zip(values, row, strict=True))
        for row in compiled.context_values
    ]
    joint = tables.add("context", labels, (), weight / weight.sum())
    variables = {
        name: tables.add_certain(
            f"context_{name}",
            values[place],
            (joint,),
            partial(_value_in, compiled, place),
        )
        for place, name in enumerate(compiled.context_ids)
    }
    return (joint,), variables


def _value_in(compiled: CompiledNetwork, place: int, combination: int) -> int:
    """Value of a context variable in a context combination."""
    return int(compiled.context_values[combination, place])


def component_weights(component: Component, compiled: CompiledNetwork, prior: Prior) -> FloatArray:
    """Weight 1 of ``ok`` and the odds of each mode, shape ``(C, 1 + modes)``."""
    modes = [compiled.mode_position[mode.id] for mode in component.modes]
    return np.column_stack([np.ones(len(prior.odds)), prior.odds[:, modes]])


def add_components(
    tables: Tables, compiled: CompiledNetwork, prior: Prior, root: tuple[str, ...]
) -> Mapping[str, str]:
    """Add every component; gives the variable of each."""
    variables = {}
    for component in compiled.network.components.values():
        weights = component_weights(component, compiled, prior)
        table = weights / weights.sum(axis=1, keepdims=True)
        states = ["ok", *(mode.id.rpartition(".")[2] for mode in component.modes)]
        name = f"component_{component.id}"
        variables[component.id] = tables.add(name, states, root, table if root else table[0])
    return variables


def add_allowed(
    tables: Tables,
    compiled: CompiledNetwork,
    components: Mapping[str, str],
    max_failed: int | None,
) -> tuple[str, str]:
    """Add the counts, and whether they are possible; gives the variable of that and its "yes"."""
    alone = [
        components[component.id]
        for component in compiled.network.components.values()
        if compiled.is_exclusive[compiled.mode_position[component.modes[0].id]]
    ]
    free = [variable for variable in components.values() if variable not in alone]
    top = 1 if max_failed is None else max_failed + 1
    counted = {
        name: _add_count(tables, name, members, limit)
        for name, members, limit in [("failed", free, top), ("alone", alone, COUNTS_ALONE)]
        if members
    }

    def is_allowed(*counts: int) -> int:
        found = dict(zip(counted, counts, strict=True))
        failed, by_itself = found.get("failed", 0), found.get("alone", 0)
        some_failed = 1 <= failed <= (max_failed or top)
        return int((some_failed and by_itself == 0) or (failed == 0 and by_itself == 1))

    variable = tables.add_certain("allowed", ("no", "yes"), tuple(counted.values()), is_allowed)
    return variable, tables.states(variable)[1]


def _add_count(tables: Tables, name: str, components: Sequence[str], limit: int) -> str:
    """Add a chain of counters that stops at ``limit``; gives the last one."""
    top = min(limit, len(components))
    labels = [f"n{number}" for number in range(top + 1)]
    count = ""
    for number, component in enumerate(components, start=1):
        parents = (count, component) if count else (component,)
        count = tables.add_certain(
            f"count_{name}_{number}",
            labels,
            parents,
            lambda *states: min(top, sum(states[:-1]) + (states[-1] > 0)),
        )
    return count


def add_pairs(
    tables: Tables, prior: Prior, mode_states: Sequence[tuple[str, str]]
) -> Mapping[str, str]:
    """Add a variable for each pair of modes; gives the state to set on it."""
    evidence = {}
    for first, second, factor in prior.pairs:
        (one, one_state), (other, other_state) = mode_states[first], mode_states[second]
        table = np.full((tables.size(one), tables.size(other)), 1.0 / max(factor, 1.0))
        both = (tables.states(one).index(one_state), tables.states(other).index(other_state))
        table[both] = factor / max(factor, 1.0)
        name = f"pair_{one.removeprefix('component_')}_{other.removeprefix('component_')}"
        full = np.stack([1.0 - table, table], axis=-1)
        variable = tables.add(name, ("off", "on"), (one, other), full)
        evidence[variable] = tables.states(variable)[1]
    return evidence


def add_signs(
    tables: Tables,
    network: FaultNetwork,
    components: Sequence[str],
    mode_states: Mapping[str, tuple[str, str]],
) -> Mapping[str, str]:
    """Add every sign; gives the variable of what it shows, masks applied."""
    seen = {}
    for sign in network.signs.values():
        name = f"sign_{sign.id}_seen" if sign.masks else f"sign_{sign.id}"
        add = _add_table_sign if sign.combination is Combination.TABLE else _add_noisy_max
        seen[sign.id] = add(tables, name, sign, components, mode_states)
    shown: dict[str, str] = {}
    waiting = list(network.signs.values())
    while waiting:  # each sign after its maskers
        sign = next(s for s in waiting if all(mask.masker in shown for mask in s.masks))
        waiting.remove(sign)
        shown[sign.id] = _add_shown(tables, network, sign, seen[sign.id], shown)
    return {sign: shown[sign] for sign in network.signs}


def _add_noisy_max(
    tables: Tables,
    name: str,
    sign: Sign,
    components: Sequence[str],
    mode_states: Mapping[str, tuple[str, str]],
) -> str:
    """Chain of maxima, one component each, in the order of the components; gives the last one."""
    causes: dict[str, dict[int, FloatArray]] = {component: {} for component in components}
    for mode, link in sign.causes.items():
        component, state = mode_states[mode]
        causes[component][tables.states(component).index(state)] = np.array(link)
    parents = [component for component in components if causes[component]]
    if not parents:
        return tables.add(name, sign.states, (), np.array(sign.leak))
    before: tuple[str, ...] = ()
    for number, component in enumerate(parents, start=1):
        table = _maximum_table(causes[component], tables.size(component), len(sign.states))
        if not before:
            table = np.einsum("j,jcv->cv", np.array(sign.leak), table)
        label = name if number == len(parents) else f"{name}_up_to_{number}"
        before = (tables.add(label, sign.states, (*before, component), table),)
    return before[0]


def _maximum_table(links: Mapping[int, FloatArray], size: int, count: int) -> FloatArray:
    """P(max of the state so far and what the component causes), shape ``(V, component, V)``."""
    table = np.empty((count, size, count))
    table[:] = np.eye(count)[:, None, :]
    for state, link in links.items():
        at_most = np.cumsum(link)
        for before in range(count):
            table[before, state] = np.where(np.arange(count) > before, link, 0.0)
            table[before, state, before] = at_most[before]
    return table


def _add_table_sign(
    tables: Tables,
    name: str,
    sign: Sign,
    components: Sequence[str],
    mode_states: Mapping[str, tuple[str, str]],
) -> str:
    """Decision list written out over all its components."""
    used = {mode_states[mode][0] for mode in sign.parents}
    parents = [component for component in components if component in used]
    shape = [tables.size(parent) for parent in parents]
    rows = int(np.prod(shape, dtype=np.int64))
    if rows > TABLE_ROWS_MAX:
        raise NetworkFileError(
            "export",
            [
                f'sign "{sign.id}": its decision list over {len(parents)} components is a table of '
                f"{rows} rows; expected at most {TABLE_ROWS_MAX}, use noisy-MAX or split the sign"
            ],
        )
    table = np.empty((*shape, len(sign.states)))
    for cell in np.ndindex(*shape):
        failed = {
            (parent, tables.states(parent)[state])
            for parent, state in zip(parents, cell, strict=True)
        }
        row = next(r for r in sign.rows if {mode_states[mode] for mode in r.when} <= failed)
        table[cell] = row.then
    return tables.add(name, sign.states, parents, table)


def _add_shown(
    tables: Tables, network: FaultNetwork, sign: Sign, seen: str, shown: Mapping[str, str]
) -> str:
    """What the sign shows: forced by the first mask that acts, else what would be seen."""
    if not sign.masks:
        return seen
    maskers = list(dict.fromkeys(mask.masker for mask in sign.masks))

    def shows(own: int, *masker_states: int) -> int:
        states = {
            masker: network.signs[masker].states[state]
            for masker, state in zip(maskers, masker_states, strict=True)
        }
        acting = [mask.shows for mask in sign.masks if states[mask.masker] in mask.states]
        return sign.states.index(acting[0]) if acting else own

    parents = [seen, *(shown[masker] for masker in maskers)]
    return tables.add_certain(f"sign_{sign.id}", sign.states, parents, shows)


def add_observations(
    tables: Tables,
    network: FaultNetwork,
    contexts: Mapping[str, str],
    signs: Mapping[str, str],
) -> Mapping[str, str]:
    """Add every observation below what it looks at; gives the variable of each."""
    variables = {}
    for entry in network.observations.values():
        below = contexts[entry.target] if entry.sign is None else signs[entry.sign]
        table = np.array(entry.likelihood)  # (V, answers)
        variables[entry.id] = tables.add(f"look_{entry.id}", entry.answers, (below,), table)
    return variables
