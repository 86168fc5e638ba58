"""``triage draw``: a network as a picture."""

from pathlib import Path

import click

from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, network_argument, write_json
from triage.network.catalogue import load_network
from triage.network.drawing import draw_network
from triage.network.drawing_neighbourhood import draw_neighbourhood


@click.command()
@network_argument
@click.option(
    "--around",
    metavar="ID",
    help="Only what is around this component, failure mode or sign.",
)
@click.option(
    "--output",
    "-o",
    type=click.Path(dir_okay=False, path_type=Path),
    required=True,
    metavar="FILE",
    help="SVG file to write.",
)
@click.option("--force", is_flag=True, help="Overwrite a file that exists.")
@json_option
def draw(network: str, around: str | None, output: Path, force: bool, as_json: bool) -> None:
    """Draw a network, or what is around a part of it, as an SVG picture.

    Causes stand on the left, signs on the right. A whole network fits on an upright A4 sheet.

    Example: triage draw top_load_washer --around drain_pump -o drain_pump.svg
    """
    loaded = load_network(network)
    picture = draw_network(loaded) if around is None else draw_neighbourhood(loaded, around)
    if output.exists() and not force:
        raise UserMistake(f'"{output}" exists; nothing was written. Use another name, or --force.')
    try:
        output.write_text(picture, encoding="utf-8")
    except OSError as error:
        raise UserMistake(f'"{output}" cannot be written ({error.strerror}).') from error
    size = output.stat().st_size
    if as_json:
        files = [{"file": str(output), "bytes": size}]
        write_json({"network": loaded.id, "around": around, "files": files})
    else:
        click.echo(f"{output}: {size} bytes")
