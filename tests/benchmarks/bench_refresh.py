"""Time of a full refresh, by the engine and by two general packages: prints one table.

    python -m tests.benchmarks.bench_refresh [--seed 1] [--seconds 120]

A refresh is the posterior of every mode and the joint gain of every open observation. Times are CPU
time of one thread, so that other programs on the machine count little. The packages run in a
process each, with a limit on memory and time; what they cannot answer within it is left out and
counted as such, so that ratios are lower bounds. Every number they do answer is compared with the
engine's in the same run. docs/benchmarks.md holds a table and says what it shows.
"""

import os

# One thread for everybody; numpy reads this on import.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import argparse
import math
import multiprocessing
import resource
import signal
import statistics
import time
import warnings
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from multiprocessing.connection import Connection

from tests.benchmarks.calls import draw_call
from tests.benchmarks.refresh_references import MODELS, CheckedEngine, Piece, refresh_pieces
from tests.references import without_contexts
from triage.inference.engine import Assessment, Engine
from triage.inference.evidence import Evidence
from triage.inference.missing_mass import Certainty, MissingMass
from triage.network.catalogue import load_network
from triage.network.values import FaultNetwork

FINDINGS = (0, 5, 10, 25)
MEMORY_BYTES = 8 * 2**30  # of a package; beyond it there is no answer
PREPARING_SECONDS = 60  # to build the model of one answer, not counted
MOST = 0.9  # of the gains; the few signs with very many causes take most of a package's time
REPEATS = 15  # of a refresh by the engine; the median counts
TOLERANCE = 1e-6  # probability and bits, packages against the engine on the same model
NETWORKS: Mapping[str, Callable[[FaultNetwork], FaultNetwork]] = {
    "as shipped": lambda network: network,
    "without contexts": without_contexts,
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Own:
    """The engine's refresh: milliseconds, hypotheses, what is missing, errors, and what to expect.

    ``missing_found`` is the missing mass of the unchecked table against sets of up to five modes;
    the errors (probability, bits) are those of the unchecked refresh. ``plain`` holds the numbers
    the packages have to give.
    """

    first_ms: float
    unchecked_ms: float
    checked_ms: float
    standing: int
    used: int
    missing_stated: str
    missing_found: float
    mode_error: float
    gain_error: float
    plain: Mapping[str, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What a package answered, in order, and why it ended."""

    pieces: tuple[Piece, ...]
    ended: str

    @property
    def seconds(self) -> float:
        """CPU time of all answers."""
        return sum(piece.seconds for piece in self.pieces)

    @property
    def values(self) -> dict[str, float]:
        """Numbers by id."""
        return {name: value for piece in self.pieces for name, value in piece.values.items()}

    def count(self, kind: str) -> int:
        """How many modes or gains were answered."""
        return sum(len(piece.values) for piece in self.pieces if piece.kind == kind)

    def seconds_until(self, gains: float) -> float | None:
        """CPU time until that many gains were known; None if they never were."""
        seconds, known = 0.0, 0
        for piece in self.pieces:
            seconds += piece.seconds
            known += len(piece.values) if piece.kind == "gains" else 0
            if known >= gains:
                return seconds
        return None


def milliseconds(refresh: Callable[[], Assessment]) -> tuple[float, float]:
    """Time of the first refresh and median of the next, with everything a page needs of it."""
    times = []
    for _ in range(REPEATS + 1):
        started = time.process_time()
        assessment = refresh()
        assert assessment.causes
        assert assessment.open_observations
        times.append(time.process_time() - started)
    return 1e3 * times[0], 1e3 * statistics.median(times[1:])


def work(
    sender: Connection, backend: str, network: FaultNetwork, evidence: Evidence, seconds: float
) -> None:
    """Body of a package's process: send every piece as soon as it is answered."""
    warnings.simplefilter("ignore")  # the packages warn about themselves
    resource.setrlimit(resource.RLIMIT_AS, (MEMORY_BYTES, MEMORY_BYTES))
    pieces = refresh_pieces(backend, Engine(network), evidence, seconds)
    left, ended = seconds, ""
    while not ended:
        # The system ends a process that is stuck in one answer.
        cpu = math.ceil(time.process_time() + max(left, 0.0) + PREPARING_SECONDS)
        resource.setrlimit(resource.RLIMIT_CPU, (cpu, resource.RLIM_INFINITY))
        try:
            piece = next(pieces, None)
        except Exception as error:  # a package that runs out of memory raises whatever it likes
            ended = "out of memory" if "alloc" in str(error) else f"{error!r}"[:60]
        else:
            if piece:
                left -= piece.seconds
                sender.send(piece)
            else:
                ended = "done" if left >= 0.0 else "out of time"
    sender.send(ended)


def ask_package(backend: str, network: FaultNetwork, evidence: Evidence, seconds: float) -> Answer:
    """Ask a package in a process of its own."""
    processes = multiprocessing.get_context("spawn")
    receiver, sender = processes.Pipe(duplex=False)
    process = processes.Process(target=work, args=(sender, backend, network, evidence, seconds))
    process.start()
    sender.close()
    pieces: list[Piece] = []
    ended = ""
    while not ended:
        try:
            message = receiver.recv()
        except EOFError:
            process.join()
            stuck = process.exitcode == -signal.SIGXCPU
            message = "out of time within one answer" if stuck else "died, out of memory"
        if isinstance(message, str):
            ended = message
        else:
            pieces.append(message)
    process.join()
    return Answer(pieces=tuple(pieces), ended=ended)


def own_refreshes(network: FaultNetwork, calls: Mapping[int, Evidence]) -> dict[int, Own]:
    """Measure the engine after each number of findings."""
    engine, checked = Engine(network), CheckedEngine(network)
    engine.assess(Evidence())  # builds the tables that every call shares
    return {count: _own(engine, checked, evidence) for count, evidence in calls.items()}


def _own(engine: Engine, checked: CheckedEngine, evidence: Evidence) -> Own:
    first_ms, unchecked_ms = milliseconds(lambda: engine.assess(evidence, check_missing_mass=False))
    _, checked_ms = milliseconds(lambda: engine.assess(evidence))
    fast = engine.assess(evidence, check_missing_mass=False)
    careful = engine.assess(evidence)
    all_sets = checked.posterior(checked.own, evidence)
    expected = checked.answers(all_sets)
    ids = engine.compiled
    own = Own(
        first_ms=first_ms,
        unchecked_ms=unchecked_ms,
        checked_ms=checked_ms,
        standing=len(engine.state.table),
        used=len(careful.posterior.weights),
        missing_stated=stated(careful.missing),
        missing_found=-math.expm1(fast.posterior.log_evidence - all_sets.log_evidence),
        mode_error=largest_difference(
            dict(zip(ids.mode_ids, fast.mode_probabilities.tolist(), strict=True)), expected
        ),
        gain_error=largest_difference(
            dict(zip(ids.observation_ids, fast.gains.bits.tolist(), strict=True)), expected
        ),
        plain=checked.answers(checked.posterior(checked.plain, evidence)),
    )
    # No probability can be off by more than the mass that is missing.
    assert own.mode_error <= own.missing_found + TOLERANCE
    return own


def stated(missing: MissingMass) -> str:
    """Missing mass as the engine states it."""
    if missing.certainty is Certainty.UNKNOWN:
        return "unknown"
    return f"{missing.share:.1e} {missing.certainty}"


def largest_difference(values: Mapping[str, float], expected: Mapping[str, float]) -> float:
    """Largest difference over the ids of ``values``; 0 if there are none."""
    return max((abs(value - expected[name]) for name, value in values.items()), default=0.0)


def own_table(refreshes: Mapping[int, Own]) -> Iterator[str]:
    """Lines of the engine's table."""
    yield (
        "| findings | ms, no check | ms, first time | ms, checked | sets | sets used "
        "| missing, stated | missing, found | mode error | gain error |"
    )
    yield "|---|---|---|---|---|---|---|---|---|---|"
    for count, own in refreshes.items():
        yield (
            f"| {count} | {own.unchecked_ms:.1f} | {own.first_ms:.1f} | {own.checked_ms:.1f} "
            f"| {own.standing} | {own.used} | {own.missing_stated} | {own.missing_found:.1e} "
            f"| {own.mode_error:.0e} | {own.gain_error:.0e} bits |"
        )


def package_line(network: FaultNetwork, count: int, backend: str, own: Own, answer: Answer) -> str:
    """Line of the packages' table; checks the answers first."""
    difference = largest_difference(answer.values, own.plain)
    assert difference <= TOLERANCE, f"{backend} differs by {difference:.1e} at {count} findings"
    looks = len(network.observations) - count
    if not answer.pieces:
        return f"| {count} | {backend} | 0 | 0 of {looks} | | | | | | | {answer.ended} |"
    sign = "" if answer.ended == "done" else "> "
    most = answer.seconds_until(MOST * looks)
    most_text = (
        "| | |" if most is None else f"| {most:.2f} | {1e3 * most / own.unchecked_ms:,.0f} |"
    )
    ratios = [1e3 * answer.seconds / ms for ms in (own.unchecked_ms, own.checked_ms)]
    return (
        f"| {count} | {backend} | {answer.count('modes')} | {answer.count('gains')} of {looks} "
        f"| {difference:.0e} {most_text} {sign}{answer.seconds:.2f} "
        f"| {sign}{ratios[0]:,.0f} | {sign}{ratios[1]:,.0f} | {answer.ended} |"
    )


def run(variant: str, seed: int, seconds: float) -> None:
    """Measure one variant of the network and print its two tables."""
    network = NETWORKS[variant](load_network("top_load_washer"))
    machine, calls = draw_call(Engine(network), seed, FINDINGS)
    print(f"\n## {variant}: {network.id}, seed {seed}, failed: {', '.join(machine.failed)}\n")
    refreshes = own_refreshes(network, calls)
    print(*own_table(refreshes), sep="\n", flush=True)
    print(
        "\n| findings | package | modes | gains | largest difference | s, 9 of 10 gains "
        "| times the engine | s, all | times the engine | times the checked engine | ended |"
        "\n|---|---|---|---|---|---|---|---|---|---|---|"
    )
    for count, evidence in calls.items():
        for backend in MODELS:
            answer = ask_package(backend, network, evidence, seconds)
            print(package_line(network, count, backend, refreshes[count], answer), flush=True)


def main() -> None:
    """Run what the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--seed", type=int, default=1, help="one seed is one call")
    parser.add_argument("--seconds", type=float, default=120.0, help="CPU time of a package")
    parser.add_argument("--network", choices=list(NETWORKS), action="append")
    words = parser.parse_args()
    for variant in words.network or NETWORKS:
        run(variant, words.seed, words.seconds)


if __name__ == "__main__":
    main()
