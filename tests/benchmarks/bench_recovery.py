"""How well learning finds back the numbers of a shop that differ from ours: table and picture.

    nice python -m tests.benchmarks.bench_recovery [--processes 2] [--write]

A shop's truth is a disturbed copy of a shipped network. Its closed jobs are drawn from it, 20
answers each, part of them labelled with a wrong cause; the network is learned from them and scored
on 3,000 further jobs by -log2 P(true failed modes | answers). The excess is over the truth's own
score. With --write the table goes into docs/learning.md and the picture beside it.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import multiprocessing
from dataclasses import dataclass
from itertools import product

import numpy as np

from tests.benchmarks.drawn_jobs import drawn_jobs, mislabelled
from tests.benchmarks.page import DOCS, write_between
from tests.benchmarks.recovery_picture import picture
from triage.learning.columns import JobColumns
from triage.learning.estimation import learn_columns
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.learning.values import LearningSettings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork
from triage.simulation.disturbance import Disturbance, disturbed

NETWORKS = ("top_load_washer", "gas_dryer")
SEEDS = (1, 2, 3)
CARELESS = (0.0, 0.15)  # share of the caller's answers given without looking
JOBS = (0, 30, 100, 300, 1000, 3000)
WRONG = (0.0, 0.1, 0.2)  # share of wrong labels
RELIABILITY = 0.9  # what the learner believes of a label, where some are wrong
TEST_JOBS, ANSWERS_EACH = 3000, 20.0


@dataclass(frozen=True, slots=True, order=True)
class Shop:
    """One truth."""

    careless: float
    network: str
    seed: int


def bits(network: FaultNetwork, layout: Layout, jobs: JobColumns) -> float:
    """Mean surprise of a network about the true failed modes of jobs."""
    log_posterior = Model.of(network, layout).log_posterior(jobs)
    return float(-log_posterior[np.arange(len(jobs)), jobs.label].mean() / np.log(2.0))


def excesses(shop: Shop) -> np.ndarray:
    """Excess surprise in percent, by share of wrong labels and number of jobs."""
    network = load_network(shop.network)
    layout = Layout(network)
    rng = np.random.default_rng(shop.seed)
    truth = disturbed(network, Disturbance(careless_share=shop.careless), rng)
    test = drawn_jobs(truth, layout, TEST_JOBS, ANSWERS_EACH, rng)
    train = drawn_jobs(truth, layout, max(JOBS), ANSWERS_EACH, rng)
    oracle = bits(truth, layout, test)
    result = np.empty((len(WRONG), len(JOBS)))
    for row, wrong in enumerate(WRONG):
        trust = 1.0 if wrong == 0.0 else RELIABILITY
        labelled = mislabelled(train, wrong, trust, np.random.default_rng(shop.seed))
        for column, count in enumerate(JOBS):
            learned = network
            if count > 0:
                seen = labelled.taking(slice(0, count))
                learned = learn_columns(layout, seen, LearningSettings()).network
            result[row, column] = 100.0 * (bits(learned, layout, test) / oracle - 1.0)
    print(shop, np.round(result, 2).tolist(), flush=True)
    return result


def table(shops: list[Shop], results: list[np.ndarray]) -> str:
    """Mean and worst excess over the shops, in Markdown."""
    head = " | ".join(f"{count:,} jobs" if count else "start" for count in JOBS)
    lines = [f"| callers | wrong labels | {head} |", "|---" * (len(JOBS) + 2) + "|"]
    for careless, (row, wrong) in product(CARELESS, enumerate(WRONG)):
        chosen = np.array(
            [r[row] for shop, r in zip(shops, results, strict=True) if shop.careless == careless]
        )
        cells = " | ".join(
            f"{mean:.1f} ({worst:.1f})"
            for mean, worst in zip(chosen.mean(axis=0), chosen.max(axis=0), strict=True)
        )
        callers = "as we think" if careless == 0.0 else f"{careless:.0%} do not look"
        lines.append(f"| {callers} | {wrong:.0%} | {cells} |")
    worse = sum(int((r[:, 1:] > r[:, :1] + 1e-9).sum()) for r in results)
    cases = sum(r[:, 1:].size for r in results)
    lines.append("")
    lines.append(
        f"{len(shops)} shops ({len(NETWORKS)} networks, {len(SEEDS)} truths each, two kinds of "
        f"callers). Worse than the start: {worse} of {cases} learned networks."
    )
    return "\n".join(lines)


def main() -> None:
    """Print the table; write it and the picture where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--processes", type=int, default=2)
    parser.add_argument("--write", action="store_true")
    words = parser.parse_args()
    shops = [Shop(*choice) for choice in product(CARELESS, NETWORKS, SEEDS)]
    with multiprocessing.get_context("spawn").Pool(words.processes) as pool:
        results = pool.map(excesses, shops, chunksize=1)
    found = table(shops, results)
    print(found)
    if words.write:
        write_between("learning.md", "recovery", found)
        curves = {
            f"{wrong:.0%} wrong labels": [
                float(np.mean([r[row, column] for r in results])) for column in range(len(JOBS))
            ]
            for row, wrong in enumerate(WRONG)
        }
        (DOCS / "pictures" / "recovery.svg").write_text(picture(JOBS, curves), encoding="utf-8")


if __name__ == "__main__":
    main()
