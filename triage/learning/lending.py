"""What other appliance kinds lend besides strengths: careless answers, and cases by circumstance.

It is the same people who call, whatever the machine; and a part that fails more often on old
machines does so in several kinds. Each kind's counts go into the others' belief, damped by how far
two kinds are taken to differ: with ``n`` counts and precision ``kappa``

    n kappa / (kappa + n)

A multiplier has a gamma prior: so many cases, and so many as are expected without it. What a kind
counted beyond its own belief is lent.
"""

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from triage.learning.belief import PriorBelief
from triage.learning.estimation import Learned
from triage.learning.model import Model
from triage.learning.parameters import Place
from triage.learning.uncertain import counted_cases, known_cases, known_contexts
from triage.network.values import Channel

FloatArray = NDArray[np.float64]

CARELESS_KAPPA = 1000.0  # answers: callers about two kinds are taken to differ by a percent or so


def with_lent(belief: PriorBelief, others: Sequence[Learned]) -> PriorBelief:
    """Belief of a kind with what other kinds tell of callers and circumstances."""
    return _with_multipliers(replace(belief, careless=_careless(belief, others)), others)


def _careless(belief: PriorBelief, others: Sequence[Learned]) -> Mapping[Channel, FloatArray]:
    """Believed careless answers and others, with those of callers about other kinds."""
    pseudo = dict(belief.careless)
    for learned in others:
        for found in learned.careless:
            if found.channel in pseudo:
                counted = found.worth * np.array([found.after, 1.0 - found.after])
                counted = np.maximum(counted - learned.belief.careless[found.channel], 0.0)
                damped = CARELESS_KAPPA / (CARELESS_KAPPA + counted.sum())
                pseudo[found.channel] = pseudo[found.channel] + damped * counted
    return pseudo


def _with_multipliers(belief: PriorBelief, others: Sequence[Learned]) -> PriorBelief:
    """Multipliers believed, with the cases of the same cause and circumstance in other kinds."""
    counts = [_beyond_belief(learned) for learned in others]
    means, cases, lent = dict(belief.mean.multipliers), dict(belief.multiplier_cases), {}
    for key, own in belief.multiplier_cases.items():
        hits, expected = 0.0, 0.0
        for found in counts:
            if key in found:
                known, exposure = found[key]
                damped = own / (own + known)  # two kinds differ as far as ours may be wrong
                hits, expected = hits + damped * known, expected + damped * exposure
        if hits > 0.0:
            means[key] *= (own + hits) / (own + expected)
            cases[key], lent[key] = own + hits, hits
    mean = replace(belief.mean, multipliers=means)
    return replace(belief, mean=mean, multiplier_cases=cases, lent_cases=lent)


def _beyond_belief(learned: Learned) -> Mapping[Place, tuple[float, float]]:
    """Cases of each multiplier that are as good as seen, and those expected without it."""
    belief, now = learned.belief, learned.parameters.multipliers
    model, counted = Model(learned.layout, learned.parameters), {}
    known = known_cases(learned, model, known_contexts(learned, model))
    for key, cases in counted_cases(learned).items():
        if cases > 0.0:
            own, ratio = belief.multiplier_cases[key], now[key] / belief.mean.multipliers[key]
            exposure = max(0.0, (own + cases) / ratio - own)
            counted[key] = known[key], exposure * known[key] / cases
    return counted
