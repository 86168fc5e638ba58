"""``triage plan``: the first visit, given what was observed."""

from pathlib import Path

import click

from triage.cli.events import EventsCommand, event_options, typed_evidence
from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, network_argument, write_json
from triage.cli.plan_text import branching_lines, plan_lines
from triage.cli.settings import engine_and_settings, plate_option, settings_option
from triage.inference.engine import Engine
from triage.planning.shop.settings import ShopSettings
from triage.services.plan.branching import branching_plan, branching_plan_as_json
from triage.services.plan.drawing import draw_branching_plan
from triage.services.plan.offer import offer_as_json, visit_offer
from triage.services.plan.vans import loaded_van
from triage.services.plan.visit import first_visit_plan, plan_as_json


@click.command(cls=EventsCommand)
@network_argument
@event_options
@click.option("--branches", is_flag=True, help="Spell out what every result leads to.")
@click.option(
    "--picture",
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="FILE",
    help="Write the branches as an SVG picture too; needs --branches.",
)
@plate_option
@settings_option
@json_option
def plan(
    network: str,
    branches: bool,
    picture: Path | None,
    plate: str,
    settings: Path | None,
    as_json: bool,
) -> None:
    """Plan the first visit: tests in order, parts to load, cautions.

    Says how the call should end (solved by phone, a visit, not worth repairing, another trade),
    what the caller can try, and what a visit is expected to take and cost.

    Example: triage plan top_load_washer --finding says_water_left=yes
    """
    engine, shop = engine_and_settings(network, settings)
    if branches:
        _branches(engine, shop, plate, picture, as_json)
        return
    if picture is not None:
        raise UserMistake("--picture draws the branches of the plan; add --branches.")
    found = first_visit_plan(engine, typed_evidence(engine), shop, plate=plate)
    if as_json:
        write_json(
            {
                "network": engine.network.id,
                "version": engine.network.version,
                **plan_as_json(found),
                "offer": offer_as_json(visit_offer(found)),
            }
        )
    else:
        click.echo("\n".join(plan_lines(found)))


def _branches(
    engine: Engine, shop: ShopSettings, plate: str, picture: Path | None, as_json: bool
) -> None:
    """Print the branching plan, and draw it where asked."""
    costs, evidence = shop.costs_for(engine.network.id), typed_evidence(engine)
    van = loaded_van(engine, evidence, shop, plate)
    found = branching_plan(engine, evidence, costs, van=van)
    if picture is not None:
        if picture.exists():
            raise UserMistake(f"{picture} exists; choose another name or remove it.")
        picture.write_text(draw_branching_plan(found, engine.network.title), encoding="utf-8")
    if as_json:
        own = {"network": engine.network.id, "version": engine.network.version}
        write_json({**own, **branching_plan_as_json(found)})
    else:
        click.echo("\n".join(branching_lines(found)))
