"""What every shipped network keeps: numbers that are distributions, causes that can be told apart,
words a person can say."""

import re
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from triage.inference.compiled import CompiledNetwork
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.inference.missing_mass import evidence_without_cap
from triage.inference.posterior import likelihoods
from triage.inference.prior import Prior
from triage.network.catalogue import load_network, network_names, network_source
from triage.network.dump import dump_network
from triage.network.loader import check_file, read_network
from triage.network.values import (
    COULD_NOT_BE_RUN,
    UNTESTABLE,
    Channel,
    Combination,
    ComponentKind,
    FaultNetwork,
    Observation,
    RepairBy,
    SafetyClass,
)

EXACTLY = 1e-9
QUESTION_WORDS_MAX = 30  # to a caller; more is not taken in by ear
CHECK_WORDS_MAX = 36  # what to do comes before what to tell
TOLD_APART_MIN = 0.3  # total variation: the best observation separates any two causes this well
# What only a technician does; the breaker panel of a house is no panel of the machine.
TECHNICIAN_WORDS = re.compile(
    r"\b(?:panels? off|(?:access|back|front|rear|top) panel|cabinet|screws|screwdriver|multimeter"
    r"|meter|ohms?|volts?|voltage|continuity|terminals?|probes?)\b",
    re.IGNORECASE,
)
PLACEHOLDER = re.compile(r"TODO|TBD|FIXME|XXX|lorem|\?\?|\.\.\.|…|[<>{}\[\]]", re.IGNORECASE)

pytestmark = pytest.mark.parametrize("name", network_names())


def engine_of(name: str) -> Engine:
    return Engine(load_network(name))


def is_asked_of_the_caller(entry: Observation) -> bool:
    return not entry.channel.is_on_site


# ---- the file


def test_network_has_no_problems(name: str) -> None:
    problems = check_file(network_source(name))

    assert problems == ()


def test_network_written_and_read_again_is_the_same(name: str, tmp_path: Path) -> None:
    network = load_network(name)
    file = tmp_path / f"{network.id}.yaml"

    file.write_text(dump_network(network), encoding="utf-8")

    assert read_network(file) == network


# ---- numbers


def test_every_distribution_sums_to_one(name: str) -> None:
    network = load_network(name)
    distributions = {
        "shares": [m.share for part in network.components.values() for m in part.modes]
    }
    for context in network.contexts.values():
        distributions[f"context {context.id}"] = list(context.probabilities)
    for sign in network.signs.values():
        distributions[f"leak of {sign.id}"] = list(sign.leak)
        distributions |= {f"{sign.id} by {mode}": list(c) for mode, c in sign.causes.items()}
        distributions |= {f"{sign.id} {row.when}": list(row.then) for row in sign.rows}
    for entry in network.observations.values():
        distributions |= {f"{entry.id} {k}": list(r) for k, r in enumerate(entry.likelihood)}

    off = {
        where: sum(values)
        for where, values in distributions.items()
        if abs(sum(values) - 1.0) > EXACTLY or min(values) < 0.0
    }

    assert off == {}


def test_no_answer_is_certain_or_impossible(name: str) -> None:
    network = load_network(name)

    certain = {
        entry.id
        for entry in network.observations.values()
        for row in entry.likelihood
        if min(row) <= 0.0 or max(row) >= 1.0
    }

    assert certain == set()


def test_forced_test_of_a_sign_that_can_be_hidden_may_not_be_runnable(name: str) -> None:
    network = load_network(name)
    hideable = {sign.id for sign in network.signs.values() if UNTESTABLE in sign.states}

    without_answer = {
        entry.id
        for entry in network.observations.values()
        if entry.sign in hideable
        and entry.channel is Channel.ON_SITE_TEST
        and COULD_NOT_BE_RUN not in entry.answers
    }

    assert without_answer == set()


# ---- the prior


def exact_expectations(
    compiled: CompiledNetwork, prior: Prior
) -> tuple[np.ndarray, dict[tuple[str, str], float]]:
    """P(mode has failed), shape ``(F,)``, and P(both modes of a pair), over all sets, no cap."""
    pair_factor = {(first, second): factor for first, second, factor in prior.pairs}
    modes = np.zeros(compiled.mode_count)
    pairs = dict.fromkeys(pair_factor, 0.0)
    for context, odds, normaliser in zip(prior.context, prior.odds, prior.normaliser, strict=True):
        weights = [
            {
                state: np.prod(odds[list(state)])
                * np.prod([f for pair, f in pair_factor.items() if set(pair) <= set(state)])
                for state in root.states
            }
            for root in prior.roots
        ]
        sums = [sum(states.values()) for states in weights]
        for states, own in zip(weights, sums, strict=True):
            rest = context * np.prod(sums) / own / normaliser
            for state, weight in states.items():
                modes[list(state)] += rest * weight
                for pair in pairs:
                    pairs[pair] += rest * weight if set(pair) <= set(state) else 0.0
        modes[prior.exclusive] += context * odds[prior.exclusive] / normaliser
    ids = compiled.mode_ids
    return modes, {(ids[a], ids[b]): value for (a, b), value in pairs.items()}


def test_prior_reproduces_shares_and_pairs(name: str) -> None:
    engine = engine_of(name)
    network = engine.network
    expected = {
        mode.id: mode.share
        * (1.0 if part.kind is ComponentKind.NOTHING_FAILED else network.expected_failed_modes)
        for part in network.components.values()
        for mode in part.modes
    }

    modes, pairs = exact_expectations(engine.compiled, engine.prior)

    found = dict(zip(engine.compiled.mode_ids, modes, strict=True))
    assert found == pytest.approx(expected, abs=EXACTLY)
    assert pairs == pytest.approx(
        {pair.modes: pair.probability for pair in network.pairs}, abs=EXACTLY
    )


def test_prior_expects_as_many_failed_modes_as_stated(name: str) -> None:
    engine = engine_of(name)
    failing = ~engine.compiled.nothing_failed

    modes, _ = exact_expectations(engine.compiled, engine.prior)

    something_failed = 1.0 - modes[~failing].sum()
    assert modes[failing].sum() / something_failed == pytest.approx(
        engine.network.expected_failed_modes, abs=EXACTLY
    )


def test_prior_probability_of_a_circumstance_is_the_stated_one(name: str) -> None:
    engine = engine_of(name)
    network = engine.network
    asked = [entry for entry in network.observations.values() if entry.context is not None]
    expected = {
        f"{entry.id}={answer}": np.array(network.contexts[entry.target].probabilities)
        @ np.array(entry.likelihood)[:, place]
        for entry in asked
        for place, answer in enumerate(entry.answers)
    }

    found = {}
    for entry in asked:
        for answer in entry.answers:
            finding = (Finding(entry.id, answer),)
            likelihood = likelihoods(engine.compiled, finding, finding)
            everything = evidence_without_cap(engine.compiled, engine.prior, likelihood)
            assert everything is not None
            found[str(finding[0])] = np.exp(everything.log_evidence)

    assert found == pytest.approx(expected, abs=EXACTLY)


def test_standing_table_misses_little_of_the_prior(name: str) -> None:
    missing = engine_of(name).assess(Evidence()).missing

    assert missing.share < 1e-3


# ---- telling causes apart


def answer_tables(engine: Engine) -> dict[str, np.ndarray]:
    """P(answer | only this mode failed), shape ``(A, F)``, of each observation, masks included."""
    nothing = engine.posterior(Evidence())
    alone = nothing.weights * np.exp(nothing.log_evidence)
    tables = {}
    for entry in engine.network.observations.values():
        found = [engine.posterior(Evidence.of(Finding(entry.id, a))) for a in entry.answers]
        tables[entry.id] = np.array([f.weights * np.exp(f.log_evidence) / alone for f in found])
    return tables


def test_every_two_causes_are_told_apart_by_some_observation(name: str) -> None:
    engine = Engine(load_network(name), max_failed=1)
    members = engine.state.table.members[:, 0]
    ids = [engine.compiled.mode_ids[mode] for mode in members]
    apart = np.zeros((len(ids), len(ids)))

    for table in answer_tables(engine).values():
        difference = np.abs(table[:, :, None] - table[:, None, :]).sum(axis=0)
        apart = np.maximum(apart, difference / 2.0)

    alike = {
        (ids[a], ids[b]): round(float(apart[a, b]), 3)
        for a, b in combinations(range(len(ids)), 2)
        if apart[a, b] < TOLD_APART_MIN
    }
    assert alike == {}


def test_every_observation_can_matter(name: str) -> None:
    engine = engine_of(name)

    assessment = engine.assess(Evidence(), check_missing_mass=False)

    idle = [
        entry.observation.id
        for entry in assessment.open_observations
        if entry.gain_bits <= 1e-6 or np.ptp(entry.observation.likelihood, axis=0).max() < 0.2
    ]
    assert len(assessment.open_observations) == len(engine.network.observations)
    assert idle == []


def test_every_sign_is_caused_and_every_state_of_it_can_occur(name: str) -> None:
    network = load_network(name)

    never = {
        (sign.id, state)
        for sign in network.signs.values()
        for place, state in enumerate(sign.states)
        if sign.combination is Combination.NOISY_MAX
        and state != UNTESTABLE
        and max(sign.leak[place], *(cause[place] for cause in sign.causes.values())) == 0.0
    }

    assert never == set()
    assert [sign.id for sign in network.signs.values() if not sign.parents] == []


# ---- words


def words_of(network: FaultNetwork) -> dict[str, str]:
    """Every text for people, by where it stands."""
    texts = {"title": network.title, "description": network.description}
    for entry in network.observations.values():
        texts[f"{entry.id} title"] = entry.title
        texts[f"{entry.id} wording"] = entry.wording
        texts |= {f"{entry.id} answer {key}": text for key, text in entry.answers.items()}
        if entry.channel.is_on_site:
            texts[f"{entry.id} acceptance"] = entry.acceptance
    for repair in network.repairs.values():
        texts[f"{repair.id} title"] = repair.title
    for flag in network.safety_flags.values():
        texts |= {f"{flag.id} wording": flag.wording, f"{flag.id} script": flag.script}
        texts |= {f"{flag.id} title": flag.title, f"{flag.id} referral": flag.referral}
    for part in network.components.values():
        texts |= {f"{mode.id} title": mode.title for mode in part.modes}
    for kind in (network.cautions, network.preconditions, network.sources):
        texts |= dict(kind)
    return texts


def test_every_text_is_filled_in(name: str) -> None:
    texts = words_of(load_network(name))

    unfinished = {
        where: text for where, text in texts.items() if len(text) < 2 or PLACEHOLDER.search(text)
    }

    assert unfinished == {}


def test_every_sentence_is_ended(name: str) -> None:
    network = load_network(name)
    sentences = {entry.id: entry.wording for entry in network.observations.values()}
    sentences |= {
        f"{entry.id} acceptance": entry.acceptance
        for entry in network.observations.values()
        if entry.acceptance
    }
    sentences |= {
        repair.id: repair.caller_steps
        for repair in network.repairs.values()
        if repair.by is RepairBy.CALLER
    }
    for flag in network.safety_flags.values():
        sentences |= {f"{flag.id} script": flag.script, f"{flag.id} referral": flag.referral}
    sentences |= dict(network.cautions)

    open_ended = {
        where: text for where, text in sentences.items() if not re.search(r"\w[%)'\"]?[.?]$", text)
    }

    assert open_ended == {}


def test_question_to_the_caller_asks_something_in_few_words(name: str) -> None:
    network = load_network(name)
    questions = {
        entry.id: (entry.wording, entry.channel is Channel.GUIDED_CHECK)
        for entry in network.observations.values()
        if is_asked_of_the_caller(entry)
    } | {flag.id: (flag.wording, False) for flag in network.safety_flags.values()}

    too_long = {
        key: text
        for key, (text, is_check) in questions.items()
        if len(text.split()) > (CHECK_WORDS_MAX if is_check else QUESTION_WORDS_MAX)
    }
    asks_nothing = {
        key: text
        for key, (text, is_check) in questions.items()
        if not text.endswith("?") and not (is_check and re.search(r"\?|tell me", text))
    }

    assert too_long == {}
    assert asks_nothing == {}


def test_caller_is_never_asked_to_open_or_measure_anything(name: str) -> None:
    network = load_network(name)
    asked = {
        entry.id: " ".join([entry.wording, *entry.answers.values()])
        for entry in network.observations.values()
        if is_asked_of_the_caller(entry)
    } | {
        repair.id: repair.caller_steps
        for repair in network.repairs.values()
        if repair.by is RepairBy.CALLER
    }

    technical = {key: text for key, text in asked.items() if TECHNICIAN_WORDS.search(text)}
    behind_a_panel = {
        entry.id
        for entry in network.observations.values()
        if is_asked_of_the_caller(entry) and "panel_off" in entry.preconditions
    }

    assert technical == {}
    assert behind_a_panel == set()


def test_repair_by_the_caller_has_steps_to_say_and_no_other_has(name: str) -> None:
    network = load_network(name)

    with_steps = {repair.id for repair in network.repairs.values() if repair.caller_steps}

    assert with_steps == {
        repair.id for repair in network.repairs.values() if repair.by is RepairBy.CALLER
    }
    assert all(len(network.repairs[r].caller_steps.split()) >= 8 for r in with_steps)


# ---- what is named is used


def test_every_part_is_fitted_by_some_repair(name: str) -> None:
    network = load_network(name)

    fitted = {part for repair in network.repairs.values() for part in repair.parts}

    assert set(network.parts) == fitted


def test_every_caution_and_precondition_is_used_by_some_network(name: str) -> None:
    # Fragments share them: one network may not need all.
    shipped = [load_network(other) for other in network_names()]
    cautions = {
        caution
        for network in shipped
        for entry in (*network.observations.values(), *network.repairs.values())
        for caution in entry.cautions
    }
    preconditions = {
        state
        for network in shipped
        for entry in network.observations.values()
        for state in entry.preconditions
    }

    assert set(load_network(name).cautions) <= cautions
    assert set(load_network(name).preconditions) <= preconditions


def test_every_safety_class_is_present(name: str) -> None:
    network = load_network(name)

    present = {flag.safety_class for flag in network.safety_flags.values()}

    assert present == set(SafetyClass)


def test_verification_is_a_test_on_site(name: str) -> None:
    network = load_network(name)

    assert network.verification is not None
    assert network.observations[network.verification].channel is Channel.ON_SITE_TEST
