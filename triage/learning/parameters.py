"""The numbers of a fault network that learning moves, as arrays, and the way back.

Axes: ``F`` failure modes, ``V`` states, ``A`` answers.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from triage.learning.layout import RATIO_BINS, Layout
from triage.network.values import (
    Channel,
    Component,
    FaultNetwork,
    NetworkIndex,
    Observation,
    Pair,
    Sign,
    TableRow,
)

FloatArray = NDArray[np.float64]
Place = tuple[str, str, str]  # failure mode, context, value


@dataclass(frozen=True, slots=True, eq=False)
class Parameters:
    """Numbers of a network.

    ``shares`` (F,); ``multipliers`` by mode, context and value, those above 0 only; ``contexts``
    one distribution each; ``links`` per sign: (P+1, V), the leak first, or the rows of its table;
    ``channels`` per observation (V, A). ``careless`` by channel is the share of careless answers
    that its tables have mixed in beyond what the network states (``careless``).
    """

    shares: FloatArray
    multipliers: Mapping[Place, float]
    contexts: tuple[FloatArray, ...]
    links: tuple[FloatArray, ...]
    channels: tuple[FloatArray, ...]
    careless: Mapping[Channel, float] = field(default_factory=lambda: MappingProxyType({}))


def parameters_of(network: FaultNetwork) -> Parameters:
    """Numbers of a network as it stands."""
    modes = NetworkIndex(network).modes.values()
    return Parameters(
        shares=np.array([mode.share for mode in modes]),
        multipliers={
            (mode.id, context, value): factor
            for mode in modes
            for context, factors in mode.multipliers.items()
            for value, factor in factors.items()
            if factor > 0.0
        },
        contexts=tuple(np.array(entry.probabilities) for entry in network.contexts.values()),
        links=tuple(_links(sign) for sign in network.signs.values()),
        channels=tuple(np.array(entry.likelihood) for entry in network.observations.values()),
    )


def network_with(network: FaultNetwork, parameters: Parameters) -> FaultNetwork:
    """The network with these numbers; names, structure and provenance stay.

    A pair keeps its probability relative to the rarer of its two modes, so no share can make it
    impossible.
    """
    modes = NetworkIndex(network).modes
    shares = dict(zip(modes, normalised(parameters.shares).tolist(), strict=True))
    return replace(
        network,
        contexts={
            name: replace(entry, probabilities=tuple(normalised(values).tolist()))
            for (name, entry), values in zip(
                network.contexts.items(), parameters.contexts, strict=True
            )
        },
        components={
            name: _component(entry, shares, parameters.multipliers)
            for name, entry in network.components.items()
        },
        pairs=tuple(_pair(pair, shares, network) for pair in network.pairs),
        signs={
            name: _sign(sign, links)
            for (name, sign), links in zip(network.signs.items(), parameters.links, strict=True)
        },
        observations={
            name: replace(entry, likelihood=tuple(map(tuple, normalised(rows).tolist())))
            for (name, entry), rows in zip(
                network.observations.items(), parameters.channels, strict=True
            )
        },
    )


def normalised(rows: FloatArray) -> FloatArray:
    """Rows that sum to 1 up to rounding, made to do so again."""
    return np.asarray(rows / rows.sum(axis=-1, keepdims=True))


def answer_table(observation: Observation, channel: FloatArray) -> FloatArray:
    """P(code | state), shape ``(codes, V)``, of a channel ``(V, A)``; 1 where it is no evidence."""
    states = len(channel)
    said = np.ones(states) if observation.volunteered is None else observation.volunteered
    table = np.vstack([np.ones(states), channel.T, said])
    if observation.reading is None:
        return table
    inside = np.array(list(observation.reading.inside.values()))  # (V,)
    ratio = np.exp(RATIO_BINS)[:, None]
    bins = inside * ratio + 1.0 - inside  # (bins, V), densities up to a factor
    return np.vstack([table, bins / bins.max(axis=1, keepdims=True)])


def answer_tables(layout: Layout, parameters: Parameters) -> tuple[FloatArray, ...]:
    """``answer_table`` of every observation."""
    observations = layout.compiled.observations
    return tuple(
        answer_table(entry, channel)
        for entry, channel in zip(observations, parameters.channels, strict=True)
    )


def _links(sign: Sign) -> FloatArray:
    if sign.rows:
        return np.array([row.then for row in sign.rows])
    return np.array([sign.leak, *sign.causes.values()])


def _sign(sign: Sign, links: FloatArray) -> Sign:
    rows = [tuple(row) for row in normalised(links).tolist()]
    if sign.rows:
        table = zip(sign.rows, rows, strict=True)
        return replace(sign, rows=tuple(TableRow(when=row.when, then=then) for row, then in table))
    return replace(sign, leak=rows[0], causes=dict(zip(sign.causes, rows[1:], strict=True)))


def _component(
    component: Component, shares: Mapping[str, float], multipliers: Mapping[Place, float]
) -> Component:
    modes = tuple(
        replace(
            mode,
            share=shares[mode.id],
            multipliers={
                context: {
                    value: multipliers.get((mode.id, context, value), factor)
                    for value, factor in factors.items()
                }
                for context, factors in mode.multipliers.items()
            },
        )
        for mode in component.modes
    )
    return replace(component, modes=modes)


def _pair(pair: Pair, shares: Mapping[str, float], network: FaultNetwork) -> Pair:
    before = NetworkIndex(network).modes
    ratio = min(shares[mode] / before[mode].share for mode in pair.modes)
    return replace(pair, probability=pair.probability * ratio)
