"""``triage evaluate``: how good forecasts and plans were, on closed jobs."""

from pathlib import Path

import click

from triage.cli.data import data_option, database_in
from triage.cli.learn import assume_option, map_option, read_file, settings_given
from triage.cli.learn_text import score_lines
from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, write_json


@click.command()
@click.argument("file", required=False, metavar="[FILE]")
@data_option
@map_option
@assume_option
@json_option
def evaluate(
    file: str | None,
    data: Path | None,
    pairs: tuple[str, ...],
    assumed: tuple[str, ...],
    as_json: bool,
) -> None:
    """Score the networks on closed jobs, of a file or of a shop.

    Each job is forecast by what was learned from the jobs before it, by the network as it came,
    and by how common causes are; surprise is in bits, less is better.

    Example: triage evaluate jobs.csv
    """
    from triage.services.learning import reports

    given = settings_given(assumed)
    if file is not None:
        records = tuple(record for _, record in read_file(file, pairs).read.records)
        found = reports.evaluation(records, given, None)
    elif data is not None:
        with database_in(data) as database:
            found = reports.evaluation(reports.records_of(database), given, database)
    else:
        raise UserMistake("evaluate: got neither FILE nor --data; expected one of them.")
    if as_json:
        write_json(found)
    else:
        click.echo("\n".join(score_lines(found)))
