"""Proposed versions: rows, part-approval, provenance, effects on past calls, sensitivity."""

from datetime import date

import numpy as np
import pytest

from tests.builders import component, network, observation, random_network, sign
from tests.closed_jobs import NOW, job, one_sign_network, random_columns
from triage.errors import UnknownChangeError
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.learning.columns import JobColumns
from triage.learning.effects import effects
from triage.learning.estimation import learn, learn_from
from triage.learning.layout import Layout
from triage.learning.minutes import learned_minutes
from triage.learning.parameters import parameters_of
from triage.learning.patterns import shard_of
from triage.learning.proposal import SOURCE, ProposedVersion, propose
from triage.learning.sensitivity import moved, posterior_slope, sensitivities
from triage.learning.values import LearningSettings
from triage.network.dump import dump_network
from triage.network.loader import read_network_text
from triage.network.values import Grade

DAYS = (date(2026, 1, 2), date(2026, 6, 30))


def proposal(seed: int = 0, jobs: int = 200) -> ProposedVersion:
    given = random_network(seed)
    layout = Layout(given)
    columns = random_columns(layout, jobs, np.random.default_rng(seed))
    settings = LearningSettings(channel_jobs_min=20.0)
    return propose(learn(layout, [shard_of(columns, layout)], settings), (), DAYS)


def numbers(network_: object) -> list[np.ndarray]:
    found = parameters_of(network_)  # type: ignore[arg-type]
    return [found.shares, *found.contexts, *found.links, *found.channels]


@pytest.mark.parametrize("seed", [0, 3])
def test_all_changes_together_are_what_was_learned(seed: int) -> None:
    found = proposal(seed)

    for ours, theirs in zip(
        numbers(found.network),
        [
            found.learned.shares,
            *found.learned.contexts,
            *found.learned.links,
            *found.learned.channels,
        ],
        strict=True,
    ):
        np.testing.assert_allclose(ours, theirs, atol=1e-9)


def test_no_change_approved_leaves_every_number_and_counts_the_version_up() -> None:
    found = proposal()

    same = found.applied([])

    assert same.version == found.base.version + 1
    for ours, theirs in zip(numbers(same), numbers(found.base), strict=True):
        np.testing.assert_allclose(ours, theirs, atol=1e-12)


def test_approving_one_share_scales_the_others_and_touches_nothing_else() -> None:
    found = proposal()
    change = next(c for c in found.changes if c.kind == "share")

    part = found.applied([change.key])

    before, after = parameters_of(found.base), parameters_of(part)
    place = change.place[0]
    assert after.shares[place] == pytest.approx(change.after)
    assert after.shares.sum() == pytest.approx(1.0)
    others = np.delete(after.shares, place) / np.delete(before.shares, place)
    np.testing.assert_allclose(others, others[0])
    for ours, theirs in zip(after.links, before.links, strict=True):
        np.testing.assert_allclose(ours, theirs, atol=1e-12)


def test_changed_numbers_say_where_they_come_from_and_others_keep_their_source() -> None:
    found = proposal()
    change = next(c for c in found.changes if c.kind == "link")

    part = found.applied([change.key])

    changed = change.key.split(":")[1]
    assert part.signs[changed].provenance.source == SOURCE
    assert part.signs[changed].provenance.grade is Grade.MEASURED
    assert part.sources[SOURCE] == "own closed jobs, 2026-01-02..2026-06-30, 200 jobs"
    others = [s for name, s in part.signs.items() if name != changed]
    assert {entry.provenance.source for entry in others} == {"test"}


def test_every_change_has_an_interval_around_it_and_a_reason() -> None:
    changes = proposal().changes

    kinds = {change.kind for change in changes}
    assert kinds == {"share", "multiplier", "context", "leak", "link", "row", "channel"}
    assert all(change.low <= change.after <= change.high for change in changes)
    assert all("the network says" in change.why for change in changes)
    assert len({change.key for change in changes}) == len(changes)


def test_interval_of_a_strength_is_that_of_its_beta_distribution() -> None:
    from scipy.stats import beta

    given = one_sign_network(strength=0.5)
    jobs = [job(k, "pump.burnt", f"listens={'yes' if k < 6 else 'no'}") for k in range(8)]

    found = propose(
        learn_from(given, jobs, LearningSettings(stated_weight=1.0), NOW), (), DAYS
    ).changes
    change = next(c for c in found if c.key == "link:hums:pump.burnt")

    # 10 jobs' worth at 0.5, then 6 of 8.
    assert (change.before, change.after) == pytest.approx((0.5, 11 / 18))
    assert (change.low, change.high) == pytest.approx(tuple(beta.ppf([0.05, 0.95], 11, 7)))
    assert change.is_thin
    assert change.why.startswith("shown by that cause in 75% of 8.0 jobs")


def test_unknown_change_is_refused_with_the_nearest_key() -> None:
    with pytest.raises(UnknownChangeError, match=r'Did you mean "share:c0'):
        proposal().applied(["share:c0.m9"])


def test_minutes_follow_the_normal_rule_on_logarithms_worked_by_hand() -> None:
    # Median 1 minute worth 20 jobs; 5 jobs of 4 minutes: exp(5 ln 4 / 25) = 4 ** 0.2.
    given = one_sign_network()
    jobs = [job(k, "pump.burnt", minutes={"listens": 4.0, "unknown": 9.0}) for k in range(5)]

    (found,) = learned_minutes(given, jobs, LearningSettings())

    assert found.id == "listens"
    assert found.after == pytest.approx(4.0**0.2)
    assert found.low < found.after < found.high < 4.0
    assert found.jobs == 5


def test_minutes_are_a_change_like_any_other() -> None:
    given = one_sign_network()
    jobs = [job(k, "pump.burnt", minutes={"listens": 4.0}) for k in range(30)]
    settings = LearningSettings()

    learned = learn_from(given, jobs, settings, NOW)
    found = propose(learned, learned_minutes(given, jobs, settings), DAYS)

    applied = found.applied(["minutes:listens"])
    assert applied.observations["listens"].minutes == pytest.approx(4.0**0.6)
    assert applied.observations["listens"].provenance.source == SOURCE


def test_effects_name_the_calls_whose_first_cause_or_next_step_changes() -> None:
    given = two_cause_network(0.6)
    other = two_cause_network(0.4)
    calls = [Evidence.of(), Evidence.of(Finding("says_b", "yes")), Evidence.of(Finding("x", "y"))]

    found = effects(Engine(given), Engine(other), calls)

    assert found.calls == 3
    assert found.unusable == (2,)
    assert [entry.call for entry in found.changed if entry.cause_changes] == [0]
    assert found.changed[0].before.cause == "a.m"
    assert found.changed[0].after.cause == "b.m"


def two_cause_network(share: float):  # type: ignore[no-untyped-def]
    return network(
        [component("a", {"m": share}), component("b", {"m": 1.0 - share})],
        [sign("s", {"b.m": 0.95}, leak=0.01)],
        [observation("says_b", "s", ((0.95, 0.05), (0.05, 0.95)))],
        expected_failed_modes=1.0,
    )


@pytest.mark.parametrize(("prior", "slope"), [(0.05, 4.591837), (0.1, 2.777778), (0.2, 1.331361)])
def test_slope_of_a_posterior_equals_the_worked_example(prior: float, slope: float) -> None:
    # Posterior of a 0.9 / 0.1 test by its prior: (0.9 t) / (0.1 + 0.8 t), derivative by hand.
    weight = np.array([prior, 1.0 - prior])
    likelihood = np.array([0.9, 0.1])

    found = posterior_slope(weight, likelihood, np.array([0.9, -0.1]), np.array([True, False]))

    assert found == pytest.approx(slope, abs=1e-6)


def test_moved_strength_moves_its_log_odds() -> None:
    np.testing.assert_allclose(moved(np.array([0.2, 0.8]), 0.5)[1], 0.8683, atol=1e-4)
    np.testing.assert_allclose(moved(np.array([1.0, 0.0]), 0.5), [1.0, 0.0])


def test_shift_of_the_posterior_equals_that_of_a_network_with_the_number_moved() -> None:
    given = two_cause_network(0.55)
    layout = Layout(given)
    calls = JobColumns.of(layout, np.array([[2, 1, 0]], dtype=np.int8), np.full(3, -1))

    found = {entry.key: entry for entry in sensitivities(given, calls, step_nats=0.5)}

    # By hand for the first call: P(b) ~ .45 (.05 + .9 s), P(a) ~ .55 (.05 + .9 * .01).
    strength = 0.95 + 0.05 * 0.01
    assert found["link:s:b.m"].value == pytest.approx(0.95)

    def posterior(link: float) -> float:
        shown = link + (1.0 - link) * 0.01
        b = np.array([0.05 + 0.9 * shown, 0.95 - 0.9 * shown])
        a = np.array([0.05 + 0.9 * 0.01, 0.95 - 0.9 * 0.01])
        return 0.45 * b / (0.45 * b + 0.55 * a)

    assert strength > 0.95
    shifts = [
        np.abs(posterior(1 / (1 + 0.05 / 0.95 * np.exp(-step))) - posterior(0.95)).sum() / 3
        for step in (0.5, -0.5)
    ]
    assert found["link:s:b.m"].mean_shift == pytest.approx(max(shifts), abs=1e-9)
    assert found["share:a.m"].flipped_share == pytest.approx(1 / 3)


def test_network_with_all_changes_survives_its_file_format() -> None:
    given = load_small()
    layout = Layout(given)
    columns = JobColumns.of(
        layout,
        np.zeros((len(layout.compiled.observations), 40), dtype=np.int8),
        np.arange(40) % 5,
    )
    found = propose(learn(layout, [shard_of(columns, layout)], LearningSettings()), (), DAYS)

    again = read_network_text(dump_network(found.network), found.network.id)

    assert again == found.network


def load_small():  # type: ignore[no-untyped-def]
    from triage.network.catalogue import load_network

    return load_network("electric_dryer")
