"""The JSON Schema for editors is the one the loader goes by."""

from pathlib import Path

from triage.network.schema import NetworkFile, Sections, network_schema, schema_text

ROOT = Path(__file__).parents[3]
COMMITTED = ROOT / "networks" / "schema" / "network.schema.json"
README = ROOT / "networks" / "README.md"


def test_committed_schema_is_current():
    rewrite = "python -m triage.network.schema > networks/schema/network.schema.json"

    assert COMMITTED.read_text() == schema_text(), f"rewrite it with: {rewrite}"


def test_schema_describes_a_network_or_a_fragment():
    schema = network_schema()

    assert [choice["$ref"] for choice in schema["anyOf"]] == [
        "#/$defs/NetworkFile",
        "#/$defs/FragmentFile",
    ]


def test_every_top_level_key_is_documented_in_the_readme():
    text = README.read_text()
    names = {*Sections.model_fields, *NetworkFile.model_fields}

    assert [name for name in sorted(names) if f"`{name}`" not in text] == []
