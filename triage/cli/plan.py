"""``triage plan``: the first visit, given what was observed."""

import click

from triage.cli.events import EventsCommand, event_options, typed_evidence
from triage.cli.output import json_option, network_argument, write_json
from triage.cli.plan_text import plan_lines
from triage.services.engines import engine_for
from triage.services.visit import first_visit_plan, plan_as_json


@click.command(cls=EventsCommand)
@network_argument
@event_options
@json_option
def plan(network: str, as_json: bool) -> None:
    """Plan the first visit: tests in order, parts to load, cautions.

    Says how the call should end (solved by phone, a visit, not worth repairing, another trade),
    what the caller can try, and what a visit is expected to take and cost.

    Example: triage plan top_load_washer --finding says_water_left=yes
    """
    engine = engine_for(network)
    found = first_visit_plan(engine, typed_evidence(engine))
    if as_json:
        write_json(
            {"network": engine.network.id, "version": engine.network.version, **plan_as_json(found)}
        )
    else:
        click.echo("\n".join(plan_lines(found)))
