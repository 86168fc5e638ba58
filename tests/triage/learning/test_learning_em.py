"""EM on closed jobs: equal to the engine and to pgmpy, never falling, right by hand."""

from dataclasses import replace

import numpy as np
import pytest

from tests.builders import component, network, observation, random_network, sign
from tests.closed_jobs import one_sign_network, random_columns
from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding
from triage.learning.columns import JobColumns
from triage.learning.estimation import Learned, learn
from triage.learning.expectation import e_step, serial
from triage.learning.layout import Layout
from triage.learning.model import Model
from triage.learning.parameters import network_with, parameters_of
from triage.learning.patterns import shard_of
from triage.learning.values import LearningSettings
from triage.network.values import VOLUNTEERED, ComponentKind, FaultNetwork, TableRow

WEAK_PRIOR = LearningSettings(
    share_jobs=1e-9,
    stated_weight=1e-9,
    tolerance_nats=1e-12,
    tolerance_per_job=1e-15,
    iterations_max=300,
    channel_jobs_min=100.0,  # what a channel is held for, in the tests that say so
)


def learned_from(network: FaultNetwork, columns: JobColumns, settings: LearningSettings) -> Learned:
    layout = Layout(network)
    return learn(layout, [shard_of(columns, layout)], settings)


def evidence_of(layout: Layout, columns: JobColumns, job: int) -> Evidence:
    findings = []
    for place, entry in enumerate(layout.compiled.observations):
        code = int(columns.answers[place, job])
        answers = [*entry.answers, VOLUNTEERED]
        if code > 0:
            findings.append(Finding(entry.id, answers[code - 1]))
    return Evidence(tuple(findings))


@pytest.mark.parametrize("seed", range(6))
def test_likelihoods_of_learning_equal_those_of_the_engine(seed: int) -> None:
    given = random_network(seed)
    layout = Layout(given, max_failed=3)
    engine = Engine(given, max_failed=3)
    columns = random_columns(layout, 25, np.random.default_rng(seed))

    log_joint = Model.of(given, layout).log_joint(columns)

    for job in range(25):
        expected = engine.posterior(evidence_of(layout, columns, job))
        total = np.logaddexp.reduce(log_joint[job])
        assert total == pytest.approx(expected.log_evidence, abs=1e-11)
        np.testing.assert_allclose(np.exp(log_joint[job] - total), expected.weights, atol=1e-12)


@pytest.mark.parametrize("seed", range(6))
def test_objective_never_falls_on_random_networks(seed: int) -> None:
    given = random_network(seed)
    columns = random_columns(Layout(given), 150, np.random.default_rng(seed))
    settings = LearningSettings(
        share_jobs=3.0,
        stated_weight=0.3,
        multiplier_cases=3.0,
        channel_jobs_min=5.0,
        tolerance_nats=1e-9,
        iterations_max=25,
    )

    steps = np.diff(learned_from(given, columns, settings).objectives)

    assert len(steps) > 5
    assert steps[0] > 1.0
    assert steps.min() >= -1e-9


@pytest.mark.parametrize("seed", [0, 3])
def test_learned_network_is_a_network_and_keeps_what_it_does_not_learn(seed: int) -> None:
    given = random_network(seed)
    columns = random_columns(Layout(given), 150, np.random.default_rng(seed))

    learned = learned_from(given, columns, LearningSettings()).network

    assert sum(m.share for c in learned.components.values() for m in c.modes) == pytest.approx(1.0)
    assert learned.expected_failed_modes == given.expected_failed_modes
    assert Engine(learned).posterior(Evidence()).weights.sum() == pytest.approx(1.0)
    for name, before in given.signs.items():
        after = learned.signs[name]
        impossible = np.array(before.leak) == 0.0
        assert np.array(after.leak)[impossible].sum() == 0.0
    asked = [entry.observations["asks_age"].likelihood for entry in (learned, given)]
    np.testing.assert_allclose(asked[0], asked[1], atol=1e-15)


def test_parameters_and_network_are_each_other_s_inverse() -> None:
    given = random_network(1)

    again = network_with(given, parameters_of(given))

    for name, before in given.signs.items():
        np.testing.assert_allclose(again.signs[name].leak, before.leak, atol=1e-15)
    assert [c.modes[0].share for c in again.components.values()] == pytest.approx(
        [c.modes[0].share for c in given.components.values()]
    )


def test_shares_and_strengths_follow_the_conjugate_rule_worked_by_hand() -> None:
    # 8 jobs: pump 6, of which the sign was looked at in 5 and present in 4; belt 2.
    given = one_sign_network(strength=0.5)
    layout = Layout(given)
    pump, belt = layout.row(["pump.burnt"]), layout.row(["belt.broken"])
    answers = np.array([[2, 2, 2, 2, 1, 0, 1, 1]], dtype=np.int8)
    columns = JobColumns.of(layout, answers, np.array([pump] * 6 + [belt] * 2))
    settings = LearningSettings(share_jobs=10.0, stated_weight=2.0)  # the sign states 10 jobs

    learned = learned_from(given, columns, settings)

    assert learned.parameters.shares[0] == pytest.approx((10 * 0.5 + 6) / (10 + 8))
    assert learned.parameters.links[0][1, 1] == pytest.approx((20 * 0.5 + 4) / (20 + 5))


def test_a_strength_seen_through_a_known_channel_is_the_corrected_rate_of_rogan_and_gladen() -> (
    None
):
    # [RoganGladen1978]_: p = (observed + specificity - 1) / (sensitivity + specificity - 1);
    # observed 0.30, sensitivity 0.9, specificity 0.95 give 0.2941176471.
    given = one_sign_network(strength=0.5, channel=((0.95, 0.05), (0.1, 0.9)))
    layout = Layout(given)
    answers = np.array([[2] * 30 + [1] * 70], dtype=np.int8)
    columns = JobColumns.of(layout, answers, np.full(100, layout.row(["pump.burnt"])))

    learned = learned_from(given, columns, WEAK_PRIOR)

    assert learned.parameters.links[0][1, 1] == pytest.approx(0.2941176471, abs=1e-6)


def test_two_channels_on_two_causes_are_identified_without_a_true_state() -> None:
    # Two tests in two populations identify their errors [HuiWalter1980]_: with exact expected
    # counts the true numbers are found back from wrong ones.
    truth = two_channel_network(0.9, 0.2, ((0.95, 0.05), (0.15, 0.85)), ((0.9, 0.1), (0.2, 0.8)))
    start = two_channel_network(0.8, 0.3, ((0.9, 0.1), (0.1, 0.9)), ((0.9, 0.1), (0.3, 0.7)))
    layout = Layout(start)
    model = Model.of(truth, layout)
    answers = np.array([[1, 1, 2, 2], [1, 2, 1, 2]], dtype=np.int8)
    every = JobColumns.of(layout, np.tile(answers, 2), np.repeat([0, 1], 4))
    log_joint = model.log_joint(every)[np.arange(8), every.label]
    weighted = JobColumns.of(
        layout, every.answers, every.label, weight=100_000.0 * np.exp(log_joint)
    )

    learned = learned_from(
        start,
        weighted,
        LearningSettings(
            stated_weight=1e-6, tolerance_nats=1e-9, tolerance_per_job=1e-15, iterations_max=3000
        ),
    )

    expected = parameters_of(truth)
    for ours, theirs in zip(learned.parameters.channels, expected.channels, strict=True):
        np.testing.assert_allclose(ours, theirs, atol=2e-3)
    np.testing.assert_allclose(learned.parameters.links[0][1:], expected.links[0][1:], atol=2e-3)


def two_channel_network(
    first: float,
    second: float,
    caller: tuple[tuple[float, ...], ...],
    test: tuple[tuple[float, ...], ...],
) -> FaultNetwork:
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign("hums", {"pump.burnt": first, "belt.broken": second}, leak=0.0)],
        [observation("says", "hums", caller), observation("tests", "hums", test)],
        expected_failed_modes=1.0,
    )


def test_one_channel_alone_is_held_where_two_looks_are_asked_for_and_said_to_be() -> None:
    given = one_sign_network()
    layout = Layout(given)
    columns = JobColumns.of(layout, np.full((1, 50), 2, dtype=np.int8), np.zeros(50, dtype=int))

    held = {entry.key: entry.reason for entry in learned_from(given, columns, WEAK_PRIOR).held}

    assert held["channel:listens"] == "no other observation looks at the same sign"
    assert "expected_failed_modes" in held


def test_one_channel_alone_and_its_strength_share_what_jobs_tell_by_their_weights() -> None:
    def moved(channel_jobs: float) -> tuple[float, float]:
        """How far strength and channel move, from 0.5 and 0.8, if every job says yes."""
        given = one_sign_network(0.5, ((0.8, 0.2), (0.2, 0.8)))
        listens = given.observations["listens"]
        weight = replace(listens.provenance, equivalent_sample_size=channel_jobs)
        weighed = replace(given, observations={"listens": replace(listens, provenance=weight)})
        layout = Layout(weighed)
        columns = JobColumns.of(layout, np.full((1, 50), 2, dtype=np.int8), np.zeros(50, dtype=int))
        settings = LearningSettings(stated_weight=1.0, channel_jobs_min=0.0)
        found = learned_from(weighed, columns, settings).parameters
        return found.links[0][1, 1] - 0.5, found.channels[0][1, 1] - 0.8

    light, heavy = moved(5.0), moved(500.0)

    assert light[0] > 0.1
    assert light[1] > 0.05
    assert heavy[1] < light[1] / 5
    assert heavy[0] > light[0]


def test_counts_of_shards_add_up_to_those_of_all_jobs() -> None:
    given = random_network(2)
    layout = Layout(given)
    columns = random_columns(layout, 120, np.random.default_rng(5))
    start = parameters_of(given)

    whole = e_step(layout, shard_of(columns, layout), start)
    parts = serial(layout, [shard_of(part, layout) for part in columns.split(3)])(start)

    assert parts.log_likelihood == pytest.approx(whole.log_likelihood)
    np.testing.assert_allclose(parts.prior, whole.prior, atol=1e-9)
    for ours, theirs in zip(parts.links, whole.links, strict=True):
        np.testing.assert_allclose(ours, theirs, atol=1e-9)


def test_job_that_is_impossible_under_its_cause_is_left_out_and_counted() -> None:
    given = one_sign_network(strength=0.5)
    layout = Layout(given)
    belt = layout.row(["belt.broken"])
    columns = JobColumns.of(layout, np.array([[2, 1]], dtype=np.int8), np.array([belt, belt]))

    learned = learned_from(given, columns, LearningSettings())

    assert learned.jobs == 1
    assert learned.left_out == {"jobs whose answers are impossible under their cause": 1}


def complete_network() -> FaultNetwork:
    """Components z and a, a table sign below both, everything seen without error."""
    rows = [
        TableRow(when=("z.x", "a.x"), then=(0.4, 0.6)),
        TableRow(when=("z.x",), then=(0.3, 0.7)),
        TableRow(when=("a.x",), then=(0.2, 0.8)),
        TableRow(when=(), then=(0.9, 0.1)),
    ]
    return network(
        [
            component("z", {"x": 0.4}),
            component("a", {"x": 0.4}),
            component("nothing", {"wrong": 0.2}, ComponentKind.NOTHING_FAILED),
        ],
        [sign("s", {}, 0.1, rows=rows)],
        [observation("o", "s", ((1.0, 0.0), (0.0, 1.0)))],
    )


def test_tables_on_complete_data_equal_the_estimators_of_pgmpy() -> None:
    import pandas
    from pgmpy.models import DiscreteBayesianNetwork
    from pgmpy.parameter_estimator import DiscreteBayesianEstimator

    given = complete_network()
    layout = Layout(given)
    rng = np.random.default_rng(3)
    sets = [["z.x", "a.x"], ["z.x"], ["a.x"], ["nothing.wrong"]]
    drawn = rng.integers(0, 4, 400)
    state = rng.integers(0, 2, 400)
    columns = JobColumns.of(
        layout, (1 + state)[None, :].astype(np.int8), np.array([layout.row(s) for s in sets])[drawn]
    )
    frame = pandas.DataFrame({"z": drawn <= 1, "a": (drawn == 0) | (drawn == 2), "s": state}) * 1

    settings = LearningSettings(stated_weight=0.7, careless_share=0.0)
    ours = learned_from(given, columns, settings).parameters.links[0]

    model = DiscreteBayesianNetwork([("z", "s"), ("a", "s")])
    # The estimator sorts the parents: columns of the pseudo-counts run over a, then z.
    # The sign states 10 jobs, of which 0.7 count: 7 / (4 p (1 - p)) for each row.
    rows = parameters_of(given).links[0]
    prior = (rows * (7.0 / (4.0 * rows.prod(axis=1)))[:, None])[[3, 1, 2, 0]].T
    estimator = DiscreteBayesianEstimator(
        state_names={name: [0, 1] for name in "zas"},
        prior_type="dirichlet",
        pseudo_counts={"z": [[1], [1]], "a": [[1], [1]], "s": prior},
    )
    table = next(t for t in estimator.fit(model, frame).parameters_ if t.variable == "s")
    assert table.variables == ["s", "a", "z"]
    np.testing.assert_allclose(ours[[3, 1, 2, 0]].T, table.get_values(), atol=1e-12)
