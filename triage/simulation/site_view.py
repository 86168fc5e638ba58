"""What a technician knows and has at one moment of a visit, and what goes on the van before it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property, lru_cache

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.inference.posterior import Posterior
from triage.network.values import OnVan, Repair, RepairBy
from triage.planning.parts.load import JobType, best_load, job_types
from triage.planning.problem.arrays import Belief
from triage.planning.problem.preparations import PANEL, Setup
from triage.planning.problem.site import SiteProblem, site_problem
from triage.planning.shop.costs import CostModel

ROWS_MAX = 150  # hypotheses of a decision; the program itself keeps more and is slower


@dataclass(frozen=True, eq=False)
class SiteView:
    """Evidence so far, parts ``aboard``, and how the machine stands."""

    engine: Engine
    evidence: Evidence
    costs: CostModel
    aboard: frozenset[str]
    setup: Setup

    @cached_property
    def posterior(self) -> Posterior:
        """Exact posterior of what is known."""
        return self.engine.posterior(self.evidence)

    @cached_property
    def mode_probabilities(self) -> Mapping[str, float]:
        """P(mode has failed) by id."""
        found = self.posterior.mode_probabilities
        return dict(zip(self.engine.compiled.mode_ids, found.tolist(), strict=True))

    @cached_property
    def site(self) -> SiteProblem:
        """The rest of the visit as a problem, repairs priced by what is aboard."""
        site = _problem(self.engine, self.evidence, self.costs)
        prices = np.array([self.repair_minor(repair) for repair in site.repairs])
        return replace(site, problem=replace(site.problem, repair_cost=prices))

    @property
    def belief(self) -> Belief:
        """Where the problem of ``site`` starts."""
        opened = frozenset({PANEL}) if self.setup.panel_off else frozenset[int]()
        return replace(self.site.problem.start(), opened=opened, setup=self.setup.states)

    def missing(self, repair: Repair) -> tuple[str, ...]:
        """Parts of a repair that are not aboard; another trade brings its own."""
        if repair.by is RepairBy.LICENSED_TRADE:
            return ()
        return tuple(part for part in repair.parts if part not in self.aboard)

    def repair_minor(self, repair: Repair) -> float:
        """Cost of a repair now: labour, check run, parts, and a return trip if a part lacks."""
        trip = self.costs.return_trip_minor if self.missing(repair) else 0.0
        return repair_minor(self.engine, repair, self.costs) + trip


def repair_minor(engine: Engine, repair: Repair, costs: CostModel) -> float:
    """Cost of a repair with everything at hand: labour, check run and parts."""
    labour = costs.on_site_minor(repair.minutes + costs.verification_minutes)
    if repair.by is RepairBy.LICENSED_TRADE:
        return labour
    return labour + costs.parts_minor(tuple(engine.network.parts[part] for part in repair.parts))


def parts_loaded(engine: Engine, evidence: Evidence, costs: CostModel) -> frozenset[str]:
    """Parts put on the van for a call, by minimum cut; what the van always has is not among them.

    Raises
    ------
    EvidenceError
        A finding does not fit the network.
    """
    always = _always_aboard(engine)
    holding = {
        part.id: max(costs.carrying_minor(part), costs.carry_minor)
        for part in engine.network.parts.values()
        if part.id not in always
    }
    jobs = [
        JobType(job.probability, job.parts - always)
        for job in job_types(_problem(engine, evidence, costs))
    ]
    return frozenset(best_load(jobs, holding, costs.return_trip_minor).parts)


def parts_aboard(engine: Engine, loaded: frozenset[str]) -> frozenset[str]:
    """Parts loaded for the call and those the van always has."""
    return loaded | _always_aboard(engine)


def _always_aboard(engine: Engine) -> frozenset[str]:
    parts = engine.network.parts.values()
    return frozenset(part.id for part in parts if part.on_van is OnVan.USUALLY)


@lru_cache(maxsize=32)  # every policy starts a job from the same evidence
def _problem(engine: Engine, evidence: Evidence, costs: CostModel) -> SiteProblem:
    return site_problem(engine, evidence, costs, rows_max=ROWS_MAX)
