"""Closed jobs drawn from a network, many at once, as columns.

The same draw as ``triage.simulation.machines``, by arrays: context and failed modes, the state of
each sign, masks, then an answer to some of the observations, chosen at random.
"""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from triage.learning.columns import JobColumns
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.network.values import FaultNetwork

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

CHUNK = 50_000


def drawn_jobs(
    network: FaultNetwork,
    layout: Layout,
    jobs: int,
    answers_each: float,
    rng: np.random.Generator,
) -> JobColumns:
    """Jobs of machines drawn from ``network``, labelled with what had failed.

    Parameters
    ----------
    network : FaultNetwork
        The truth; structure as in ``layout``.
    layout : Layout
        Of whoever learns.
    jobs : int
    answers_each : float
        Mean number of observations made in a job.
    rng : Generator
    """
    model = Model.of(network, layout)
    blocks = [
        _chunk(network, model, min(CHUNK, jobs - start), answers_each, rng)
        for start in range(0, jobs, CHUNK)
    ]
    answers = np.concatenate([block for block, _ in blocks], axis=1)
    return JobColumns.of(layout, answers, np.concatenate([label for _, label in blocks]))


def mislabelled(
    columns: JobColumns, share: float, reliability: float, rng: np.random.Generator
) -> JobColumns:
    """The same jobs with a share of wrong labels, drawn as often as causes are met.

    ``reliability`` is what the learner believes of every label.
    """
    is_wrong = rng.random(len(columns)) < share
    label = columns.label.copy()
    label[is_wrong] = rng.permutation(columns.label)[is_wrong]
    trust = np.full(len(columns), reliability)
    return JobColumns(
        answers=columns.answers,
        label=label,
        reliability=trust,
        weight=columns.weight,
        belief=columns.belief,
        beliefs=columns.beliefs,
    )


def drawn(distribution: FloatArray, rng: np.random.Generator) -> IntArray:
    """Place drawn from each row of ``distribution`` (N, V), shape ``(N,)``."""
    levels = np.cumsum(distribution, axis=1)
    level = rng.random(len(distribution)) * levels[:, -1]
    return np.asarray((level[:, None] >= levels).sum(axis=1))


def _chunk(
    network: FaultNetwork, model: Model, jobs: int, answers_each: float, rng: np.random.Generator
) -> tuple[NDArray[np.int8], IntArray]:
    layout = model.layout
    levels = np.cumsum(model.joint.ravel())
    cell = np.searchsorted(levels, rng.random(jobs) * levels[-1], side="right")
    combination, label = np.divmod(cell, len(layout.members))
    shown = _shown(model, label, rng)
    observations = list(network.observations.values())
    answers = np.zeros((len(observations), jobs), dtype=np.int8)
    for place, entry in enumerate(observations):
        made = np.flatnonzero(rng.random(jobs) < answers_each / len(observations))
        if entry.context is not None:
            column = layout.compiled.context_ids.index(entry.context)
            state = layout.compiled.context_values[combination[made], column]
        else:
            state = shown[layout.compiled.sign_position[entry.target]][made]
        answers[place, made] = 1 + drawn(np.asarray(entry.likelihood)[state], rng)
    return answers, label


def _shown(model: Model, label: IntArray, rng: np.random.Generator) -> Sequence[IntArray]:
    """State each sign shows, masks applied."""
    layout, masks = model.layout, model.layout.compiled.masks
    shown: dict[int, IntArray] = {}
    while len(shown) < len(layout.signs):
        for sign in layout.signs:
            here = sign.position
            if here in shown or any(mask.masker not in shown for mask in masks[here]):
                continue
            state = drawn(model.distributions[here][sign.config[label]], rng)
            for mask in reversed(masks[here]):  # the first that acts wins
                state = np.where(mask.is_masking[shown[mask.masker]], mask.shows, state)
            shown[here] = state
    return [shown[place] for place in range(len(layout.signs))]
