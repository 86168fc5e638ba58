"""A made-up year flows in by file, the owner approves, and 1,000 later jobs are forecast better."""

from datetime import timedelta

import numpy as np

from tests.simulated_shop import closed_records, true_network
from tests.triage.learning.learning_shop import NOW, STAMP, WASHER, proposal, read_text
from triage.learning.columns import columns_of, layout_for
from triage.learning.model import Model
from triage.learning.scores import log_score_bits, paired_difference
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork
from triage.services.calls.calls import Database
from triage.services.learning.importing import import_jobs
from triage.services.learning.job_file import jobs_as_text
from triage.services.learning.stored import jobs_to_learn, stored_records
from triage.services.learning.versions import approve, keep_proposal
from triage.services.networks.in_use import network_in_use

YEAR, LATER = 600, 1_300  # jobs; some of the later ones have no confirmed cause


def surprise_bits(network: FaultNetwork, jobs: tuple[ClosedJob, ...]) -> np.ndarray:
    """Bits of surprise at the confirmed cause of each job that has one."""
    layout = layout_for(jobs, network)
    columns = columns_of(jobs, layout, LearningSettings(), NOW)
    known = columns.taking(columns.label >= 0)
    posterior = Model.of(network, layout).log_posterior(known)
    return log_score_bits(np.exp(posterior[np.arange(len(known)), known.label]))


def test_approved_version_forecasts_a_thousand_later_jobs_better(
    database: Database, rng: np.random.Generator
) -> None:
    shipped = load_network(WASHER)
    truth = true_network(shipped, 3)
    every = tuple(closed_records(shipped, truth, YEAR + LATER, 1))
    read = read_text(database, jobs_as_text(every[:YEAR]))
    taken = import_jobs(database, read, "year.csv", STAMP)

    made = keep_proposal(database, WASHER, proposal(database), STAMP, "after a year")
    approve(database, WASHER, made, STAMP, "scores are better")

    later = jobs_to_learn(every[YEAR:], shipped)
    before, after = (
        surprise_bits(network, later) for network in (shipped, network_in_use(database, WASHER))
    )
    gained = paired_difference(after, before, rng)
    assert len(after) >= 1_000
    assert gained.high < 0.0, gained
    assert taken == YEAR == len(stored_records(database))
    assert every[YEAR].closed_at - every[YEAR - 1].closed_at < timedelta(days=2)
