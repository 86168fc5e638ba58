"""What the engine says about each worked case: after the phone call, and after the tests."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tests.cases.casebook import Case, read_cases
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence
from triage.network.catalogue import load_network
from triage.trade.words import match_words

FIRST_FROM_PHONE = 3  # causes a dispatcher reads out and prepares for


@dataclass(frozen=True, slots=True, kw_only=True)
class Placing:
    """Rank (from 1) and probability of each failed mode of a case, in the order of its truth."""

    ranks: tuple[int, ...]
    probabilities: tuple[float, ...]

    @property
    def is_found_from_phone(self) -> bool:
        """One of the causes is among the first three."""
        return min(self.ranks) <= FIRST_FROM_PHONE

    @property
    def is_found_after_tests(self) -> bool:
        """The cause is first; of ``n`` causes, all are among the first ``n + 2``."""
        count = len(self.ranks)
        return self.ranks == (1,) if count == 1 else max(self.ranks) <= count + 2


@dataclass(frozen=True, slots=True, kw_only=True)
class Outcome:
    """How one case went.

    ``leaders_from_phone`` and ``leaders_after_tests`` are the three causes on top with their
    probabilities; ``suggested`` are the observations and dangers that the caller's words suggest.
    """

    case: Case
    phone: Placing
    tests: Placing
    leaders_from_phone: tuple[tuple[str, float], ...]
    leaders_after_tests: tuple[tuple[str, float], ...]
    suggested: frozenset[str]

    @property
    def is_heard(self) -> bool:
        """The words suggest at least one thing that the caller did volunteer."""
        return bool(self.suggested & self.case.volunteered)


def placing(order: Sequence[tuple[str, float]], truth: Sequence[str]) -> Placing:
    """Place of each true cause in an order of (mode, probability), most probable first."""
    places = {mode: (rank, chance) for rank, (mode, chance) in enumerate(order, start=1)}
    return Placing(
        ranks=tuple(places[mode][0] for mode in truth),
        probabilities=tuple(places[mode][1] for mode in truth),
    )


def measured(name: str) -> tuple[Outcome, ...]:
    """Outcome of every worked case of a network, in file order."""
    network = load_network(name)
    engine = Engine(network)
    return tuple(_outcome(engine, case) for case in read_cases(name))


def _outcome(engine: Engine, case: Case) -> Outcome:
    from_phone = ranked(engine, case.after_phone)
    after_tests = ranked(engine, case.after_tests)
    return Outcome(
        case=case,
        phone=placing(from_phone, case.truth),
        tests=placing(after_tests, case.truth),
        leaders_from_phone=tuple(from_phone[:FIRST_FROM_PHONE]),
        leaders_after_tests=tuple(after_tests[:FIRST_FROM_PHONE]),
        suggested=frozenset(found.id for found in match_words(engine.network, case.caller_words)),
    )


def ranked(engine: Engine, evidence: Evidence) -> list[tuple[str, float]]:
    """Failure modes with their probabilities, most probable first; ties in network order.

    Taken from the standing table: these cases name one or two failed modes, so nothing is gained by
    growing it, and gains are not needed.
    """
    chances = engine.posterior(evidence).mode_probabilities
    order = np.argsort(-chances, kind="stable")
    return [(engine.compiled.mode_ids[mode], float(chances[mode])) for mode in order]
