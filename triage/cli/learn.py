"""``triage learn``: what closed jobs say about a network; files of closed jobs taken in."""

import sys
from collections.abc import Callable, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from triage.cli.data import by_option, data_option, database_in
from triage.cli.learn_text import file_lines, proposal_lines
from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, write_json

if TYPE_CHECKING:
    from triage.services.learning.reports import FileReport

IMPORT = "import"
STANDARD_INPUT = "-"
SETTINGS = (
    "share_jobs",
    "link_jobs",
    "channel_jobs",
    "stated_weight",
    "careless_share",
    "careless_answers",
    "context_jobs",
    "minutes_jobs",
    "half_life_months",
    "call_back_days",
)

Command = TypeVar("Command", bound=Callable[..., Any])


def map_option(command: Command) -> Command:
    """Add ``--map``, pairs of our column and the file's."""
    option = click.option(
        "--map",
        "pairs",
        metavar="COLUMN=NAME",
        multiple=True,
        help="Column of the file for one of ours; COLUMN==TEXT is the same for every line.",
    )
    return option(command)


def assume_option(command: Command) -> Command:
    """Add ``--assume``, settings of learning."""
    option = click.option(
        "--assume",
        "assumed",
        metavar="SETTING=NUMBER",
        multiple=True,
        help=f"What learning assumes: {', '.join(SETTINGS)}.",
    )
    return option(command)


@click.command()
@click.argument("words", nargs=-1, metavar="[import] [FILE]")
@click.option("--network", metavar="NETWORK", help="Network to learn.")
@data_option
@map_option
@click.option("--dry-run", is_flag=True, help="Look the file through and take nothing in.")
@assume_option
@click.option("--alone", is_flag=True, help="Leave what other appliance kinds tell out of it.")
@click.option("--reason", default="", help="Why, kept with the version.")
@by_option
@json_option
def learn(
    words: tuple[str, ...],
    network: str | None,
    data: Path | None,
    pairs: tuple[str, ...],
    dry_run: bool,
    assumed: tuple[str, ...],
    alone: bool,
    reason: str,
    by: str,
    as_json: bool,
) -> None:
    """Learn from closed jobs, or take a file of them in.

    "learn FILE --network NETWORK" shows what the jobs of a file say, and keeps nothing. "learn
    --data DIR --network NETWORK" proposes a version from the jobs of a shop. "learn import FILE
    --data DIR" takes the jobs of a file in: all of them or none.

    Example: triage learn jobs.csv --network top_load_washer
    """
    from triage.services.people.audit import Stamp

    given = {**settings_given(assumed), "learns_together": not alone}
    stamp = Stamp(datetime.now(UTC), by)
    if words[:1] == (IMPORT,):
        _import(_file(words[1:]), data, pairs, dry_run, stamp, as_json)
        return
    if network is None:
        raise UserMistake("learn: got no --network; expected the name of a network.")
    if words:
        _from_file(_file(words), network, pairs, given, as_json)
    elif data is not None:
        _from_store(data, network, given, stamp, reason, as_json)
    else:
        raise UserMistake("learn: got neither FILE nor --data; expected one of them.")


def _from_file(
    file: str, network: str, pairs: Sequence[str], given: dict[str, Any], as_json: bool
) -> None:
    from triage.services.learning import reports

    report = read_file(file, pairs)
    records = [record for _, record in report.read.records]
    found = reports.learned_from_records(records, network, given, datetime.now(UTC))
    if as_json:
        write_json(reports.report_as_json(found, found.version.base.id, None))
    else:
        click.echo("\n".join(proposal_lines(found, None)))


def _from_store(
    data: Path, network: str, given: dict[str, Any], stamp: Any, reason: str, as_json: bool
) -> None:
    from triage.services.learning import reports

    with database_in(data) as database:
        number, found = reports.learned_from_store(database, network, given, stamp, reason)
    if as_json:
        write_json(reports.report_as_json(found, network, number))
    else:
        click.echo("\n".join(proposal_lines(found, number)))


def _import(
    file: str, data: Path | None, pairs: Sequence[str], dry_run: bool, stamp: Any, as_json: bool
) -> None:
    from triage.services.learning import reports
    from triage.services.learning.importing import import_jobs

    if data is None:
        raise UserMistake("learn import: got no --data; expected the data folder of a shop.")
    with database_in(data) as database:
        report = reports.read_job_file(_content(file), _name(file), columns_given(pairs), database)
        assert report.found is not None
        is_good = not report.found.problems
        taken = 0
        if is_good and not dry_run:
            taken = import_jobs(database, report.read, _name(file), stamp)
    if as_json:
        write_json(
            {
                "file": _name(file),
                "lines": report.read.lines,
                "new": len(report.found.new),
                "known": len(report.found.known),
                "retired": report.read.retired,
                "taken_in": taken,
                "problems": [str(problem) for problem in report.found.problems],
            }
        )
    else:
        click.echo("\n".join(file_lines(report, taken, dry_run=dry_run)))
    if not is_good:
        raise click.exceptions.Exit(1)


def read_file(file: str, pairs: Sequence[str]) -> "FileReport":
    """File of closed jobs without a database; every wrong line is told, and then nothing is done.

    Raises
    ------
    JobFileError, JobLinesError
    """
    from triage.errors import JobLinesError
    from triage.services.learning import reports

    report = reports.read_job_file(_content(file), _name(file), columns_given(pairs), None)
    if report.read.problems:
        raise JobLinesError([str(problem) for problem in report.read.problems])
    return report


def settings_given(assumed: Sequence[str]) -> dict[str, Any]:
    """Settings of learning that were typed."""
    found: dict[str, Any] = {}
    for text in assumed:
        name, _, value = text.partition("=")
        if name not in SETTINGS:
            known = ", ".join(SETTINGS)
            raise UserMistake(f'--assume "{text}": got "{name}"; expected one of {known}.')
        try:
            found[name] = float(value)
        except ValueError:
            raise UserMistake(f'--assume "{text}": got "{value}"; expected a number.') from None
    return found


def columns_given(pairs: Sequence[str]) -> dict[str, str]:
    """Columns of the file for ours that were typed."""
    found = {}
    for text in pairs:
        own, sign, name = text.partition("=")
        if not sign:
            raise UserMistake(f'--map "{text}": got no "="; expected COLUMN=NAME.')
        found[own] = name
    return found


def _file(words: Sequence[str]) -> str:
    if len(words) != 1:
        raise UserMistake(f"learn: got {len(words)} files; expected one.")
    return words[0]


def _name(file: str) -> str:
    return "standard input" if file == STANDARD_INPUT else Path(file).name


def _content(file: str) -> bytes:
    if file == STANDARD_INPUT:
        return sys.stdin.buffer.read()
    try:
        return Path(file).read_bytes()
    except OSError as error:
        raise UserMistake(f"{file}: got no readable file ({error.strerror}).") from None
