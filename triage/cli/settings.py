"""``triage settings``: check a shop's settings, or show them as a file to edit."""

from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any, TypeVar

import click

from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, write_json
from triage.inference.engine import Engine
from triage.network.catalogue import load_network
from triage.network.shipped import shown_path
from triage.network.values import FaultNetwork
from triage.planning.shop.settings import ShopSettings
from triage.services.networks.engines import engine_for, engine_under
from triage.services.settings.reading import check_settings, settings_at
from triage.services.settings.text import settings_as_json, settings_as_yaml

Command = TypeVar("Command", bound=Callable[..., Any])


def settings_option(command: Command) -> Command:
    """Add ``--settings``, a path or None."""
    option = click.option(
        "--settings",
        type=click.Path(exists=True, dir_okay=False, path_type=Path),
        metavar="FILE",
        help="Settings of the shop (docs/settings.md); without it the defaults.",
    )
    return option(command)


def plate_option(command: Command) -> Command:
    """Add ``--plate``, empty if nobody has read it."""
    option = click.option(
        "--plate",
        metavar="TEXT",
        default="",
        help="What the machine's plate says; numbers of parts are chosen by it.",
    )
    return option(command)


def engine_and_settings(network: str, file: Path | None) -> tuple[Engine, ShopSettings]:
    """Engine of a network under the settings of a shop, and those settings.

    Raises
    ------
    UnknownNetworkError, NetworkFileError, SettingsFileError
    """
    filed = engine_for(network)
    shop = settings_at(file, [filed.network])
    return engine_under(filed, shop), shop


@click.command()
@click.argument("action", type=click.Choice(["check", "show"]))
@click.argument(
    "file", required=False, type=click.Path(exists=True, dir_okay=False, path_type=Path)
)
@click.option(
    "--network",
    "networks",
    metavar="NETWORK",
    multiple=True,
    help="A network of your own whose parts and repairs the file may name.",
)
@json_option
def settings(action: str, file: Path | None, networks: tuple[str, ...], as_json: bool) -> None:
    """Check the settings of a shop, or show them as a file to edit.

    "check FILE" reports every problem with its line; the exit code is 0 if there is none, else 1.
    "show" prints the defaults, "show FILE" the settings that result from a file.

    Example: triage settings show > shop.yaml
    """
    known = [load_network(name) for name in networks]
    if action == "show":
        shown = settings_at(file, known)
        if as_json:
            write_json(settings_as_json(shown))
        else:
            click.echo(_text(file, shown, known), nl=False)
    elif file is None:
        raise UserMistake("settings check: got no FILE; expected the path of a settings file.")
    else:
        _check(file, known, as_json)


def _text(file: Path | None, shown: ShopSettings, networks: Sequence[FaultNetwork]) -> str:
    if file is None:
        return settings_as_yaml(shown)
    # Here, not at the top: other commands take settings and need neither booking nor the store.
    from triage.services.shop.settings_data import file_as_yaml

    return file_as_yaml(file, networks)


def _check(file: Path, networks: Sequence[FaultNetwork], as_json: bool) -> None:
    found = check_settings(file, networks)
    if as_json:
        write_json(
            {
                "is_good": not found.problems,
                "problem_count": len(found.problems),
                "problems": list(found.problems),
                "remarks": list(found.remarks),
            }
        )
    else:
        click.echo("\n".join(found.problems) if found.problems else f"{shown_path(file)}: good")
        for remark in found.remarks:
            click.echo(f"Look again: {remark}")
    if found.problems:
        raise click.exceptions.Exit(1)
