"""Closed jobs become columns: labels, trust, age, what is left out."""

from datetime import UTC, datetime, timedelta

import numpy as np
import pytest

from tests.builders import component, network, observation, sign
from tests.closed_jobs import NOW, job, one_sign_network
from triage.errors import ClosedJobError, LearningSettingsError, UnknownAnswerError
from triage.inference.evidence import Finding
from triage.learning.columns import columns_of, job_weights, label_reliability, layout_for
from triage.learning.estimation import learn_from
from triage.learning.layout import RATIO_BINS, Layout, ratio_bin
from triage.learning.model import Model
from triage.learning.values import (
    CallBack,
    Complaint,
    Confirmation,
    ConfirmedCause,
    LearningSettings,
    Outcome,
)
from triage.network.catalogue import load_network
from triage.network.reading import reading_likelihood
from triage.network.values import ComponentKind, FaultNetwork

SETTINGS = LearningSettings()


def three_cause_network() -> FaultNetwork:
    return network(
        [
            component("pump", {"burnt": 0.4}),
            component("belt", {"broken": 0.3}),
            component("motor", {"burnt": 0.2}),
            component("nothing", {"normal": 0.06, "gone": 0.04}, ComponentKind.NOTHING_FAILED),
        ],
        [sign("hums", {"pump.burnt": 0.9, "motor.burnt": 0.4})],
        [observation("says", "hums", ((0.9, 0.1), (0.2, 0.8)))],
    )


def columns(jobs: list, given: FaultNetwork | None = None, settings=SETTINGS):  # type: ignore[no-untyped-def]
    given = given or three_cause_network()
    layout = layout_for(jobs, given)
    return layout, columns_of(jobs, layout, settings, NOW)


def test_verified_cause_is_certain_and_several_make_one_hypothesis() -> None:
    both = tuple(ConfirmedCause(mode=mode) for mode in ("pump.burnt", "belt.broken"))

    layout, found = columns([job(1, "pump.burnt"), job(2, None, causes=both)])

    assert found.is_certain.all()
    assert [layout.set_of(row) for row in found.label] == [
        {"pump.burnt"},
        {"pump.burnt", "belt.broken"},
    ]


def test_set_larger_than_the_table_is_added_to_it() -> None:
    modes = ("pump.burnt", "belt.broken", "motor.burnt")
    three = tuple(ConfirmedCause(mode=mode) for mode in modes)

    layout, found = columns([job(1, None, causes=three)])

    assert layout.set_of(int(found.label[0])) == set(modes)


def test_job_without_a_known_cause_stays_in_with_every_hypothesis_open() -> None:
    _, found = columns([job(1, None, "says=yes")])

    assert (found.label[0], found.belief[0]) == (-1, -1)
    assert not found.is_certain[0]


def test_no_fault_found_leaves_only_the_ways_in_which_nothing_failed() -> None:
    layout, found = columns([job(1, None, outcome=Outcome.NO_FAULT_FOUND)])

    possible = [layout.set_of(int(row)) for row in np.flatnonzero(found.beliefs[found.belief[0]])]

    assert possible == [{"nothing.normal"}, {"nothing.gone"}]


def test_suspected_causes_weigh_as_stated_and_the_rest_is_spread() -> None:
    layout, found = columns([job(1, None, suspected={"pump.burnt": 0.6, "belt.broken": 0.3})])

    belief = found.beliefs[found.belief[0]]

    each = 0.1 / len(layout.members)
    assert belief[layout.row(["pump.burnt"])] == pytest.approx(0.6 + each)
    assert belief[layout.row(["motor.burnt"])] == pytest.approx(each)
    assert belief.sum() == pytest.approx(1.0)


@pytest.mark.parametrize(
    ("confirmation", "expected"),
    [(Confirmation.VERIFIED, 1.0), (Confirmation.JUDGED, 0.9), (Confirmation.GUESSED, 0.7)],
)
def test_trust_in_a_label_follows_how_it_was_confirmed(
    confirmation: Confirmation, expected: float
) -> None:
    cause = (ConfirmedCause(mode="pump.burnt", confirmation=confirmation),)
    fresh = job(1, None, causes=cause, closed_at=NOW - timedelta(days=3))

    assert label_reliability(fresh, SETTINGS, NOW) == pytest.approx(expected)


def test_call_back_moves_trust_by_bayes_rule_worked_by_hand() -> None:
    # Judged 0.9; same complaint 0.02 if right, 0.5 if wrong: .018 / (.018 + .05) = 0.264706.
    # New complaint 0.03 / 0.06: .027 / (.027 + .006) = 0.818182. No call in 60 days: 0.95 against
    # 0.44: .855 / (.855 + .044) = 0.951057.
    cause = (ConfirmedCause(mode="pump.burnt", confirmation=Confirmation.JUDGED),)

    def trust(call_back: CallBack | None) -> float:
        return label_reliability(
            job(1, None, causes=cause, call_back=call_back),
            SETTINGS,
            datetime(2026, 7, 1, tzinfo=UTC),
        )

    assert trust(CallBack(days=9, complaint=Complaint.SAME)) == pytest.approx(0.264706, abs=1e-6)
    assert trust(CallBack(days=9, complaint=Complaint.NEW)) == pytest.approx(0.818182, abs=1e-6)
    assert trust(None) == pytest.approx(0.951057, abs=1e-6)
    assert trust(CallBack(days=400, complaint=Complaint.SAME)) == pytest.approx(0.951057, abs=1e-6)


def test_same_complaint_takes_certainty_from_a_verified_cause() -> None:
    back = job(1, "pump.burnt", call_back=CallBack(days=5, complaint=Complaint.SAME))

    assert label_reliability(back, SETTINGS, NOW) < 0.5
    assert label_reliability(job(1, "pump.burnt"), SETTINGS, NOW) == 1.0


def test_old_jobs_weigh_half_after_a_half_life() -> None:
    settings = LearningSettings(half_life_months=12.0)
    jobs = [job(1, None, closed_at=NOW - timedelta(days=365.25 * years)) for years in (0, 1, 2)]

    np.testing.assert_allclose(job_weights(jobs, settings, NOW), [1.0, 0.5, 0.25])


def test_closure_rates_weigh_jobs_and_leave_unknown_causes_out() -> None:
    settings = LearningSettings(closure_rates={"pump.burnt": 0.9, "belt.broken": 0.3})
    jobs = [job(1, "pump.burnt"), job(2, "belt.broken"), job(3, None)]

    _, found = columns(jobs, settings=settings)

    assert found.weight[1] / found.weight[0] == pytest.approx(3.0)
    assert found.weight.mean() == pytest.approx(1.0)
    assert found.left_out == {"jobs without a confirmed cause, closure rates being given": 1}


def test_finding_that_chose_an_unchecked_diagnosis_is_left_out() -> None:
    judged = (ConfirmedCause(mode="pump.burnt", confirmation=Confirmation.JUDGED),)
    jobs = [
        job(1, None, "says=yes", causes=judged, chose_diagnosis=("says",)),
        job(2, "pump.burnt", "says=yes", chose_diagnosis=("says",)),
    ]

    _, found = columns(jobs)

    assert found.answers.tolist() == [[0, 2]]
    assert found.left_out == {"findings that chose a diagnosis nobody checked": 1}


def test_names_the_network_no_longer_has_are_left_out_and_counted() -> None:
    jobs = [
        job(1, "pump.burnt", "asks_weather=rain", "says=perhaps"),
        job(2, "drum.cracked"),
        job(3, None, suspected={"drum.cracked": 0.5}),
        job(4, None, causes=tuple(ConfirmedCause(mode=m) for m in ("nothing.gone", "pump.burnt"))),
    ]

    _, found = columns(jobs)

    assert len(found) == 1
    assert found.left_out == {
        "findings of observations the network does not have": 1,
        "findings with answers the network does not have": 1,
        "jobs whose cause the network does not have": 3,
    }


def test_last_answer_to_an_observation_counts_and_no_knowledge_is_no_answer() -> None:
    _, found = columns([job(1, None, "says=yes", "says=no"), job(2, None, "says=dont_know")])

    assert found.answers.tolist() == [[1, 0]]


def test_unknown_answer_names_those_known() -> None:
    with pytest.raises(UnknownAnswerError, match='"no", "yes"'):
        Layout(three_cause_network()).code(0, "maybe")
    with pytest.raises(UnknownAnswerError, match=r"3\.5"):
        Layout(three_cause_network()).code(0, 3.5)


def test_reading_keeps_its_likelihood_ratio_within_half_a_bin() -> None:
    given = load_network("top_load_washer")
    layout = Layout(given)
    place, entry = next(
        (k, o) for k, o in enumerate(layout.compiled.observations) if o.reading is not None
    )
    assert entry.reading is not None
    value = 0.5 * sum(entry.reading.accept)
    table = Model.of(given, layout).tables[place]

    column = table[layout.code(place, value)]

    exact = np.array(reading_likelihood(entry.reading, value))
    assert ratio_bin(entry.reading, value) < len(RATIO_BINS)
    assert abs(np.log(column[0] / column[-1]) - np.log(exact[0] / exact[-1])) < 0.5


def test_learning_from_closed_jobs_counts_other_kinds_as_left_out() -> None:
    given = three_cause_network()
    jobs = [job(k, "pump.burnt", "says=yes") for k in range(30)]
    jobs.append(job(99, "pump.burnt", network="gas_dryer"))

    learned = learn_from(given, jobs, SETTINGS, NOW)

    assert learned.jobs == 30
    assert learned.left_out == {"jobs of other appliance kinds": 1}
    assert learned.parameters.shares[0] > 0.45
    assert learned.network.components["pump"].modes[0].share == learned.parameters.shares[0]


def test_job_without_findings_and_cause_teaches_nothing_and_is_counted() -> None:
    jobs = [job(1, "pump.burnt"), job(2, None), job(3, None, "says=yes")]

    learned = learn_from(three_cause_network(), jobs, SETTINGS, NOW)

    assert learned.jobs == 2
    assert learned.left_out == {"jobs without findings whose cause nobody knows": 1}


def test_no_jobs_leave_every_number_as_it_was() -> None:
    given = three_cause_network()

    learned = learn_from(given, [], SETTINGS, NOW)

    assert learned.jobs == 0
    np.testing.assert_allclose(learned.parameters.shares, learned.belief.mean.shares, atol=1e-9)
    np.testing.assert_allclose(learned.parameters.links[0], learned.belief.mean.links[0])


def test_closed_job_refuses_what_contradicts_itself() -> None:
    with pytest.raises(ClosedJobError, match='"job-1": got closed_at has no time zone'):
        job(1, None, closed_at=datetime(2026, 1, 1))
    with pytest.raises(ClosedJobError, match="both causes and suspected causes"):
        job(1, "pump.burnt", suspected={"belt.broken": 0.4})
    with pytest.raises(ClosedJobError, match="sum to at most 1"):
        job(1, None, suspected={"belt.broken": 0.8, "pump.burnt": 0.4})
    with pytest.raises(ClosedJobError, match="above 0"):
        job(1, None, suspected={"belt.broken": 0.0})


@pytest.mark.parametrize(
    ("changes", "text"),
    [
        ({"share_jobs": 0.0}, "share_jobs: got 0.0; expected more than 0"),
        (
            {"half_life_months": -1.0},
            "half_life_months: got -1.0; expected more than 0, or nothing",
        ),
        (
            {"judged_reliability": 1.5},
            "judged_reliability: got 1.5; expected above 0 and at most 1",
        ),
        ({"closure_rates": {"a.b": 0.0}}, "closure_rates a.b: got 0.0"),
    ],
)
def test_setting_out_of_its_range_is_refused(changes: dict[str, object], text: str) -> None:
    with pytest.raises(LearningSettingsError, match=text):
        LearningSettings(**changes)  # type: ignore[arg-type]


def test_findings_may_name_persons() -> None:
    _, found = columns([job(1, None, findings=(Finding("says", "yes", "technician"),))])

    assert found.answers.tolist() == [[2]]


def test_layout_of_one_cause_calls_lists_single_causes_only() -> None:
    layout = Layout(one_sign_network())

    assert [layout.set_of(row) for row in range(len(layout.members))] == [
        {"pump.burnt"},
        {"belt.broken"},
    ]
    assert layout.row(["pump.burnt", "belt.broken"]) is None
