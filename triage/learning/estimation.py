"""Learning a network from closed jobs: EM to the most probable numbers, given jobs and prior.

    objective = log P(answers, what is known of the causes | numbers) + log prior(numbers)

never falls from one iteration to the next [DempsterLairdRubin1977]_; every value of it is reported.
Jobs of uncertain cause keep a few candidates, chosen by the starting network; after a first run
they are chosen anew by what that run learned, which is where a second run starts.
Findings that are missing are ignorable, because what was asked depended on what was already known;
complaints that a caller might have volunteered and did not are not counted as findings.

>>> import numpy as np
>>> from triage.learning.columns import JobColumns
>>> from triage.learning.layout import Layout
>>> from triage.network.catalogue import load_network
>>> layout = Layout(load_network("top_load_washer"))
>>> answers = np.zeros((len(layout.compiled.observations), 50), dtype=np.int8)
>>> belt = layout.row(["drive_belt.broken"])
>>> jobs = JobColumns.of(layout, answers, np.full(50, belt))
>>> learned = learn_columns(layout, jobs, LearningSettings())
>>> position = layout.compiled.mode_position["drive_belt.broken"]
>>> bool(learned.parameters.shares[position] > learned.belief.mean.shares[position])
True
"""

from collections import Counter
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import datetime
from types import MappingProxyType

import numpy as np

from triage.learning.belief import PriorBelief, log_prior, prior_belief
from triage.learning.careless import CarelessShare
from triage.learning.columns import JobColumns, columns_of, layout_for
from triage.learning.expectation import EStep, Expected, serial
from triage.learning.layout import Layout
from triage.learning.maximisation import m_step
from triage.learning.model import Model
from triage.learning.parameters import Parameters, network_with, parameters_of
from triage.learning.patterns import Shard, shard_of
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

Over = Callable[[Layout, Sequence[Shard]], EStep]

ONLY_CARELESS = "; only the share of careless answers moves it"


@dataclass(frozen=True, slots=True)
class Held:
    """A number that stays as it is: its key, and why jobs cannot move it."""

    key: str
    reason: str


@dataclass(frozen=True, slots=True, eq=False)
class Learned:
    """Numbers learned from jobs.

    ``objectives`` (nats) of every iteration of the last run, its starting numbers first;
    ``expected`` the complete data expected under the numbers learned; ``held`` what is not
    learnable and why; ``left_out`` counts, by reason, what could not be used; ``kept_share`` is the
    mean posterior that the candidates of jobs with an uncertain cause carry; ``shards`` are the
    jobs it was learned from.
    """

    layout: Layout
    belief: PriorBelief
    parameters: Parameters
    expected: Expected
    objectives: tuple[float, ...]
    jobs: int
    job_weight: float
    kept_share: float
    held: tuple[Held, ...]
    shards: tuple[Shard, ...]
    left_out: Mapping[str, int] = field(default_factory=lambda: MappingProxyType({}))

    @property
    def network(self) -> FaultNetwork:
        """The starting network with the numbers learned; version and provenance as they were."""
        return network_with(self.layout.network, self.parameters)

    @property
    def careless(self) -> tuple[CarelessShare, ...]:
        """What jobs tell of answers given without looking, by channel."""
        return tuple(
            self.belief.mixture(channel, self.parameters).told(
                channel,
                [self.expected.channels[place] for place in places],
                self.belief.careless_share,
            )
            for channel, places in self.belief.careless_places.items()
        )


def learn_from(
    network: FaultNetwork,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    as_of: datetime,
) -> Learned:
    """Learn one network from its closed jobs.

    Parameters
    ----------
    network : FaultNetwork
        The version from before any job was counted: all jobs are counted every time, so learning
        on top of a version that has them in would count them twice.
    jobs : sequence of ClosedJob
        Of this network; others are left out and counted.
    settings : LearningSettings
    as_of : datetime
        The present.
    """
    layout, columns, left_out = as_columns(network, jobs, settings, as_of)
    return learn_columns(layout, columns, settings, left_out=left_out)


def as_columns(
    network: FaultNetwork,
    jobs: Sequence[ClosedJob],
    settings: LearningSettings,
    as_of: datetime,
) -> tuple[Layout, JobColumns, Mapping[str, int]]:
    """Layout and columns of the jobs of a network, and by reason what could not be used."""
    own = [job for job in jobs if job.network == network.id]
    layout = layout_for(own, network)
    columns = columns_of(own, layout, settings, as_of)
    left_out = dict(columns.left_out)
    if len(own) < len(jobs):
        left_out["jobs of other appliance kinds"] = len(jobs) - len(own)
    return layout, columns, left_out


def learn_columns(
    layout: Layout,
    columns: JobColumns,
    settings: LearningSettings,
    *,
    parts: int = 1,
    over: Over = serial,
    left_out: Mapping[str, int] = MappingProxyType({}),
) -> Learned:
    """Learn from columns, candidates of uncertain causes chosen twice.

    Parameters
    ----------
    layout : Layout
    columns : JobColumns
    settings : LearningSettings
    parts : int
        Shards to make of the jobs.
    over : callable
        Makes the E-step over shards, elsewhere than in this process for example (``spread``).
    left_out : mapping
        Passed on.
    """
    shards = [shard_of(part, layout) for part in columns.split(parts)]
    first = learn(layout, shards, settings, step=over(layout, shards), left_out=left_out)
    return learn_again(first, columns, settings, over=over, left_out=left_out)


def learn_again(
    first: Learned,
    columns: JobColumns,
    settings: LearningSettings,
    *,
    belief: PriorBelief | None = None,
    over: Over = serial,
    left_out: Mapping[str, int] = MappingProxyType({}),
) -> Learned:
    """Learn on from a first run, candidates chosen by what it learned, in as many shards.

    Parameters
    ----------
    first : Learned
    columns : JobColumns
        The jobs of the first run.
    settings : LearningSettings
    belief : PriorBelief, optional
        Instead of that of the first run.
    over : callable
        Makes the E-step over shards.
    left_out : mapping
        Passed on.
    """
    layout, now, shards = first.layout, first.parameters, first.shards
    is_settled = all(len(shard.candidates.first) == 0 for shard in shards)
    if is_settled and belief is None:
        return first
    if not is_settled:
        model = Model(layout, now)
        shards = tuple(shard_of(part, layout, model) for part in columns.split(len(shards)))
    return learn(
        layout,
        shards,
        settings,
        step=over(layout, shards),
        belief=belief or first.belief,
        start=now,
        left_out=left_out,
    )


def learn(
    layout: Layout,
    shards: Sequence[Shard],
    settings: LearningSettings,
    *,
    step: EStep | None = None,
    belief: PriorBelief | None = None,
    start: Parameters | None = None,
    left_out: Mapping[str, int] = MappingProxyType({}),
) -> Learned:
    """Run EM over shards.

    Parameters
    ----------
    layout : Layout
    shards : sequence of Shard
        In a fixed order, which fixes the rounding.
    settings : LearningSettings
    step : callable, optional
        E-step over the same shards elsewhere; in this process by default.
    belief : PriorBelief, optional
        What is believed before any job; by default the numbers of the network, worth what it and
        the settings say.
    start : Parameters, optional
        Numbers to start from, of an earlier run; by default those believed.
    left_out : mapping
        Passed on.
    """
    step = step or serial(layout, shards)
    seen_twice = np.sum([shard.seen_twice for shard in shards], axis=0)
    mean = parameters_of(layout.network)
    belief = belief or prior_belief(layout, mean, settings, seen_twice)
    parameters = start or belief.start
    job_weight = sum(shard.job_weight for shard in shards)
    small = max(settings.tolerance_nats, settings.tolerance_per_job * job_weight)
    expected = step(parameters)
    objectives = [expected.log_likelihood + log_prior(belief, parameters)]
    for _ in range(settings.iterations_max):
        parameters = m_step(layout, belief, parameters, expected)
        expected = step(parameters)
        objectives.append(expected.log_likelihood + log_prior(belief, parameters))
        if objectives[-1] - objectives[-2] <= small:
            break
    counted = Counter(left_out)
    for shard in shards:
        counted["jobs whose answers are impossible under their cause"] += shard.impossible
        counted["jobs without findings whose cause nobody knows"] += shard.silent
    return Learned(
        layout=layout,
        belief=belief,
        parameters=parameters,
        expected=expected,
        objectives=tuple(objectives),
        jobs=sum(shard.jobs for shard in shards),
        job_weight=job_weight,
        kept_share=_kept_share(shards),
        held=tuple(_held(layout, belief, seen_twice)),
        shards=tuple(shards),
        left_out=MappingProxyType(dict(+counted)),
    )


def _kept_share(shards: Sequence[Shard]) -> float:
    """Mean over the uncertain jobs of all shards."""
    counts = [len(shard.candidates.first) for shard in shards]
    if sum(counts) == 0:
        return 1.0
    return float(np.average([shard.candidates.kept_share for shard in shards], weights=counts))


def _held(layout: Layout, belief: PriorBelief, seen_twice: np.ndarray) -> list[Held]:
    """What is not learnable, with the reason."""
    found = [
        Held("expected_failed_modes", "a second failure is rarely looked for once one is found"),
        *(
            Held(f"pair:{'+'.join(pair.modes)}", "kept relative to the rarer of its two causes")
            for pair in layout.network.pairs
        ),
    ]
    asked = belief.asked
    for place, entry in enumerate(layout.compiled.observations):
        if belief.is_learnable[place]:
            continue
        if entry.context is not None:
            reason = "nothing else tells the circumstance"
        elif entry.reading is not None:
            reason = "follows from the error of the meter"
        elif len(layout.compiled.index.observations_of[entry.target]) < 2:
            reason = "no other observation looks at the same sign"
        else:
            reason = (
                f"only {seen_twice[place]:.0f} jobs saw the sign through another observation too"
            )
        reason += ONLY_CARELESS if place in asked else ""
        found.append(Held(f"channel:{entry.id}", reason))
    return found
