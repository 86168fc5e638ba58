"""The command ``triage``: finds a command by name and loads its code only when it is run.

Reading the help must not cost what reading a network costs, so this module imports neither numpy
nor anything that does. A command of this package is an entry of ``OWN_COMMANDS`` and one module;
other packages add commands under the entry point group ``triage.commands``, which are imported only
when they are run; their lines in the help stand in ``COMMANDS`` of the package, by name.
"""

import os
import sys
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property
from importlib import import_module
from importlib.metadata import EntryPoint, entry_points
from io import TextIOWrapper
from typing import Any

import click

from triage.cli.mistakes import UserMistake
from triage.errors import TriageError, nearest

ENTRY_POINT_GROUP = "triage.commands"
DISTRIBUTION = "washer-triage"


@dataclass(frozen=True, slots=True, kw_only=True)
class OwnCommand:
    """Where the code of a command is, and its line in the help."""

    module: str
    summary: str


# The summaries stand here because the modules, which hold the rest of the help, are not imported
# for it; a test compares the two.
OWN_COMMANDS: Mapping[str, OwnCommand] = {
    "ask": OwnCommand(
        module="triage.cli.ask",
        summary="Ask question by question at the terminal, best question first.",
    ),
    "calculate": OwnCommand(
        module="triage.cli.calculate",
        summary="Work out a check on site: duct, drain, supply, resistance.",
    ),
    "check": OwnCommand(
        module="triage.cli.check",
        summary="Check network files and report every problem with its line.",
    ),
    "draw": OwnCommand(
        module="triage.cli.draw",
        summary="Draw a network, or what is around a part of it, as an SVG picture.",
    ),
    "evaluate": OwnCommand(
        module="triage.cli.evaluate",
        summary="Score the networks on closed jobs, of a file or of a shop.",
    ),
    "export": OwnCommand(
        module="triage.cli.export",
        summary="Write a network as a file for other programs.",
    ),
    "learn": OwnCommand(
        module="triage.cli.learn",
        summary="Learn from closed jobs, or take a file of them in.",
    ),
    "load": OwnCommand(
        module="triage.cli.load",
        summary="List the parts to load for a visit, or for a day of visits, and why.",
    ),
    "observations": OwnCommand(
        module="triage.cli.observations",
        summary="List what can be asked, tested and measured.",
    ),
    "plan": OwnCommand(
        module="triage.cli.plan",
        summary="Plan the first visit: tests in order, parts to load, cautions.",
    ),
    "rank": OwnCommand(
        module="triage.cli.rank",
        summary="Rank the causes, given what was observed.",
    ),
    "settings": OwnCommand(
        module="triage.cli.settings",
        summary="Check the settings of a shop, or show them as a file to edit.",
    ),
    "simulate": OwnCommand(
        module="triage.cli.simulate",
        summary="Play made-up jobs by several policies and compare what they cost.",
    ),
    "versions": OwnCommand(
        module="triage.cli.versions",
        summary="List versions of networks, show one, approve, reject or use it.",
    ),
}


class CommandGroup(click.Group):
    """Commands by name, imported when they are run."""

    @cached_property
    def added(self) -> Mapping[str, EntryPoint]:
        """Commands of other packages; a name this package uses stays its own."""
        found = entry_points(group=ENTRY_POINT_GROUP)
        return {point.name: point for point in found if point.name not in OWN_COMMANDS}

    def list_commands(self, ctx: click.Context) -> list[str]:
        """Names of all commands, sorted."""
        return sorted([*OWN_COMMANDS, *self.added])

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the module of a command and return it; None if there is no such command."""
        if cmd_name in OWN_COMMANDS:
            command = getattr(import_module(OWN_COMMANDS[cmd_name].module), cmd_name)
        elif cmd_name in self.added:
            command = self.added[cmd_name].load()
        else:
            return None
        if not isinstance(command, click.Command):
            raise TypeError(f'command "{cmd_name}": got {command!r}; expected a click command')
        return command

    def resolve_command(
        self, ctx: click.Context, args: list[str]
    ) -> tuple[str | None, click.Command | None, list[str]]:
        """Find the command that was typed, or say which ones there are."""
        name, known = args[0], self.list_commands(ctx)
        if name not in known and not name.startswith("-"):
            listed = ", ".join(known)
            raise UserMistake(
                f'no command "{name}"; expected one of {listed}.{nearest(name, known)}'
            )
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Write the list of commands without importing one."""
        summaries = {name: own.summary for name, own in OWN_COMMANDS.items()}
        for name, point in self.added.items():
            package = point.module.split(".")[0]
            told: Mapping[str, str] = getattr(import_module(package), "COMMANDS", {})
            summaries[name] = told.get(name, f"Added by {package}.")
        with formatter.section("Commands"):
            formatter.write_dl(sorted(summaries.items()))

    def invoke(self, ctx: click.Context) -> Any:
        """Run the command; what the library raises on purpose becomes a message."""
        try:
            return super().invoke(ctx)
        except TriageError as error:
            raise UserMistake(str(error)) from error


@click.group(cls=CommandGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(package_name=DISTRIBUTION, prog_name="triage")
def main() -> None:
    """Find out what is wrong with a household washer or dryer, question by question.

    NETWORK is the name of a network that comes with the program, or the path of a .yaml file. Every
    command takes --json. docs/cli.md describes the commands, docs/json.md what --json prints.
    """
    # Before numpy is imported, which reads it once: the matrices here are small, and on two busy
    # cores a second BLAS thread costs more than it brings.
    os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")
    # A terminal that cannot show a character gets "?" in its place, not a traceback.
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="replace")
