"""What the numbers of a network are believed to be before any job, and what that is worth.

Every distribution of the starting network is worth so many jobs (its equivalent sample size): with
mean ``m``, worth ``s`` and expected counts ``n`` its most probable value is

    (s m + n) / (s + sum n)

and the penalty that belongs to it ``s sum m log(value)``, a Dirichlet prior by its mode.

Strengths, leaks and answers are guesses that are about equally sure **in log odds**: who says 0.95
may mean 0.91 or 0.97, who says 0.5 may mean 0.35 or 0.65. The information that ``s`` jobs bring
about the log odds of ``p`` is ``s p (1 - p)``; so a row whose most probable value is ``p`` is worth

    stated / (4 p (1 - p))

jobs: what was stated where it says one half, and more the nearer it is to certain.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from types import MappingProxyType

import numpy as np
from numpy.typing import NDArray

from triage.learning.careless import CHANNELS, Mixture, log_prior_of_share, mixed, unmixed
from triage.learning.layout import Layout
from triage.learning.parameters import Parameters, Place
from triage.learning.values import LearningSettings
from triage.network.values import Channel, Observation, Provenance

FloatArray = NDArray[np.float64]

HELD_JOBS = 1e15  # what a table is worth that jobs must not move
SHORT_OF_CERTAIN = 0.01  # a row counts as at least so far from certain: worth 25 times as much


@dataclass(frozen=True, slots=True, eq=False)
class PriorBelief:
    """What the numbers are believed to be before any job, and what that is worth in jobs.

    ``mean`` are the numbers of the starting network (or pooled ones); ``links_jobs`` per sign
    (rows,), ``channels_jobs`` per observation (V,), ``is_learnable`` per observation; the rest are
    single numbers. ``lent`` per sign, in the shape of its links, is the part of ``links_jobs``
    times ``mean`` that other appliance kinds lend (``pooling``); 0 where a network is learned
    alone. ``careless_share`` is believed of answers given without looking; ``careless`` by channel
    (2,) are numbers of such answers and of others, lent ones among them, ``careless_places`` the
    observations concerned. ``multiplier_cases`` are cases of each multiplier, of which other kinds
    lend ``lent_cases``.
    """

    mean: Parameters
    links_jobs: tuple[FloatArray, ...]
    lent: tuple[FloatArray, ...]
    channels_jobs: tuple[FloatArray, ...]
    is_learnable: NDArray[np.bool_]
    careless_share: float
    careless: Mapping[Channel, FloatArray]
    careless_places: Mapping[Channel, tuple[int, ...]]
    share_jobs: float
    context_jobs: float
    multiplier_cases: Mapping[Place, float]
    lent_cases: Mapping[Place, float] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def asked(self) -> frozenset[int]:
        """Positions of the questions that somebody may have answered without looking."""
        return frozenset(place for places in self.careless_places.values() for place in places)

    @property
    def start(self) -> Parameters:
        """Numbers that learning starts from: those believed, careless answers mixed in."""
        channels = list(self.mean.channels)
        careless = {}
        for channel, pseudo in self.careless.items():
            careless[channel] = float(pseudo[0] / pseudo.sum())
            for place in self.careless_places[channel]:
                stated = self.mean.channels[place]
                channels[place] = mixed(stated, stated, careless[channel])
        return replace(self.mean, channels=tuple(channels), careless=careless)

    def mixture(self, channel: Channel, now: Parameters) -> Mixture:
        """Questions of a channel that learning asks who looked at."""
        places, share = self.careless_places[channel], now.careless[channel]
        stated = [self.mean.channels[place] for place in places]
        return Mixture(
            stated=stated,
            looked=[
                unmixed(now.channels[place], rows, share)
                for place, rows in zip(places, stated, strict=True)
            ],
            jobs=[
                self.channels_jobs[place]
                if self.is_learnable[place]
                else np.full(len(rows), HELD_JOBS)
                for place, rows in zip(places, stated, strict=True)
            ],
            pseudo=self.careless[channel],
            share=share,
        )


def prior_belief(
    layout: Layout, mean: Parameters, settings: LearningSettings, seen_twice: FloatArray
) -> PriorBelief:
    """Belief in the numbers of a network; its own statements of weight come first.

    Parameters
    ----------
    layout : Layout
    mean : Parameters
        Numbers of the starting network.
    settings : LearningSettings
    seen_twice : ndarray
        ``(O,)`` jobs in which the sign of the observation was seen through another one too.
    """
    observations = layout.compiled.observations
    is_learnable = np.array(
        [
            entry.sign is not None
            and entry.reading is None
            and seen_twice[place] >= settings.channel_jobs_min
            for place, entry in enumerate(observations)
        ],
        dtype=bool,
    )
    places = _careless_places(observations) if settings.careless_share > 0.0 else {}
    share = settings.careless_share
    return PriorBelief(
        mean=mean,
        links_jobs=tuple(
            row_jobs(rows, _stated(sign.provenance, settings.link_jobs, settings))
            for sign, rows in zip(layout.network.signs.values(), mean.links, strict=True)
        ),
        lent=tuple(np.zeros_like(rows) for rows in mean.links),
        channels_jobs=tuple(
            row_jobs(rows, _stated(entry.provenance, settings.channel_jobs, settings))
            for entry, rows in zip(observations, mean.channels, strict=True)
        ),
        is_learnable=is_learnable,
        careless_share=share,
        careless={
            channel: settings.careless_answers * np.array([share, 1.0 - share])
            for channel in places
        },
        careless_places=places,
        share_jobs=settings.share_jobs,
        context_jobs=settings.context_jobs,
        multiplier_cases=dict.fromkeys(mean.multipliers, settings.multiplier_cases),
    )


def _careless_places(observations: Sequence[Observation]) -> dict[Channel, tuple[int, ...]]:
    """Positions of the questions about signs, by channel; no channel without one."""
    places: dict[Channel, tuple[int, ...]] = {}
    for place, entry in enumerate(observations):
        if entry.channel in CHANNELS and entry.sign is not None and entry.reading is None:
            places[entry.channel] = (*places.get(entry.channel, ()), place)
    return places


def row_jobs(rows: FloatArray, stated: float) -> FloatArray:
    """Jobs that rows (R, V) are worth, ``(R,)``: ``stated / (4 p (1 - p))``."""
    rest = np.clip(1.0 - rows.max(axis=1), SHORT_OF_CERTAIN, 0.5)
    return np.asarray(stated / (4.0 * rest * (1.0 - rest)))


def _stated(provenance: Provenance, otherwise: float, settings: LearningSettings) -> float:
    """What a row of one half is worth: part of what the network states, or the setting."""
    stated = provenance.equivalent_sample_size
    return otherwise if stated is None else stated * settings.stated_weight


def posterior_mean(mean: FloatArray, jobs: FloatArray | float, counts: FloatArray) -> FloatArray:
    """``(s m + n) / (s + sum n)`` along the last axis: Dirichlet prior worth ``jobs``."""
    return np.asarray((jobs * mean + counts) / (jobs + counts.sum(axis=-1, keepdims=True)))


def log_prior(belief: PriorBelief, parameters: Parameters) -> float:
    """Log density of the numbers under the belief, up to a constant."""
    mean, result = belief.mean, log_prior_of_causes(belief, parameters)
    for jobs, before, now in zip(belief.links_jobs, mean.links, parameters.links, strict=True):
        result += weighted_log(jobs[:, None] * before, now)
    looked = list(parameters.channels)
    for channel, places in belief.careless_places.items():
        mixture = belief.mixture(channel, parameters)
        for place, table in zip(places, mixture.looked, strict=True):
            looked[place] = table
        result += log_prior_of_share(mixture.share, mixture.pseudo)
    for place in map(int, np.flatnonzero(belief.is_learnable)):
        weight = belief.channels_jobs[place][:, None] * mean.channels[place]
        result += weighted_log(weight, looked[place])
    return result


def log_prior_of_causes(belief: PriorBelief, parameters: Parameters) -> float:
    """The part of ``log_prior`` about causes and circumstances."""
    mean = belief.mean
    result = belief.share_jobs * weighted_log(mean.shares, parameters.shares)
    for before, now in zip(mean.contexts, parameters.contexts, strict=True):
        result += belief.context_jobs * weighted_log(before, now)
    for key, factor in mean.multipliers.items():
        ratio = parameters.multipliers[key] / factor
        result += belief.multiplier_cases[key] * (np.log(ratio) - ratio)
    return float(result)


def weighted_log(weight: FloatArray, value: FloatArray) -> float:
    """Sum of weight times log value; nothing where the weight is 0."""
    used = weight > 0.0
    return float(weight[used] @ np.log(value[used]))
