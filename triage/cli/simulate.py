"""``triage simulate``: what policies of a visit come to on machines drawn from a network."""

import click

from triage.cli.output import json_option, network_argument, write_json
from triage.cli.simulation_text import study_lines
from triage.services import simulation as service
from triage.services.networks.engines import engine_for


@click.command()
@network_argument
@click.option(
    "--jobs", type=click.IntRange(min=2), default=50, show_default=True, help="Jobs to play."
)
@click.option("--seed", type=click.IntRange(min=0), default=1, show_default=True)
@click.option(
    "--policy",
    "policies",
    type=click.Choice(service.POLICY_NAMES),
    multiple=True,
    help="Play this policy and the fixed sequence; may be given more than once. Default: all.",
)
@click.option(
    "--questions",
    type=click.IntRange(min=0),
    default=service.QUESTIONS,
    show_default=True,
    help="Most questions on the phone.",
)
@click.option(
    "--disturbed", is_flag=True, help="Draw the machines from copies of the network that are wrong."
)
@json_option
def simulate(
    network: str,
    jobs: int,
    seed: int,
    policies: tuple[str, ...],
    questions: int,
    disturbed: bool,
    as_json: bool,
) -> None:
    """Play made-up jobs by several policies and compare what they cost.

    Every policy meets the same machines, callers and luck. 50 jobs with all policies take about a
    minute.

    Example: triage simulate top_load_washer --jobs 20 --policy base
    """
    engine = engine_for(network)
    found = service.simulate(
        engine,
        jobs=jobs,
        seed=seed,
        policies=policies or service.POLICY_NAMES,
        is_disturbed=disturbed,
        questions=questions,
    )
    if as_json:
        write_json(
            {
                "network": engine.network.id,
                "version": engine.network.version,
                "currency": engine.network.currency,
                "jobs": jobs,
                "seed": seed,
                "questions": questions,
                "is_disturbed": disturbed,
                **service.study_as_json(found),
            }
        )
    else:
        click.echo("\n".join(study_lines(found, jobs, engine.network.currency)))
