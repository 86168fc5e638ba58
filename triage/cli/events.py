"""Findings and repairs on the command line, in the order in which they were typed."""

from collections.abc import Callable
from typing import Any, TypeVar

import click

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, RepairDone, parse_finding

Command = TypeVar("Command", bound=Callable[..., Any])

TYPED_EVENTS = "triage.cli.events"  # key in ``Context.meta``


class EventsCommand(click.Command):
    """A command that keeps the order among ``--finding`` and ``--repair``.

    click hands each option its own list. A finding made after a repair is about another state of
    the machine than one made before, so the order between the two lists matters.
    """

    def parse_args(self, ctx: click.Context, args: list[str]) -> list[str]:
        """Parse, and note the typed events as (option, text) in ``ctx.meta``."""
        values, _, order = self.make_parser(ctx).parse_args(list(args))
        rest = {name: iter(values.get(name, ())) for name in ("finding", "repair")}
        ctx.meta[TYPED_EVENTS] = tuple(
            (option.name, next(rest[option.name])) for option in order if option.name in rest
        )
        return super().parse_args(ctx, args)


def event_options(command: Command) -> Command:
    """Add ``--finding`` and ``--repair``; the command reads them with ``typed_evidence``."""
    finding = click.option(
        "--finding",
        "-f",
        metavar="OBS=ANSWER",
        multiple=True,
        expose_value=False,
        help="What was observed, as often as needed; a meter reading is a number.",
    )
    repair = click.option(
        "--repair",
        "-r",
        metavar="REPAIR",
        multiple=True,
        expose_value=False,
        help="A repair that was done, before the findings typed after it.",
    )
    return finding(repair(command))


def typed_evidence(engine: Engine) -> Evidence:
    """Evidence of the running command, in the order typed.

    Raises
    ------
    EvidenceError
        A finding or repair does not fit the network; the message has the nearest name.
    """
    index = engine.compiled.index
    typed: tuple[tuple[str, str], ...] = click.get_current_context().meta[TYPED_EVENTS]
    return Evidence.of(
        *(
            parse_finding(index, text)
            if option == "finding"
            else RepairDone(index.repair(text.strip()).id)
            for option, text in typed
        )
    )
