"""What closed jobs do not show: calls that were declined, and scores in the order of closing."""

from dataclasses import replace
from datetime import timedelta

import numpy as np
import pytest

from tests.builders import component, network, observation, sign
from tests.closed_jobs import NOW, job, one_sign_network
from triage.learning.estimation import learn_from
from triage.learning.prequential import grouped, keys_of, month_of, score_closed_jobs
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import FaultNetwork

SETTINGS = LearningSettings(share_jobs=1.0, channel_jobs_min=100.0, careless_share=0.0)


def telling_network() -> FaultNetwork:
    """A sign tells pump from belt in nineteen of twenty calls."""
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign("hums", {"pump.burnt": 0.999}, leak=0.001)],
        [observation("says", "hums", ((0.95, 0.05), (0.05, 0.95)))],
        expected_failed_modes=1.0,
    )


def calls(
    rng: np.random.Generator, *, if_pump: float = 1.0, if_hums: float = 1.0
) -> list[ClosedJob]:
    """2,000 calls, half of them pumps, closed with a known cause at rates that depend on it."""
    jobs = []
    for number in range(2000):
        is_pump = number % 2 == 0
        says = is_pump != (rng.random() < 0.05)
        rate = (if_pump if is_pump else 1.0) * (if_hums if says else 1.0)
        is_closed = rng.random() < rate
        cause = "pump.burnt" if is_pump else "belt.broken"
        answer = "yes" if says else "no"
        jobs.append(job(number, cause if is_closed else None, f"says={answer}"))
    return jobs


def test_declining_because_of_what_was_found_is_corrected_by_the_declined_calls(
    rng: np.random.Generator,
) -> None:
    jobs = calls(rng, if_hums=0.3)
    closed = [entry for entry in jobs if entry.causes]

    naive = learn_from(telling_network(), closed, SETTINGS, NOW).parameters.shares[0]
    corrected = learn_from(telling_network(), jobs, SETTINGS, NOW).parameters.shares[0]

    assert naive < 0.3
    assert corrected == pytest.approx(0.5, abs=0.02)


def test_declining_because_of_the_cause_itself_is_corrected_for_the_most_part_only(
    rng: np.random.Generator,
) -> None:
    jobs = calls(rng, if_pump=0.3)
    closed = [entry for entry in jobs if entry.causes]

    naive = learn_from(telling_network(), closed, SETTINGS, NOW).parameters.shares[0]
    corrected = learn_from(telling_network(), jobs, SETTINGS, NOW).parameters.shares[0]

    assert naive < 0.27
    assert 0.4 < corrected < 0.48


def test_closure_rates_correct_the_mix_of_causes_without_the_declined_calls(
    rng: np.random.Generator,
) -> None:
    jobs = [entry for entry in calls(rng, if_pump=0.3) if entry.causes]
    settings = LearningSettings(share_jobs=1.0, closure_rates={"pump.burnt": 0.3})

    shares = learn_from(telling_network(), jobs, settings, NOW).parameters.shares

    assert shares[0] == pytest.approx(0.5, abs=0.03)


def test_wrong_labels_cost_less_when_they_are_not_taken_as_certain(
    rng: np.random.Generator,
) -> None:
    from triage.learning.values import Confirmation, ConfirmedCause

    def labelled(confirmation: Confirmation) -> list[ClosedJob]:
        wrong = np.random.default_rng(7).random(1000) < 0.2
        jobs = []
        for number in range(1000):
            is_pump = (number % 2 == 0) != wrong[number]
            cause = ConfirmedCause(
                mode="pump.burnt" if is_pump else "belt.broken", confirmation=confirmation
            )
            answer = "yes" if number % 2 == 0 else "no"
            jobs.append(job(number, None, f"says={answer}", causes=(cause,)))
        return jobs

    given = telling_network()
    trusted = learn_from(given, labelled(Confirmation.VERIFIED), SETTINGS, NOW)
    doubting = replace(SETTINGS, judged_reliability=0.8)
    doubted = learn_from(given, labelled(Confirmation.JUDGED), doubting, NOW)

    strength = [found.parameters.links[0][1, 1] for found in (trusted, doubted)]
    assert strength[0] < 0.9
    assert strength[1] > 0.97


def closed_jobs(count: int, rng: np.random.Generator) -> list[ClosedJob]:
    """Jobs of a shop in which the pump is behind most calls, one a day, newest first."""
    causes = ["pump.burnt" if rng.random() < 0.9 else "belt.broken" for _ in range(count)]
    return [
        job(number, cause, closed_at=NOW - timedelta(days=number), person=f"p{number % 2}")
        for number, cause in enumerate(causes)
    ]


def test_jobs_are_scored_in_the_order_of_closing_and_learning_pays(
    rng: np.random.Generator,
) -> None:
    jobs = closed_jobs(120, rng)

    ordered, scored = score_closed_jobs(
        one_sign_network(), jobs, LearningSettings(share_jobs=10.0), batch=20
    )

    assert [entry.closed_at for entry in ordered] == sorted(entry.closed_at for entry in jobs)
    assert len(scored) == 120
    assert scored.frozen_bits == pytest.approx(1.0)
    assert scored.learned_bits[60:].mean() < 0.7
    assert scored.rank[60:].max() == 2
    assert (scored.happened.sum(axis=1) == 1).all()


def test_scores_split_by_person_and_month(rng: np.random.Generator) -> None:
    ordered, scored = score_closed_jobs(
        one_sign_network(), closed_jobs(70, rng), LearningSettings(), batch=35
    )

    people = grouped(scored, keys_of(ordered, scored, lambda entry: entry.person))
    months = grouped(scored, keys_of(ordered, scored, month_of))

    assert {name: len(group) for name, group in people.items()} == {"p0": 35, "p1": 35}
    assert list(months) == ["2026-04", "2026-05", "2026-06", "2026-07"]
    assert sum(len(group) for group in months.values()) == 70


def test_jobs_whose_cause_is_unknown_are_learned_from_and_not_scored() -> None:
    jobs = [job(1, "pump.burnt"), job(2, None), job(3, "drum.cracked")]

    ordered, scored = score_closed_jobs(one_sign_network(), jobs, LearningSettings())

    assert [entry.id for entry in ordered] == ["job-1", "job-2"]
    assert len(scored) == 1


def test_no_jobs_give_no_scores() -> None:
    ordered, scored = score_closed_jobs(one_sign_network(), [], LearningSettings())

    assert ordered == ()
    assert len(scored) == 0
