"""``triage export``: a network as a file for other programs.

A file appears whole or not at all: it is written in a folder of its own beside its place, and moved
there when it is complete.
"""

import tempfile
from collections.abc import Callable, Mapping
from pathlib import Path

import click

from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, network_argument, write_json
from triage.inference.engine import Engine
from triage.inference.export import export_network, write_bif, write_xmlbif
from triage.network.dump import dump_network
from triage.network.schema import schema_text
from triage.services.networks.engines import engine_for


def _bif(engine: Engine, path: Path) -> None:
    write_bif(export_network(engine), path)


def _xmlbif(engine: Engine, path: Path) -> None:
    write_xmlbif(export_network(engine), path)


def _yaml(engine: Engine, path: Path) -> None:
    path.write_text(dump_network(engine.network), encoding="utf-8")


def _json_schema(engine: Engine, path: Path) -> None:
    """Write the schema of the format, which is the same for every network."""
    path.write_text(schema_text(), encoding="utf-8")


Writer = Callable[[Engine, Path], None]

WRITERS: Mapping[str, Writer] = {
    "bif": _bif,
    "xmlbif": _xmlbif,
    "yaml": _yaml,
    "json-schema": _json_schema,
}
WITH_EVIDENCE = ("bif", "xmlbif")  # these write what evidence to set into a second file, .json


@click.command()
@network_argument
@click.option(
    "--format",
    "file_format",
    type=click.Choice(list(WRITERS)),
    required=True,
    help="yaml: one self-contained network file. json-schema: what a network file may hold.",
)
@click.option(
    "--output",
    "-o",
    type=click.Path(dir_okay=False, path_type=Path),
    required=True,
    metavar="FILE",
    help="File to write.",
)
@click.option("--force", is_flag=True, help="Overwrite files that exist.")
@json_option
def export(network: str, file_format: str, output: Path, force: bool, as_json: bool) -> None:
    """Write a network as a file for other programs.

    bif and xmlbif are read by most Bayesian-network programs. They hold only with some evidence
    set, which is written beside them, into a file of the same name that ends in .json. Files that
    exist are left alone unless --force is given.
    """
    engine = engine_for(network)
    if file_format in WITH_EVIDENCE and output.suffix == ".json":
        raise UserMistake(f'"{output}" is where the evidence goes; use a name that ends otherwise.')
    try:
        written = _write_whole(engine, WRITERS[file_format], output, force)
    except OSError as error:
        raise UserMistake(f'"{output}" cannot be written ({error.strerror}).') from error
    if as_json:
        files = [{"file": str(path), "bytes": path.stat().st_size} for path in written]
        write_json({"network": engine.network.id, "format": file_format, "files": files})
        return
    for path in written:
        click.echo(f"{path}: {path.stat().st_size} bytes")
    if file_format == "yaml" and output.stem != engine.network.id:
        click.echo(f"To read it again, name it {engine.network.id}.yaml, after its network.")


def _write_whole(engine: Engine, write: Writer, output: Path, force: bool) -> list[Path]:
    """Write into a folder beside the file, so that the move is within one file system.

    Returns
    -------
    list of Path
        The file, and those that were written beside it.
    """
    with tempfile.TemporaryDirectory(dir=output.parent, prefix=".triage-") as folder:
        write(engine, Path(folder) / output.name)
        drafts = sorted(Path(folder).iterdir(), key=lambda draft: draft.name != output.name)
        written = [output.with_name(draft.name) for draft in drafts]
        present = [path for path in written if path.exists()]
        if present and not force:
            listed = " and ".join(f'"{path}"' for path in present)
            raise UserMistake(
                f"{listed} exists; nothing was written. Use another name, or --force."
            )
        for draft, path in zip(drafts, written, strict=True):
            draft.replace(path)
    return written
