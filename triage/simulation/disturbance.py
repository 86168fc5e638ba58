"""Copies of a network that are wrong: what a shop meets when the numbers in its file are not true.

Shares are drawn anew as if they had been counted on some hundred jobs (Dirichlet), strengths and
leaks are moved on the scale of log odds, and callers answer carelessly now and then: as if the sign
were in a state drawn at random. How much is invented, to see what wrong numbers do.
"""

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np

from triage.network.values import (
    Channel,
    Component,
    FailureMode,
    FaultNetwork,
    Observation,
    Pair,
    Sign,
    TableRow,
)

Distribution = tuple[float, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class Disturbance:
    """How wrong a copy is; the defaults are invented.

    ``share_jobs`` jobs on which the shares seem to have been counted; ``link_sd`` standard
    deviation of strengths and leaks, in nats of log odds; ``careless_share`` share of the caller's
    answers that are given without regard to the machine.
    """

    share_jobs: float = 100.0
    link_sd: float = 0.8
    careless_share: float = 0.15


def disturbed(
    network: FaultNetwork, disturbance: Disturbance, rng: np.random.Generator
) -> FaultNetwork:
    """Copy of a network with other shares, strengths and leaks, and with worse callers.

    Names, structure, tests, repairs and prices stay. What is impossible or certain stays so.
    """
    parts = network.components.values()
    modes = [mode for component in parts for mode in component.modes]
    drawn = rng.dirichlet([disturbance.share_jobs * mode.share for mode in modes])
    shares = {mode.id: float(share) for mode, share in zip(modes, drawn, strict=True)}
    return replace(
        network,
        components={name: _component(part, shares) for name, part in network.components.items()},
        pairs=tuple(_pair(pair, shares, network) for pair in network.pairs),
        signs={name: _sign(sign, disturbance.link_sd, rng) for name, sign in network.signs.items()},
        observations={
            name: _careless(entry, disturbance.careless_share)
            for name, entry in network.observations.items()
        },
    )


def _component(component: Component, shares: Mapping[str, float]) -> Component:
    modes = tuple(replace(mode, share=shares[mode.id]) for mode in component.modes)
    return replace(component, modes=modes)


def _pair(pair: Pair, shares: Mapping[str, float], network: FaultNetwork) -> Pair:
    """The pair at a probability that shrinks or grows as the rarer mode of the two does."""
    before: dict[str, FailureMode] = {
        mode.id: mode for part in network.components.values() for mode in part.modes
    }
    ratio = min(shares[mode] / before[mode].share for mode in pair.modes)
    return replace(pair, probability=pair.probability * min(1.0, ratio))


def _sign(sign: Sign, sd: float, rng: np.random.Generator) -> Sign:
    return replace(
        sign,
        leak=_moved(sign.leak, sd, rng),
        causes={mode: _moved(link, sd, rng) for mode, link in sign.causes.items()},
        rows=tuple(TableRow(when=row.when, then=_moved(row.then, sd, rng)) for row in sign.rows),
    )


def _moved(distribution: Distribution, sd: float, rng: np.random.Generator) -> Distribution:
    """Distribution with the log odds of every state but the first moved by a normal error."""
    factors = np.exp(np.append(0.0, rng.normal(0.0, sd, len(distribution) - 1)))
    weights = np.asarray(distribution) * factors
    return tuple((weights / weights.sum()).tolist())


def _careless(observation: Observation, share: float) -> Observation:
    """The observation as a caller makes it who does not look in some cases."""
    if observation.channel not in (Channel.CALLER, Channel.GUIDED_CHECK):
        return observation
    table = np.asarray(observation.likelihood)  # (V, A)
    mixed = (1.0 - share) * table + share * table.mean(axis=0)
    said = observation.volunteered
    if said is not None:
        said = tuple(((1.0 - share) * np.asarray(said) + share * np.mean(said)).tolist())
    return replace(
        observation, likelihood=tuple(tuple(row) for row in mixed.tolist()), volunteered=said
    )
