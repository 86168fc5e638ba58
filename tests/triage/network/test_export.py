"""Exported networks: names, evidence, findings, and files that other programs read back."""

import json
import subprocess
import sys
from collections.abc import Callable, Mapping
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from numpy.typing import NDArray

from tests import builders
from tests.discrete_networks import screening
from tests.references import PyagrumModel, Question, component_variables
from triage.errors import NetworkFileError, UnknownAnswerError
from triage.inference.engine import Engine
from triage.inference.evidence import Finding
from triage.inference.export import (
    ExportedNetwork,
    export_network,
    exported_evidence,
    finding_states,
    to_pgmpy,
    write_bif,
    write_xmlbif,
)
from triage.network.bif import read_bif
from triage.network.catalogue import load_network
from triage.network.interchange import PLAIN_WORD, bif_text
from triage.network.values import TableRow

FloatArray = NDArray[np.float64]
Writer = Callable[[ExportedNetwork, Path], None]

FINDINGS = (Finding("o_s0_0", "a"), Finding("o_s4_1", "c"))
# pyAgrum knows XMLBIF by the ending "bifxml" only.
WRITERS: Mapping[str, Writer] = {"bif": write_bif, "bifxml": write_xmlbif}


def random_export(seed: int = 1, max_failed: int = 2) -> ExportedNetwork:
    return export_network(Engine(builders.random_network(seed), max_failed=max_failed))


def marginals_of(exported: ExportedNetwork) -> dict[str, FloatArray]:
    components = component_variables(exported)
    return PyagrumModel(Question.of(exported, FINDINGS, components)).marginals(components)


def test_names_are_plain_words_in_the_shipped_network() -> None:
    network = export_network(Engine(load_network("top_load_washer"))).network
    names = [*network.states, *(state for states in network.states.values() for state in states)]

    odd = [name for name in names if not PLAIN_WORD.fullmatch(name)]

    assert len(network.states) > 500
    assert odd == []


def test_component_has_the_state_ok_and_its_modes() -> None:
    network = builders.network(
        [
            builders.component("pump", {"burnt": 0.5, "jammed": 0.2}),
            builders.component("belt", {"off": 0.3}),
        ],
        [builders.sign("no_spin", {"pump.burnt": 0.5})],
        [builders.observation("says", "no_spin", [[0.9, 0.1], [0.1, 0.9]])],
    )

    exported = export_network(Engine(network))

    assert exported.network.states["component_pump"] == ("ok", "burnt", "jammed")
    assert exported.mode_states["pump.jammed"] == ("component_pump", "jammed")


def test_names_that_would_collide_get_a_number() -> None:
    network = builders.network(
        [builders.component("Pump", {"ok": 0.5}), builders.component("pump", {"3-8 Ω": 0.5})],
        [builders.sign("no_spin", {"Pump.ok": 0.5})],
        [builders.observation("says", "no_spin", [[0.9, 0.1], [0.1, 0.9]])],
    )

    exported = export_network(Engine(network))

    assert exported.mode_states == {
        "Pump.ok": ("component_pump", "ok_2"),
        "pump.3-8 Ω": ("component_pump_2", "n3_8__"),
    }


def test_network_without_contexts_has_no_context_variable() -> None:
    exported = export_network(Engine(builders.two_causes_one_sign()))

    assert exported.context_variables == {}
    assert "context" not in exported.network.states
    assert exported.network.parents["component_pump"] == ()


def test_context_variables_follow_from_the_joint_context() -> None:
    exported = random_export()

    table = exported.network.tables[exported.context_variables["age"]]

    assert table.tolist() == np.eye(3).tolist()
    assert exported.network.states["context"] == ("new", "mid", "old")


def test_evidence_holds_the_cap_and_every_pair() -> None:
    exported = random_export()

    assert exported.evidence == {"allowed": "yes", "pair_c0_c1": "on"}
    assert exported.max_failed == 2


def test_cap_is_the_one_of_the_engine_unless_another_is_given() -> None:
    engine = Engine(builders.random_network(1), max_failed=3)

    caps = [
        export_network(engine).max_failed,
        export_network(engine, max_failed=1).max_failed,
        export_network(engine, capped=False).max_failed,
    ]

    assert caps == [3, 1, None]


def test_finding_is_a_state_of_its_observation() -> None:
    found = finding_states(random_export(), Finding("o_s0_0", "b"))

    assert found is not None
    assert (found.variable, found.state) == ("look_o_s0_0", "b")
    assert found.likelihood == (0.0, 1.0, 0.0)


def test_complaint_said_unasked_is_a_likelihood_of_the_sign() -> None:
    exported = random_export()

    found = finding_states(exported, Finding("o_s0_0", "volunteered"))

    assert found is not None
    assert (found.variable, found.state) == ("sign_s0", None)
    assert found.likelihood == exported.fault_network.observations["o_s0_0"].volunteered


def test_dont_know_sets_nothing() -> None:
    exported = random_export()

    evidence = exported_evidence(exported, [Finding("o_s0_0", "dont_know")])

    assert finding_states(exported, Finding("o_s0_0", "dont_know")) is None
    assert evidence.states == exported.evidence
    assert evidence.likelihoods == {}


def test_unknown_answer_is_refused() -> None:
    with pytest.raises(UnknownAnswerError, match='Unknown answer "maybe"'):
        finding_states(random_export(), Finding("o_s0_0", "maybe"))


def test_second_person_and_unasked_complaint_are_multiplied_into_one_likelihood() -> None:
    exported = random_export()
    observation = exported.fault_network.observations["o_s0_0"]
    findings = [
        Finding("o_s0_0", "b"),
        Finding("o_s0_0", "a", by="technician"),
        Finding("o_s0_0", "volunteered"),
    ]

    evidence = exported_evidence(exported, findings)

    second = np.array(observation.likelihood)[:, 0]
    assert observation.volunteered is not None
    assert evidence.states["look_o_s0_0"] == "b"
    assert list(evidence.likelihoods) == ["sign_s0"]
    assert evidence.likelihoods["sign_s0"] == pytest.approx(second * observation.volunteered)


def test_masked_sign_shows_what_its_masker_forces() -> None:
    exported = random_export()
    # Built with the mask: s0 bad hides s3, which then shows "untestable".
    parents = exported.network.parents["sign_s3"]
    states = exported.network.states["sign_s3"]

    table = exported.network.tables["sign_s3"]

    assert parents == ("sign_s3_seen", "sign_s0")
    assert table[0, 0].tolist() == [1.0, 0.0, 0.0]
    assert table[0, 1].tolist() == [float(state == "untestable") for state in states]


def test_decision_list_over_too_many_components_is_refused() -> None:
    modes = [f"c{number}.m" for number in range(17)]  # 2**17 rows
    network = builders.network(
        [builders.component(f"c{number}", {"m": 1 / 17}) for number in range(17)],
        [
            builders.sign(
                "odd",
                {},
                rows=[
                    TableRow(when=tuple(modes), then=(0.1, 0.9)),
                    TableRow(when=(), then=(0.9, 0.1)),
                ],
            )
        ],
        [builders.observation("says", "odd", [[0.9, 0.1], [0.1, 0.9]])],
    )

    with pytest.raises(NetworkFileError, match=r'sign "odd": .* 17 components .* 131072 rows'):
        export_network(Engine(network, max_failed=1))


@pytest.mark.parametrize("suffix", WRITERS)
def test_file_read_back_by_pgmpy_is_the_same_network(suffix: str, tmp_path: Path) -> None:
    from pgmpy.readwrite import BIFReader, XMLBIFReader

    exported = random_export()
    path = tmp_path / f"network.{suffix}"

    WRITERS[suffix](exported, path)

    reader = {"bif": BIFReader, "bifxml": XMLBIFReader}[suffix]
    model = reader(path=str(path)).get_model()
    assert model.check_model()
    assert set(model.nodes()) == set(exported.network.states)
    for name, table in exported.network.tables.items():
        factor = model.get_cpds(name).to_factor()
        axes = [factor.variables.index(axis) for axis in exported.network.scope(name)]
        orders = [
            [factor.state_names[axis].index(state) for state in exported.network.states[axis]]
            for axis in exported.network.scope(name)
        ]
        values = np.transpose(factor.values, axes)[np.ix_(*orders)]
        assert values.tolist() == pytest.approx(table, abs=1e-15)


# pyAgrum reads the numbers of BIF as float32.
@pytest.mark.parametrize(("suffix", "tolerance"), [("bif", 1e-6), ("bifxml", 1e-9)])
def test_file_read_back_by_pyagrum_gives_the_same_posterior(
    suffix: str, tolerance: float, tmp_path: Path
) -> None:
    import pyagrum

    exported = random_export()
    expected = marginals_of(exported)
    path = tmp_path / f"network.{suffix}"

    WRITERS[suffix](exported, path)

    model = pyagrum.loadBN(str(path))
    inference = pyagrum.LazyPropagation(model)
    inference.setEvidence(dict(exported_evidence(exported, FINDINGS).states))
    inference.makeInference()
    for variable, distribution in expected.items():
        found = inference.posterior(variable)
        states = [found.variable(variable).label(k) for k in range(len(distribution))]
        assert tuple(states) == exported.network.states[variable]
        assert found.toarray() == pytest.approx(distribution, abs=tolerance)


def test_bif_file_read_back_by_ourselves_is_the_same_to_the_last_digit(tmp_path: Path) -> None:
    exported = random_export(seed=2)
    path = tmp_path / "network.bif"

    write_bif(exported, path)

    again = read_bif(path)
    assert again.parents == exported.network.parents
    assert again.states == exported.network.states
    assert max(
        np.abs(again.tables[name] - table).max() for name, table in exported.network.tables.items()
    ) == pytest.approx(0.0, abs=1e-15)  # the reader rescales rows to sum to 1


@pytest.mark.parametrize("suffix", WRITERS)
def test_evidence_stands_in_the_file_and_beside_it(suffix: str, tmp_path: Path) -> None:
    exported = random_export()
    path = tmp_path / f"network.{suffix}"

    WRITERS[suffix](exported, path)

    beside = json.loads((tmp_path / "network.json").read_text(encoding="utf-8"))
    assert beside["evidence"] == {"allowed": "yes", "pair_c0_c1": "on"}
    assert beside["modes"]["c0.m0"] == ["component_c0", "m0"]
    assert beside["observations"]["o_s0_0"] == "look_o_s0_0"
    assert "allowed is yes" in path.read_text(encoding="utf-8")


def test_pgmpy_model_has_the_variables_and_states() -> None:
    exported = random_export()

    model = to_pgmpy(exported)

    assert {name: tuple(model.states[name]) for name in model.nodes()} == exported.network.states


def test_name_that_no_file_can_hold_is_refused() -> None:
    network = replace(screening(0.1, 0.9, 0.1), name="two words")

    with pytest.raises(NetworkFileError, match='name "two words"; expected a lower-case letter'):
        bif_text(network)


def test_heavy_packages_stay_unloaded_until_a_model_is_asked_for() -> None:
    code = "import sys, triage.inference.export; print({'pgmpy', 'pandas'} & set(sys.modules))"

    run = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)

    assert run.stdout == "set()\n"
