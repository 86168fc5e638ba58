"""Time of learning: a million confirmed jobs, and 50,000 of which a tenth are uncertain.

    nice python -m tests.benchmarks.bench_learning [--write]

With --write the table goes into docs/benchmarks.md. Jobs are drawn from the shipped network of the
top-load washer with 20 answers each; drawing them is not counted.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import time
from dataclasses import replace

import numpy as np

from tests.benchmarks.drawn_jobs import drawn_jobs
from tests.benchmarks.page import write_between
from triage.learning.columns import JobColumns
from triage.learning.estimation import learn, learn_again
from triage.learning.layout import Layout
from triage.learning.patterns import shard_of
from triage.learning.values import LearningSettings
from triage.network.catalogue import load_network

NETWORK = "top_load_washer"
ANSWERS_EACH = 20.0
CONFIRMED = (10_000, 100_000, 1_000_000)
MIXED, UNCERTAIN_SHARE, RELIABILITY = 50_000, 0.1, 0.9


def with_uncertain(columns: JobColumns, share: float, rng: np.random.Generator) -> JobColumns:
    """The same jobs, some of them labelled with less than certainty and some not at all."""
    chance = rng.random(len(columns))
    return replace(
        columns,
        reliability=np.where(chance < share, RELIABILITY, 1.0),
        label=np.where(chance < share / 2.0, -1, columns.label),
    )


def timed(columns: JobColumns, layout: Layout, name: str) -> str:
    """One row of the table."""
    started = time.process_time()
    shard = shard_of(columns, layout)
    summed = time.process_time()
    first = learn(layout, [shard], LearningSettings())
    learned = learn_again(first, columns, LearningSettings())
    ended = time.process_time()
    runs = [first] if learned is first else [first, learned]
    iterations = sum(len(run.objectives) - 1 for run in runs)
    falls = sum(int((np.diff(run.objectives) < 0.0).sum()) for run in runs)
    return (
        f"| {name} | {len(shard.weight):,} | {summed - started:.1f} | {iterations} "
        f"| {ended - summed:.1f} | {ended - started:.1f} | {falls} |"
    )


def table() -> str:
    """All rows, in Markdown."""
    layout = Layout(load_network(NETWORK))
    rng = np.random.default_rng(1)
    lines = [
        "| jobs | distinct cells | s, summing up | iterations | s, EM | s, together "
        "| falls of the objective |",
        "|---|---|---|---|---|---|---|",
    ]
    for jobs in CONFIRMED:
        columns = drawn_jobs(layout.network, layout, jobs, ANSWERS_EACH, rng)
        lines.append(timed(columns, layout, f"{jobs:,} confirmed"))
        print(lines[-1], flush=True)
    columns = drawn_jobs(layout.network, layout, MIXED, ANSWERS_EACH, rng)
    mixed = with_uncertain(columns, UNCERTAIN_SHARE, rng)
    lines.append(timed(mixed, layout, f"{MIXED:,}, {UNCERTAIN_SHARE:.0%} uncertain"))
    print(lines[-1], flush=True)
    return "\n".join(lines)


def main() -> None:
    """Print the table, and write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--write", action="store_true")
    words = parser.parse_args()
    found = table()
    if words.write:
        write_between("benchmarks.md", "learning", found)


if __name__ == "__main__":
    main()
