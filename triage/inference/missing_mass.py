"""How much of the evidence's probability the table of hypotheses leaves out.

The table holds sets of at most ``K`` failed modes. The prior knows no cap, and neither does the
frontier sum (``frontier``): it adds up P(evidence, h) over every set of failed modes, so

    missing mass = 1 - P(evidence, table) / P(evidence)

is exact. Its cost grows with the context combinations that are still possible; where it exceeds a
budget, table and sum are both taken for the average machine (odds averaged over the contexts), and
the result says so.
"""

from dataclasses import dataclass, replace
from enum import StrEnum

import numpy as np

from triage.inference.compiled import CompiledNetwork
from triage.inference.frontier import evidence_of_set, plan_frontier, sum_over_failed_sets
from triage.inference.posterior import Likelihoods, MachineState, Posterior, posterior
from triage.inference.prior import Prior

CELLS_MAX = 100_000  # doubles in the state, all contexts: about 40 ms on the machine of the docs
AVERAGE_CELLS_MAX = 1_000_000  # for the average machine, after a long call: about 0.3 s


class Certainty(StrEnum):
    """How the missing mass was found."""

    EXACT = "exact"
    AVERAGED = "averaged"
    UNKNOWN = "unknown"


@dataclass(frozen=True, slots=True)
class MissingMass:
    """Share of P(evidence) beyond the table; ``certainty`` says how it was found."""

    share: float
    certainty: Certainty


NOT_COMPUTED = MissingMass(1.0, Certainty.UNKNOWN)


@dataclass(frozen=True, slots=True)
class Everything:
    """log P(evidence) over every set of failed modes (nats), under ``prior``."""

    log_evidence: float
    prior: Prior
    certainty: Certainty

    def missing_from(self, found: Posterior) -> MissingMass:
        """Share of P(evidence) that the table of a posterior leaves out."""
        log_table = found.log_evidence
        if self.certainty is Certainty.AVERAGED:
            average = found.state.table.under(self.prior)
            state = MachineState(average, average.context_joint)
            log_table = posterior(state, _without_context(found.likelihood)).log_evidence
        share = -float(np.expm1(log_table - self.log_evidence))
        return MissingMass(max(0.0, share), self.certainty)


def evidence_without_cap(
    compiled: CompiledNetwork, prior: Prior, likelihood: Likelihoods
) -> Everything | None:
    """log P(evidence) over every set of failed modes.

    Parameters
    ----------
    compiled, prior
        The network and its solved prior.
    likelihood : Likelihoods
        Findings of one epoch.

    Returns
    -------
    Everything or None
        None if the sum exceeds its budget even for the average machine, or if a sign with findings
        follows a table (its modes do not act independently).
    """
    if any(compiled.signs[sign].is_table for sign in np.flatnonzero(likelihood.has_findings)):
        return None
    exact = _frontier_log(compiled, prior, likelihood, CELLS_MAX)
    if exact is not None:
        return Everything(exact, prior, Certainty.EXACT)
    average = averaged(prior, likelihood)
    rough = _frontier_log(compiled, average, _without_context(likelihood), AVERAGE_CELLS_MAX)
    return None if rough is None else Everything(rough, average, Certainty.AVERAGED)


def averaged(prior: Prior, likelihood: Likelihoods) -> Prior:
    """Prior of the average machine: one context combination with the mean odds of all."""
    scale = likelihood.context * prior.context / prior.normaliser  # (C,)
    mean = (scale @ prior.odds)[None, :] / scale.sum()
    return replace(prior, odds=mean, normaliser=np.ones(1), context=np.array([scale.sum()]))


def _frontier_log(
    compiled: CompiledNetwork, prior: Prior, likelihood: Likelihoods, cells_max: int
) -> float | None:
    scale = likelihood.context * prior.context / prior.normaliser  # (C,)
    used = scale > 0.0
    plan = plan_frontier(compiled, prior, likelihood)
    if plan.cells * np.count_nonzero(used) > cells_max:
        return None
    odds = prior.odds[used]
    total = sum_over_failed_sets(compiled, prior, plan, odds)
    total = total - evidence_of_set(compiled, plan, ())  # an empty set is no hypothesis
    for mode in prior.exclusive:
        total = total + odds[:, mode] * evidence_of_set(compiled, plan, (int(mode),))
    return float(np.log(scale[used] @ total))


def _without_context(likelihood: Likelihoods) -> Likelihoods:
    return replace(likelihood, context=np.ones(1))
