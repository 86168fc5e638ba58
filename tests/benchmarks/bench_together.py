"""What appliance kinds gain when they are learned together: excess surprise alone and pooled.

    nice python -m tests.benchmarks.bench_together [--seeds 2] [--write]

A kind with few jobs of its own stands beside one that shares fragments with it and has many. Their
truths are disturbed copies of the shipped networks: in the world "alike" both have the same numbers
where they share a link, in the world "apart" each has its own. The score is that of
``bench_recovery``. With --write the table goes into docs/learning.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
from dataclasses import replace
from itertools import product

import numpy as np

from tests.benchmarks.bench_recovery import bits
from tests.benchmarks.drawn_jobs import drawn_jobs
from tests.benchmarks.page import write_between
from triage.learning.layout import Layout
from triage.learning.pooling import learn_together
from triage.learning.values import LearningSettings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork
from triage.simulation.disturbance import Disturbance, disturbed

PAIRS = (("gas_dryer", "electric_dryer"), ("front_load_washer", "top_load_washer"))
WORLDS = ("alike", "apart")
OWN_JOBS = (30, 100, 300)
LENDER_JOBS, TEST_JOBS, ANSWERS_EACH = 1000, 3000, 20.0


def alike(truth: FaultNetwork, lender: FaultNetwork) -> FaultNetwork:
    """The truth with the lender's numbers wherever both have the same link."""
    signs = {}
    for name, sign in truth.signs.items():
        other = lender.signs.get(name)
        if other is not None and other.states == sign.states and not sign.rows and not other.rows:
            causes = {mode: other.causes.get(mode, link) for mode, link in sign.causes.items()}
            sign = replace(sign, leak=other.leak, causes=causes)
        signs[name] = sign
    return replace(truth, signs=signs)


def excesses(pair: tuple[str, str], world: str, seed: int) -> np.ndarray:
    """Excess surprise in percent, alone and together, by number of own jobs."""
    own, lender = (load_network(name) for name in pair)
    rng = np.random.default_rng(seed)
    lender_truth, truth = (disturbed(kind, Disturbance(), rng) for kind in (lender, own))
    if world == "alike":
        truth = alike(truth, lender_truth)
    layout, lender_layout = Layout(own), Layout(lender)
    test = drawn_jobs(truth, layout, TEST_JOBS, ANSWERS_EACH, rng)
    train = drawn_jobs(truth, layout, max(OWN_JOBS), ANSWERS_EACH, rng)
    lent = drawn_jobs(lender_truth, lender_layout, LENDER_JOBS, ANSWERS_EACH, rng)
    oracle = bits(truth, layout, test)
    result = np.empty((2, len(OWN_JOBS)))
    for column, count in enumerate(OWN_JOBS):
        seen = train.taking(slice(0, count))
        kinds = {own.id: (layout, seen), lender.id: (lender_layout, lent)}
        for row, chosen in enumerate([{own.id: kinds[own.id]}, kinds]):
            found = learn_together(chosen, LearningSettings(), only=[own.id]).learned[own.id]
            result[row, column] = 100.0 * (bits(found.network, layout, test) / oracle - 1.0)
    print(pair[0], world, seed, np.round(result, 2).tolist(), flush=True)
    return result


def table(results: dict[str, list[np.ndarray]]) -> str:
    """Mean excess, and how often together was worse, in Markdown."""
    head = " | ".join(f"{count} own jobs" for count in OWN_JOBS)
    lines = [f"| shared numbers | learned | {head} |", "|---" * (len(OWN_JOBS) + 2) + "|"]
    for world, found in results.items():
        for row, name in enumerate(("alone", "together")):
            cells = " | ".join(f"{value:.1f}" for value in np.mean(found, axis=0)[row])
            lines.append(f"| {world} | {name} | {cells} |")
    every = np.array([found for some in results.values() for found in some])
    worse = int((every[:, 1] > every[:, 0] + 1e-9).sum())
    lines += ["", f"{len(every)} shops. Worse together: {worse} of {every[:, 1].size}."]
    return "\n".join(lines)


def main() -> None:
    """Print the table; write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seeds", type=int, default=2)
    parser.add_argument("--write", action="store_true")
    words = parser.parse_args()
    results: dict[str, list[np.ndarray]] = {world: [] for world in WORLDS}
    for world, pair, seed in product(WORLDS, PAIRS, range(1, words.seeds + 1)):
        results[world].append(excesses(pair, world, seed))
    found = table(results)
    print(found)
    if words.write:
        write_between("learning.md", "together", found)


if __name__ == "__main__":
    main()
