"""One job from the call to the end: questions, steps of the caller, and visits by a policy.

On the phone the caller says up to two things unasked, then answers the questions with the largest
gain per minute; then steps the caller can do are tried while they pay. If the machine still fails,
parts are loaded by the load rule and a policy plays the visit step by step. A repair whose parts
are not aboard means a return trip; the van is then loaded anew, with those parts. After a repair
everyone sees whether the machine works (``triage.simulation.perfect_check``).

Costs are what happened, in minor units: minutes of shop and customer, trips, parts fitted, parts
taken along in vain, and giving up. The minutes of a step vary (``CostModel.minutes_spread``); costs
count their mean, which is the same for every policy.
"""

import math
from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace
from statistics import NormalDist

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding, RepairDone
from triage.network.values import VOLUNTEERED, Observation, Repair, RepairBy
from triage.planning.problem.preparations import Setup
from triage.planning.shop.costs import CostModel
from triage.simulation.machines import Machine
from triage.simulation.perfect_check import CHECK, STILL_FAILS, WORKS
from triage.simulation.site_policies import SitePolicy
from triage.simulation.site_view import SiteView, parts_aboard, parts_loaded, repair_minor

VOLUNTEERED_MAX = 2  # complaints a caller gets out before the first question
GAIN_MIN_BITS = 0.005  # a question that tells less is not asked
SMALLEST_LEVEL = 2.0**-54  # below every number drawn but 0
STEPS_MAX = 60  # of a visit; whoever has not found it by then gives up


@dataclass(frozen=True, slots=True, kw_only=True)
class Call:
    """A call: what is known, the machine, and minutes of its questions and of all of it."""

    evidence: Evidence
    machine: Machine
    question_minutes: tuple[float, ...]
    minutes: float
    steps_done: tuple[str, ...]

    @property
    def questions(self) -> int:
        """How many questions and guided checks were answered."""
        return len(self.question_minutes)

    @property
    def is_solved(self) -> bool:
        """Whether the machine works without a visit."""
        return self.machine.works


@dataclass(frozen=True, slots=True, kw_only=True)
class Played:
    """What a job came to. ``wrong_parts`` were fitted although nothing they cure had failed.

    ``price_minor`` is what the customer pays; ``parts`` were fitted and something they cure had
    failed.
    """

    cost_minor: float
    price_minor: float = 0.0
    parts: frozenset[str] = frozenset()
    minutes_on_site: float = 0.0
    tests: int = 0
    repairs: int = 0
    wrong_parts: int = 0
    visits: int = 0
    is_solved: bool = True

    @property
    def is_solved_by_phone(self) -> bool:
        """Whether nobody had to come."""
        return self.is_solved and self.visits == 0

    @property
    def is_solved_on_first_visit(self) -> bool:
        """Whether one visit was enough."""
        return self.is_solved and self.visits == 1


def take_call(engine: Engine, machine: Machine, costs: CostModel, questions: int) -> Call:
    """Play the phone stage.

    Parameters
    ----------
    engine : Engine
        Of a network with a perfect check.
    machine : Machine
        May come from another network than the engine's, with the same names.
    costs : CostModel
    questions : int
        Most questions and guided checks.
    """
    *_, call = calls_question_by_question(engine, machine, questions)
    return with_caller_steps(engine, call, costs)


def calls_question_by_question(engine: Engine, machine: Machine, questions: int) -> Iterator[Call]:
    """The call after 0, 1, 2 ... questions, at most so many; no step was tried yet."""
    evidence = Evidence(tuple(_volunteered(engine, machine)))
    call = Call(evidence=evidence, machine=machine, question_minutes=(), minutes=0.0, steps_done=())
    yield call
    for _ in range(questions):
        question = _next_question(engine, call.evidence)
        if question is None:
            return
        call = replace(
            call,
            evidence=call.evidence.adding(_answer(machine, question, 0)),
            question_minutes=(*call.question_minutes, question.minutes),
            minutes=call.minutes + question.minutes,
        )
        yield call


def with_caller_steps(engine: Engine, call: Call, costs: CostModel) -> Call:
    """The call after the caller has tried what pays, best step first."""
    while not call.is_solved:
        step = _next_caller_step(engine, call, costs)
        if step is None:
            break
        call = _with_step(call, step)
    return call


def play_job(
    engine: Engine,
    call: Call,
    policy: SitePolicy,
    costs: CostModel,
    *,
    loaded: frozenset[str] | None = None,
) -> Played:
    """Play a job from the end of its call; a policy serves one job only.

    ``loaded`` are parts taken along at first; without them the load rule chooses.
    """
    phone_minor = costs.on_phone_minor(call.minutes)
    if call.is_solved:
        return Played(cost_minor=phone_minor)
    visit = _Visit(engine, call, costs, loaded)
    for _ in range(STEPS_MAX):
        step = policy.step(visit.view)
        if step is None:
            break
        if isinstance(step, Observation):
            visit.test(step)
        else:
            visit.repair(step)
            if visit.machine.works:
                return visit.played(phone_minor, is_solved=True)
    return visit.played(phone_minor + costs.unrepaired_minor, is_solved=False)


class _Visit:
    """A visit going on: machine, evidence, van, and what it has cost so far."""

    def __init__(
        self, engine: Engine, call: Call, costs: CostModel, loaded: frozenset[str] | None
    ) -> None:
        self.engine, self.costs = engine, costs
        self.machine = call.machine
        self._times: Counter[str] = Counter(call.steps_done)
        self._asked: Counter[str] = Counter(f.observation for f in call.evidence.findings)
        if loaded is None:
            loaded = parts_loaded(engine, call.evidence, costs)
        self._loaded = loaded
        self._taken, self._fitted = set(self._loaded), set[str]()
        self._cost_minor, self._minutes = costs.trip_minor, 0.0
        self._price_minor, self._needed = float(costs.service_fee_minor), set[str]()
        self._tests, self._repairs, self._wrong_parts, self._visits = 0, 0, 0, 1
        self._evidence, self._setup = call.evidence, Setup.found(engine.network)
        self._look()

    def test(self, test: Observation) -> None:
        """Make a test."""
        self._evidence = self._evidence.adding(
            replace(_answer(self.machine, test, self._asked[test.id]), by="technician")
        )
        self._asked[test.id] += 1
        self._tests += 1
        minutes = self._setup.minutes(test)
        self._setup = self._setup.after_test(test)
        self._take(minutes, test.id, self._asked[test.id])
        self._cost_minor += self.costs.on_site_minor(minutes)
        self._look()

    def repair(self, repair: Repair) -> None:
        """Do a repair, after a return trip if its parts are not aboard, and check."""
        if self.view.missing(repair):
            self._visits += 1
            self._setup = Setup.found(self.engine.network)
            self._cost_minor += self.costs.return_trip_minor
            self._loaded = parts_loaded(self.engine, self._evidence, self.costs)
            self._loaded |= frozenset(repair.parts)
            self._taken |= self._loaded
        before = self.machine
        self.machine = before.after(repair, self._times[repair.id])
        self._times[repair.id] += 1
        self._repairs += 1
        self._setup = self._setup.after_repair()
        self._take(repair.minutes, repair.id, self._times[repair.id])
        self._take(self.costs.verification_minutes, "check run", self._repairs)
        self._cost_minor += repair_minor(self.engine, repair, self.costs)
        if (
            self._times[repair.id] == 1
        ):  # made again because it did not hold: own work is guaranteed
            self._price_minor += self._price_of(repair)
        if repair.by is not RepairBy.LICENSED_TRADE:
            self._fitted |= set(repair.parts)
            if set(repair.cures) & set(before.failed):
                self._needed |= set(repair.parts)
            else:
                self._wrong_parts += len(repair.parts)
        answer = WORKS if self.machine.works else STILL_FAILS
        self._evidence = self._evidence.adding(
            RepairDone(repair.id), Finding(CHECK, answer, "technician")
        )
        self._look()

    def _take(self, minutes: float, *step: str | int) -> None:
        """Spend time on a step, longer or shorter than its minutes by chance."""
        variance = math.log1p(self.costs.minutes_spread**2)  # of the logarithm
        level = max(self.machine.draws.uniform("minutes", *step), SMALLEST_LEVEL)
        spread = math.sqrt(variance) * NormalDist().inv_cdf(level) - variance / 2.0
        self._minutes += minutes * math.exp(spread)

    def played(self, further_minor: float, *, is_solved: bool) -> Played:
        """What the job came to."""
        parts = self.engine.network.parts
        in_vain = sum(
            self.costs.carrying_minor(parts[part]) for part in sorted(self._taken - self._fitted)
        )
        return Played(
            cost_minor=self._cost_minor + in_vain + further_minor,
            price_minor=self._price_minor,
            parts=frozenset(self._needed),
            minutes_on_site=self._minutes,
            tests=self._tests,
            repairs=self._repairs,
            wrong_parts=self._wrong_parts,
            visits=self._visits,
            is_solved=is_solved,
        )

    def _price_of(self, repair: Repair) -> float:
        """What a repair adds to the price; a part costs anything between its low and high price."""
        parts = tuple(self.engine.network.parts[part] for part in repair.parts)
        low, high = (self.costs.price_minor(repair, parts, high=end) for end in (False, True))
        at = self.machine.draws.uniform("price", repair.id)
        return low + at * (high - low) - self.costs.service_fee_minor

    def _look(self) -> None:
        aboard = parts_aboard(self.engine, self._loaded)
        self.view = SiteView(self.engine, self._evidence, self.costs, aboard, self._setup)


def _volunteered(engine: Engine, machine: Machine) -> list[Finding]:
    """What the caller says unasked, at most ``VOLUNTEERED_MAX`` things, in an order by chance."""
    said = [
        entry.id
        for entry in engine.network.observations.values()
        if not entry.channel.is_on_site
        and machine.volunteers(machine.network.observations[entry.id])
    ]
    said.sort(key=lambda name: machine.draws.uniform("said first", name))
    return [Finding(name, VOLUNTEERED) for name in said[:VOLUNTEERED_MAX]]


def _answer(machine: Machine, observation: Observation, times_asked: int) -> Finding:
    """Answer by the channel of the machine's own network."""
    return machine.answer(machine.network.observations[observation.id], times_asked)


def _next_question(engine: Engine, evidence: Evidence) -> Observation | None:
    """Question or guided check with the largest gain per minute; None if none tells enough."""
    assessment = engine.assess(evidence, check_missing_mass=False)
    return next(
        (
            entry.observation
            for entry in assessment.open_observations
            if not entry.observation.channel.is_on_site and entry.gain_bits >= GAIN_MIN_BITS
        ),
        None,
    )


def _next_caller_step(engine: Engine, call: Call, costs: CostModel) -> Repair | None:
    """Step not done yet that saves most: probability times a visit spared, less its minutes."""
    found = engine.posterior(call.evidence).mode_probabilities
    place = engine.compiled.mode_position
    best, best_saved = None, 0.0
    for repair in engine.network.repairs.values():
        if repair.by is not RepairBy.CALLER or not repair.caller_steps:
            continue
        probability = min(1.0, sum(float(found[place[mode]]) for mode in repair.cures))
        on_site = costs.on_site_minor(repair.minutes + costs.verification_minutes)
        spared = probability * repair.success * (costs.trip_minor + on_site)
        saved = spared - costs.on_phone_minor(repair.minutes)
        if saved > best_saved and repair.id not in call.steps_done:
            best, best_saved = repair, saved
    return best


def _with_step(call: Call, step: Repair) -> Call:
    """The call after the caller did a step and looked whether the machine works."""
    machine = call.machine.after(step)
    answer = WORKS if machine.works else STILL_FAILS
    return replace(
        call,
        evidence=call.evidence.adding(RepairDone(step.id), Finding(CHECK, answer)),
        machine=machine,
        minutes=call.minutes + step.minutes,
        steps_done=(*call.steps_done, step.id),
    )
