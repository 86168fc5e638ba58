"""The command ``export``."""

import json
from pathlib import Path

import pytest
from click.testing import CliRunner, Result

from triage.cli.main import main
from triage.network.catalogue import load_network

SMALL_WASHER = str(Path(__file__).parents[1] / "network" / "networks_files" / "small_washer.yaml")


def run(*words: str | Path) -> Result:
    return CliRunner().invoke(main, ["export", *map(str, words)])


def test_yaml_reads_back_as_the_same_network(tmp_path: Path) -> None:
    target = tmp_path / "small_washer.yaml"

    result = run(SMALL_WASHER, "--format", "yaml", "-o", target)

    assert result.exit_code == 0
    assert load_network(target) == load_network(SMALL_WASHER)
    assert result.stdout == f"{target}: {target.stat().st_size} bytes\n"


def test_yaml_under_another_name_tells_how_to_read_it_again(tmp_path: Path) -> None:
    result = run(SMALL_WASHER, "--format", "yaml", "-o", tmp_path / "copy.yaml")

    assert "name it small_washer.yaml" in result.stdout


def test_json_schema_is_that_of_the_network_files(tmp_path: Path) -> None:
    target = tmp_path / "schema.json"

    result = run(SMALL_WASHER, "--format", "json-schema", "-o", target, "--json")

    assert (
        "observations"
        in json.loads(target.read_text(encoding="utf-8"))["$defs"]["NetworkFile"]["properties"]
    )
    assert json.loads(result.stdout) == {
        "network": "small_washer",
        "format": "json-schema",
        "files": [{"file": str(target), "bytes": target.stat().st_size}],
    }


@pytest.mark.parametrize("file_format", ["bif", "xmlbif"])
def test_bayesian_network_is_written_with_its_evidence_beside_it(
    tmp_path: Path, file_format: str
) -> None:
    target = tmp_path / f"washer.{file_format}"

    result = run(SMALL_WASHER, "--format", file_format, "-o", target)

    assert result.exit_code == 0
    assert "says_water_left" in target.read_text(encoding="utf-8")
    assert json.loads((tmp_path / "washer.json").read_text(encoding="utf-8"))["evidence"]
    assert [line.split(": ")[0] for line in result.stdout.splitlines()] == [
        str(target),
        str(tmp_path / "washer.json"),
    ]


def test_evidence_of_another_export_is_left_alone(tmp_path: Path) -> None:
    evidence = tmp_path / "washer.json"
    evidence.write_text("mine", encoding="utf-8")

    result = run(SMALL_WASHER, "--format", "bif", "-o", tmp_path / "washer.bif")

    assert result.exit_code == 2
    assert evidence.read_text(encoding="utf-8") == "mine"
    assert list(tmp_path.iterdir()) == [evidence]


def test_bif_is_not_written_where_its_evidence_goes(tmp_path: Path) -> None:
    result = run(SMALL_WASHER, "--format", "bif", "-o", tmp_path / "washer.json")

    assert result.exit_code == 2
    assert "is where the evidence goes" in result.stderr


def test_file_that_exists_is_left_alone(tmp_path: Path) -> None:
    target = tmp_path / "small_washer.yaml"
    target.write_text("mine", encoding="utf-8")

    result = run(SMALL_WASHER, "--format", "yaml", "-o", target)

    assert result.exit_code == 2
    assert f'"{target}" exists; nothing was written.' in result.stderr
    assert target.read_text(encoding="utf-8") == "mine"


def test_force_overwrites_a_file_and_leaves_nothing_beside_it(tmp_path: Path) -> None:
    target = tmp_path / "small_washer.yaml"
    target.write_text("mine", encoding="utf-8")

    result = run(SMALL_WASHER, "--format", "yaml", "-o", target, "--force")

    assert result.exit_code == 0
    assert load_network(target).id == "small_washer"
    assert list(tmp_path.iterdir()) == [target]


def test_folder_that_is_not_there_is_named(tmp_path: Path) -> None:
    target = tmp_path / "absent" / "small_washer.yaml"

    result = run(SMALL_WASHER, "--format", "yaml", "-o", target)

    assert result.exit_code == 2
    assert f'"{target}" cannot be written (No such file or directory)' in result.stderr


def test_format_that_is_none_names_those_there_are(tmp_path: Path) -> None:
    result = run(SMALL_WASHER, "--format", "xml", "-o", tmp_path / "out")

    assert result.exit_code == 2
    assert "'bif', 'xmlbif', 'yaml', 'json-schema'" in result.stderr
