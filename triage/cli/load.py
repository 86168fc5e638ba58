"""``triage load``: what goes on the van, for one visit or for the visits of a day."""

import shlex
from pathlib import Path

import click

from triage.cli.events import EventsCommand, event_options, typed_evidence
from triage.cli.load_text import load_lines
from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, network_argument, write_json
from triage.cli.settings import plate_option, settings_option
from triage.inference.evidence import parse_findings
from triage.services.networks.engines import engine_for
from triage.services.plan.load import VisitRequest, load_as_json, load_list
from triage.services.settings.reading import settings_at

PLATE = "plate"


@click.command(cls=EventsCommand)
@network_argument
@event_options
@plate_option
@click.option(
    "--visit",
    "visits",
    metavar='"NETWORK OBS=ANSWER ..."',
    multiple=True,
    help="A further visit of the day, after those before it; plate=TEXT may stand among the rest.",
)
@settings_option
@json_option
def load(
    network: str, plate: str, visits: tuple[str, ...], settings: Path | None, as_json: bool
) -> None:
    """List the parts to load for a visit, or for a day of visits, and why.

    Shows how often the parts of the job will all be aboard, what each part adds, and for a single
    visit what more of it would cost. A piece used at one visit is gone for the next.

    Example: triage load top_load_washer --finding says_water_left=yes --visit "gas_dryer"
    """
    engine = engine_for(network)
    first = VisitRequest(engine, typed_evidence(engine), plate)
    requests = [first, *(_request(text) for text in visits)]
    found = load_list(requests, settings_at(settings, [r.engine.network for r in requests]))
    if as_json:
        write_json(load_as_json(found))
    else:
        click.echo("\n".join(load_lines(found)))


def _request(text: str) -> VisitRequest:
    """Visit that was typed as a network with findings."""
    try:
        words = shlex.split(text)
    except ValueError as error:
        raise UserMistake(f'--visit "{text}": got {error}; expected quotes in pairs.') from error
    if not words or "=" in words[0]:
        raise UserMistake(
            f'--visit "{text}": got no network first; expected NETWORK OBS=ANSWER ...'
        )
    engine = engine_for(words[0])
    plates = [word.partition("=")[2] for word in words[1:] if word.startswith(f"{PLATE}=")]
    findings = [word for word in words[1:] if not word.startswith(f"{PLATE}=")]
    evidence = parse_findings(engine.compiled.index, findings)
    return VisitRequest(engine, evidence, plates[-1] if plates else "")
