"""What a network itself expects of its worked cases, by simulation.

For each case the same things have failed, the call opens with the same volunteered words and the
same questions and tests follow in the same order; what differs is what the network leaves open:
circumstances, signs and answers. They are drawn from the values of the network, and the ranking
is then held against the truth as for the written case.

Truth and questions are kept, because whoever wrote a case knew the truth when choosing the
questions: drawn truths under the same questions would be asked beside the point, and the network
would expect too little.

A call must open as written: machines are drawn and weighted by P(volunteered words | machine).
"""

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.stats import binom

from tests.cases.casebook import Case, knows, read_cases
from tests.cases.measure import placing, ranked
from tests.oracle import state_distribution
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.network.catalogue import load_network
from triage.network.values import VOLUNTEERED, FaultNetwork

IntArray = NDArray[np.int64]

SEED = 20260102
DRAWS = 100  # calls simulated for each case; the mean of 16 cases is then known within 0.03
POOL = 20_000  # machines weighted by how likely they open the call as written
CONFIDENCE = 0.99


@dataclass(frozen=True, slots=True, kw_only=True)
class Expected:
    """Mean chance over the cases that the cause is found, after the phone and after the tests."""

    cases: int
    draws: int
    phone: float
    tests: float


def hits_expected(rate: float, cases: int, confidence: float = CONFIDENCE) -> tuple[int, int]:
    """Two-sided binomial interval of the number of cases in which the cause is found."""
    tail = (1.0 - confidence) / 2.0
    return int(binom.ppf(tail, cases, rate)), int(binom.ppf(1.0 - tail, cases, rate))


def expected(name: str, draws: int = DRAWS) -> Expected:
    """Simulate every case of a network ``draws`` times."""
    engine = Engine(load_network(name))
    cases = read_cases(name)
    found = []
    for number, case in enumerate(cases):
        rng = np.random.default_rng([SEED, number, *name.encode()])
        for findings in simulated_findings(engine, case, draws, rng):
            at_phone = tuple(f for f in findings if f.by == "caller")
            found.append(
                (
                    placing(ranked(engine, Evidence(at_phone)), case.truth).is_found_from_phone,
                    placing(ranked(engine, Evidence(findings)), case.truth).is_found_after_tests,
                )
            )
    phone, tests = np.array(found).mean(axis=0)
    return Expected(cases=len(cases), draws=draws, phone=float(phone), tests=float(tests))


def simulated_findings(
    engine: Engine, case: Case, draws: int, rng: np.random.Generator
) -> list[tuple[Finding, ...]]:
    """Findings of ``draws`` calls that open like the case and are asked what it is asked."""
    network = engine.network
    made = [finding for finding in (*case.phone, *case.tests) if knows(finding)]
    states = _states(engine, case, made, rng)
    weights = np.ones(POOL)
    for finding in made:
        if finding.answer == VOLUNTEERED:
            entry = network.observations[finding.observation]
            weights *= np.array(entry.volunteered)[states[entry.target]]
    chosen = rng.choice(POOL, size=draws, p=weights / weights.sum())
    answers = [_answers(network, finding, states, chosen, rng) for finding in made]
    return [
        tuple(
            Finding(finding.observation, answer[call], finding.by)
            for finding, answer in zip(made, answers, strict=True)
        )
        for call in range(draws)
    ]


def _answers(
    network: FaultNetwork,
    finding: Finding,
    states: Mapping[str, IntArray],
    chosen: IntArray,
    rng: np.random.Generator,
) -> list[str]:
    """Answer of each chosen machine's owner or technician, drawn from the channel."""
    if finding.answer == VOLUNTEERED:
        return [VOLUNTEERED] * len(chosen)
    entry = network.observations[finding.observation]
    rows = np.array(entry.likelihood)[states[entry.target][chosen]].cumsum(axis=1)  # (calls, A)
    places = (rng.random((len(chosen), 1)) * rows[:, -1:] > rows).sum(axis=1)
    return [list(entry.answers)[place] for place in places]


def _states(
    engine: Engine, case: Case, made: list[Finding], rng: np.random.Generator
) -> dict[str, IntArray]:
    """Value of each context and shown state of each sign that is looked at, ``(POOL,)`` each."""
    network = engine.network
    compiled = engine.compiled
    members = np.array([[compiled.mode_position[mode] for mode in case.truth]])
    joint = engine.prior.context_joint(members)[:, 0]  # (C,)
    combination = rng.choice(len(joint), size=POOL, p=joint / joint.sum())
    states = {
        name: compiled.context_values[combination, place]
        for place, name in enumerate(network.contexts)
    }
    for finding in made:
        sign = network.observations[finding.observation].sign
        if sign is not None:
            _show(network, sign, set(case.truth), states, rng)
    return states


def _show(
    network: FaultNetwork,
    sign_id: str,
    failed: set[str],
    states: dict[str, IntArray],
    rng: np.random.Generator,
) -> None:
    """Draw a sign and let its masks act, the first that acts winning."""
    if sign_id in states:
        return
    sign = network.signs[sign_id]
    distribution = state_distribution(network, sign_id, failed)
    shown = rng.choice(len(sign.states), size=POOL, p=distribution / distribution.sum())
    for mask in reversed(sign.masks):
        _show(network, mask.masker, failed, states, rng)
        masker = network.signs[mask.masker].states
        acts = np.isin(states[mask.masker], [masker.index(state) for state in mask.states])
        shown[acts] = sign.states.index(mask.shows)
    states[sign_id] = shown
