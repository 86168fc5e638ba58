"""How often the truth lies in the 90 % intervals of a proposal, by kind of number.

    nice python -m tests.benchmarks.bench_coverage [--shops 6] [--write]

A shop's truth is drawn from what learning believes before any job: every share, strength, leak and
answer around the network's figure, with the weight that learning gives it. Its jobs have 20 answers
each; one label in ten is wrong and none is fully trusted. Beside the intervals of the proposal
stand those that take what EM expects of hidden states as seen. With --write the table goes into
docs/learning.md.
"""

import os

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")  # numpy reads this on import

import argparse
import time
from collections.abc import Iterator

import numpy as np

from tests.benchmarks.drawn_jobs import drawn_jobs, mislabelled
from tests.benchmarks.page import write_between
from triage.learning.belief import prior_belief
from triage.learning.careless import mixed
from triage.learning.changes import Change, changes_of
from triage.learning.estimation import learn_columns
from triage.learning.intervals import beta_interval
from triage.learning.layout import Layout
from triage.learning.parameters import Parameters, network_with, normalised, parameters_of
from triage.learning.values import LearningSettings
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork

NETWORKS = ("top_load_washer", "gas_dryer")
KINDS = ("share", "link", "leak", "channel", "context", "multiplier")
JOBS, ANSWERS_EACH = (300, 1000), 20.0
WRONG, RELIABILITY = 0.1, 0.9
SETTINGS = LearningSettings()


def believed_truth(network: FaultNetwork, layout: Layout, rng: np.random.Generator) -> FaultNetwork:
    """Network drawn from the belief before any job; what is impossible or certain stays so."""
    mean = parameters_of(network)
    belief = prior_belief(layout, mean, SETTINGS, np.zeros(len(mean.channels)))
    cases = SETTINGS.multiplier_cases
    channels = [
        rows if entry.reading is not None else drawn_rows(rows, jobs, rng)
        for entry, rows, jobs in zip(
            layout.compiled.observations, mean.channels, belief.channels_jobs, strict=True
        )
    ]
    for channel, pseudo in belief.careless.items():
        share = float(rng.beta(*pseudo))
        for place in belief.careless_places[channel]:
            channels[place] = mixed(channels[place], mean.channels[place], share)
    truth = Parameters(
        shares=drawn_rows(mean.shares[None], np.array([SETTINGS.share_jobs]), rng)[0],
        multipliers={
            key: factor * float(rng.gamma(cases)) / cases
            for key, factor in mean.multipliers.items()
        },
        contexts=tuple(
            drawn_rows(row[None], np.array([SETTINGS.context_jobs]), rng)[0]
            for row in mean.contexts
        ),
        links=tuple(
            drawn_rows(rows, jobs, rng)
            for rows, jobs in zip(mean.links, belief.links_jobs, strict=True)
        ),
        channels=tuple(channels),
    )
    return network_with(network, truth)


def drawn_rows(rows: np.ndarray, jobs: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Rows drawn from Dirichlet distributions with these means and weights."""
    drawn = np.where(rows > 0.0, rng.gamma(np.maximum(rows * jobs[:, None], 1e-9)), 0.0)
    return normalised(np.where(rows > 0.0, np.maximum(drawn, 1e-12), 0.0))


def figure(truth: Parameters, base: Parameters, change: Change) -> float:
    """True figure of a change."""
    place, row = change.place
    if change.kind == "share":
        return float(truth.shares[place])
    if change.kind == "multiplier":
        _, mode, context, value = change.key.split(":")
        return truth.multipliers[mode, context, value]
    if change.kind == "context":
        return float(truth.contexts[place][int(np.argmax(base.contexts[place]))])
    if change.kind == "channel":
        return float(truth.channels[place][row][int(np.argmax(base.channels[place][row]))])
    return float(1.0 - truth.links[place][row][0])


def covered(name: str, seed: int, jobs: int) -> Iterator[tuple[str, bool, bool]]:
    """Kind of every number, whether its interval holds, and whether the one as if seen does."""
    network = load_network(name)
    layout, rng = Layout(network), np.random.default_rng(seed)
    truth = believed_truth(network, layout, rng)
    columns = drawn_jobs(truth, layout, jobs, ANSWERS_EACH, rng)
    columns = mislabelled(columns, WRONG, RELIABILITY, rng)
    learned = learn_columns(layout, columns, SETTINGS)
    start = time.process_time()
    changes = changes_of(learned, ())
    spent = time.process_time() - start
    print(name, seed, jobs, f"{len(changes)} intervals in {spent:.1f} s of CPU", flush=True)
    true, base = parameters_of(truth), parameters_of(network)
    for change in changes:
        value = figure(true, base, change)
        seen = change.low, change.high
        if change.kind != "multiplier":
            total = change.prior_jobs + change.jobs
            if change.kind == "share":
                total = change.prior_jobs + learned.job_weight
            seen = beta_interval(total * change.after, total * (1.0 - change.after))
        kind = "link" if change.kind == "row" else change.kind
        yield kind, change.low <= value <= change.high, seen[0] <= value <= seen[1]


def table(found: dict[int, list[tuple[str, bool, bool]]]) -> str:
    """Coverage by kind and number of jobs, in Markdown."""
    words = {"share": "shares", "link": "strengths", "leak": "signs without a known cause"}
    words |= {"channel": "answers", "context": "circumstances", "multiplier": "by circumstance"}
    head = " | ".join(f"{jobs:,} jobs | as if seen" for jobs in found)
    lines = [f"| number | {head} |", "|---" * (2 * len(found) + 1) + "|"]
    for kind in (*KINDS, "all"):
        cells = []
        for rows in found.values():
            own = [row for row in rows if kind in (row[0], "all")]
            if own:
                held, seen = (np.mean([row[k] for row in own]) for k in (1, 2))
                error = 100.0 * (0.09 / len(own)) ** 0.5
                cells += [f"{held:.1%} of {len(own):,} (±{error:.1f})", f"{seen:.1%}"]
            else:
                cells += ["none", ""]
        lines.append(f"| {words.get(kind, kind)} | {' | '.join(cells)} |")
    return "\n".join(lines)


def main() -> None:
    """Print the table; write it where asked."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--shops", type=int, default=6)
    parser.add_argument("--write", action="store_true")
    words = parser.parse_args()
    found = {
        jobs: [
            row
            for seed in range(1, words.shops + 1)
            for row in covered(NETWORKS[seed % len(NETWORKS)], seed, jobs)
        ]
        for jobs in JOBS
    }
    text = table(found)
    print(text)
    if words.write:
        write_between("learning.md", "coverage", text)


if __name__ == "__main__":
    main()
