"""``triage rank``: causes in order, given what was observed."""

from pathlib import Path

import click

from triage.cli.events import EventsCommand, event_options, typed_evidence
from triage.cli.output import json_option, network_argument, write_json
from triage.cli.ranking_text import ranking_lines
from triage.cli.settings import engine_and_settings, settings_option
from triage.services.plan import ranking as service


@click.command(cls=EventsCommand)
@network_argument
@event_options
@click.option(
    "--limit",
    type=click.IntRange(min=1),
    default=10,
    show_default=True,
    help="Longest list of causes, questions and tests.",
)
@settings_option
@json_option
def rank(network: str, limit: int, settings: Path | None, as_json: bool) -> None:
    """Rank the causes, given what was observed.

    Shows how likely each cause is, what the ranking leaves out, why the first one leads, and what
    to ask and test next. "triage observations NETWORK" lists what --finding takes.

    Example: triage rank top_load_washer --finding says_water_left=yes
    """
    engine, shop = engine_and_settings(network, settings)
    ranking = service.rank(
        engine, typed_evidence(engine), causes_limit=limit, next_limit=limit, settings=shop
    )
    if as_json:
        write_json(service.ranking_as_json(ranking))
    else:
        click.echo("\n".join(ranking_lines(ranking)))
