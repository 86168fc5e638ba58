"""What appliance kinds lend each other besides strengths."""

from dataclasses import replace
from datetime import datetime, timedelta

import numpy as np
import pytest

from tests.builders import component, context, network, observation, sign
from tests.closed_jobs import NOW, job
from triage.learning.belief import prior_belief
from triage.learning.changes import Change, changes_of
from triage.learning.columns import JobColumns
from triage.learning.estimation import Learned, learn_columns
from triage.learning.layout import Layout
from triage.learning.lending import with_lent
from triage.learning.parameters import parameters_of
from triage.learning.pooling import learn_together
from triage.learning.prequential import score_closed_jobs
from triage.learning.values import ClosedJob, LearningSettings
from triage.network.values import Channel, FaultNetwork

SETTINGS = LearningSettings(multiplier_cases=20.0)
OLD = "pump.burnt", "age", "old"


def aging(name: str) -> FaultNetwork:
    """Half of the machines are old; the network thinks that pumps do not mind."""
    ages = {"burnt": {"age": {"old": 1.0}}}
    return network(
        [component("pump", {"burnt": 0.4}, multipliers=ages), component("belt", {"broken": 0.6})],
        [sign("hums", {"pump.burnt": 0.5})],
        [
            observation("asks_age", "age", ((1.0, 0.0), (0.0, 1.0)), about_context=True),
            observation("listens", "hums", ((0.9, 0.1), (0.1, 0.9))),
        ],
        contexts=[context("age", {"new": 0.5, "old": 0.5})],
        expected_failed_modes=1.0,
        name=name,
    )


def jobs_of(name: str, old_pumps: int, new_pumps: int) -> tuple[Layout, JobColumns]:
    """Pumps on old and new machines, and as many belts on each."""
    layout = Layout(aging(name))
    pump, belt = layout.row(["pump.burnt"]), layout.row(["belt.broken"])
    belts = (old_pumps + new_pumps) * 3 // 4
    label = np.array([pump] * (old_pumps + new_pumps) + [belt] * 2 * belts)
    ages = [2] * old_pumps + [1] * new_pumps + [1] * belts + [2] * belts
    answers = np.array([ages, [0] * len(ages)], dtype=np.int8)
    return layout, JobColumns.of(layout, answers, label)


def row_of(learned: Learned) -> Change:
    key = ":".join(("multiplier", *OLD))
    return next(row for row in changes_of(learned, ()) if row.key == key)


def test_kind_with_few_cases_learns_from_others_what_fails_more_on_old_machines() -> None:
    kinds = {"poor": jobs_of("poor", 2, 2), "rich": jobs_of("rich", 150, 50)}

    alone = learn_columns(*kinds["poor"], SETTINGS)
    pooled = learn_together(kinds, SETTINGS, only=["poor"]).learned["poor"]
    rich = learn_columns(*kinds["rich"], SETTINGS)

    assert rich.parameters.multipliers[OLD] > 1.4
    assert abs(alone.parameters.multipliers[OLD] - 1.0) < 0.1
    assert 1.15 < pooled.parameters.multipliers[OLD] < rich.parameters.multipliers[OLD]


def test_row_of_a_circumstance_says_how_many_cases_are_borrowed() -> None:
    kinds = {"poor": jobs_of("poor", 2, 2), "rich": jobs_of("rich", 150, 50)}

    row = row_of(learn_together(kinds, SETTINGS, only=["poor"]).learned["poor"])

    # 150 cases seen, damped by the 20 cases that two kinds may differ by: 150 * 20 / 170.
    assert row.borrowed == pytest.approx(150 * 20 / 170, rel=1e-3)
    assert row.before == 1.0
    assert row.prior_jobs == pytest.approx(20.0)
    assert row.jobs == pytest.approx(2.0)
    assert f"{row.borrowed:.1f} borrowed" in row.why


def test_cases_lent_and_own_cases_meet_in_the_gamma_posterior() -> None:
    layout, columns = jobs_of("rich", 150, 50)
    lender = learn_columns(layout, columns, SETTINGS)
    mean = parameters_of(layout.network)
    belief = prior_belief(layout, mean, SETTINGS, np.zeros(len(mean.channels)))

    lent = with_lent(belief, [lender])

    # The lender's gamma posterior has 20 + 150 cases over 20 + exposure, and says the ratio.
    exposure = 170 / lender.parameters.multipliers[OLD] - 20
    damped = 20 / (20 + 150)
    expected = (20 + damped * 150) / (20 + damped * exposure)
    assert lent.mean.multipliers[OLD] == pytest.approx(expected, rel=1e-3)
    assert lent.multiplier_cases[OLD] == pytest.approx(20 + damped * 150, rel=1e-3)


def test_cases_whose_machine_is_of_unknown_age_lend_nothing() -> None:
    layout, columns = jobs_of("rich", 150, 50)
    untold = JobColumns.of(layout, np.zeros_like(columns.answers), columns.label)
    lender = learn_columns(layout, untold, SETTINGS)
    mean = parameters_of(layout.network)
    belief = prior_belief(layout, mean, SETTINGS, np.zeros(len(mean.channels)))

    lent = with_lent(belief, [lender])

    assert lent.lent_cases.get(OLD, 0.0) < 1.0
    assert lent.mean.multipliers[OLD] == pytest.approx(1.0, abs=0.01)


def telling(name: str) -> FaultNetwork:
    """A burnt pump shows each of twelve signs in half of the cases, says the network."""
    sure = ((1.0, 0.0), (0.0, 1.0))
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign(f"s{k}", {"pump.burnt": 0.5}, leak=0.0) for k in range(12)],
        [observation(f"o{k}", f"s{k}", sure, channel=Channel.ON_SITE_TEST) for k in range(12)],
        expected_failed_modes=1.0,
        name=name,
    )


def showing(name: str, jobs: int, first_day: datetime, looked: int = 12) -> list[ClosedJob]:
    """Jobs, one a day, half of them pumps, nine of ten of which show each sign."""
    return [
        job(
            number,
            "belt.broken" if number % 2 else "pump.burnt",
            *(
                f"o{k}={'no' if number % 2 or (number // 2 + k) % 10 == 9 else 'yes'}"
                for k in range(looked)
            ),
            network=name,
            closed_at=first_day + timedelta(days=number),
        )
        for number in range(jobs)
    ]


def test_honest_scores_borrow_from_jobs_of_other_kinds_that_were_closed_before() -> None:
    given, other, settings = telling("poor"), telling("rich"), LearningSettings(stated_weight=1.0)
    jobs = [*showing("poor", 10, NOW), *showing("poor", 10, NOW + timedelta(days=10), looked=1)]

    def belts(others: list[ClosedJob], settings: LearningSettings = settings) -> np.ndarray:
        """Surprise of the last belts, of which one sign was looked at."""
        _, found = score_closed_jobs(given, jobs, settings, batch=10, others=[(other, others)])
        return found.learned_bits[11::2]

    earlier = showing("rich", 200, NOW - timedelta(days=300))
    alone = score_closed_jobs(given, jobs, settings, batch=10)[1].learned_bits[11::2]

    # Five pumps of five showed the sign, the network's half is worth 10: 10 of 15 do. Others' nine
    # of ten bring it to 0.8 or more, so that what shows nothing is a belt.
    np.testing.assert_allclose(alone, np.log2(1.0 + 1.0 / 3.0), atol=0.01)
    assert belts(earlier).max() < np.log2(1.0 + 0.2)
    np.testing.assert_array_equal(belts(showing("rich", 200, NOW + timedelta(days=60))), alone)
    np.testing.assert_array_equal(belts(earlier, replace(settings, learns_together=False)), alone)
