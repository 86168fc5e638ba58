"""When to stop asking on the phone."""

import pytest

from tests.builders import component, network, observation, repair, sign
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.planning.policy.phone import PATIENT_QUESTIONS, patience, phone_advice
from triage.planning.shop.costs import CostModel
from triage.services.networks.engines import engine_for
from triage.services.wording import asking_sentence

COSTS = CostModel()


def _engine(minutes: float = 0.5) -> Engine:
    """Two exclusive causes with repairs of their own and one question that tells them apart."""
    return Engine(
        network(
            [component("a", {"x": 0.5}), component("b", {"y": 0.5})],
            [sign("s", {"a.x": 0.95, "b.y": 0.05})],
            [observation("asks", "s", [[0.95, 0.05], [0.05, 0.95]], minutes=minutes)],
            repairs=[repair("fix_a", ["a.x"]), repair("fix_b", ["b.y"])],
            expected_failed_modes=1.0,
        )
    )


def test_question_that_tells_two_repairs_apart_is_worth_asking() -> None:
    advice = phone_advice(_engine(), Evidence(), COSTS)

    assert advice.is_worth_asking
    assert advice.questions[0].observation.id == "asks"
    # Half the time the wrong repair would be tried first; the answer is right in about 0.86.
    assert advice.questions[0].saving_minor > 500


def test_question_that_costs_more_than_it_saves_is_not_worth_asking() -> None:
    assert not phone_advice(_engine(minutes=60.0), Evidence(), COSTS).is_worth_asking


def test_question_that_saves_only_a_little_more_than_it_costs_is_not_worth_asking() -> None:
    cheap = phone_advice(_engine(), Evidence(), COSTS).questions[0]
    minutes = 0.5 * cheap.saving_per_cost / 2.0  # now it saves twice its cost

    advice = phone_advice(_engine(minutes=minutes), Evidence(), COSTS)

    assert advice.questions[0].saving_per_cost == pytest.approx(2.0)
    assert not advice.is_worth_asking
    assert phone_advice(_engine(minutes=minutes / 5.0), Evidence(), COSTS).is_worth_asking


def test_questions_stand_by_what_they_save_per_cost() -> None:
    ratios = [
        question.saving_per_cost
        for question in phone_advice(engine_for("gas_dryer"), Evidence(), COSTS).questions
    ]

    assert ratios == sorted(ratios, reverse=True)


def test_nothing_is_left_to_ask_when_every_question_was_answered() -> None:
    answered = Evidence.of(Finding("asks", "yes"))

    assert phone_advice(_engine(), answered, COSTS).questions == ()
    assert not phone_advice(_engine(), answered, COSTS).is_worth_asking


def test_saving_is_never_negative() -> None:
    for answer in ("yes", "no"):
        known = Evidence.of(Finding("asks", answer, by="neighbour"))
        for question in phone_advice(_engine(), known, COSTS).questions:
            assert question.saving_minor >= -1e-9


def test_caller_grows_dearer_only_after_the_first_questions() -> None:
    assert patience(0) == patience(PATIENT_QUESTIONS) == 1.0
    assert patience(PATIENT_QUESTIONS + 1) > 1.0
    assert patience(PATIENT_QUESTIONS + 4) > patience(PATIENT_QUESTIONS + 1)


@pytest.mark.parametrize(
    ("count", "start"), [(0, "Enough asked"), (1, "One more question"), (5, "Asking still pays: 5")]
)
def test_advice_is_a_sentence(count: int, start: str) -> None:
    assert asking_sentence(count).startswith(start)
