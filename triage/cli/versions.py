"""``triage versions``: list versions of networks, look at one, decide about it."""

from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING

import click

from triage.cli.data import by_option, data_option, database_in
from triage.cli.learn_text import full_version_lines, replanned_lines, version_lines
from triage.cli.mistakes import UserMistake
from triage.cli.output import json_option, write_json
from triage.network.catalogue import load_network, network_names

if TYPE_CHECKING:
    from triage.services.calls.calls import Database

LIST, SHOW, TEXT, COMPARE = "list", "show", "text", "compare"
DECISIONS = ("approve", "reject", "use")


@click.command()
@click.argument("action", type=click.Choice([LIST, SHOW, TEXT, COMPARE, *DECISIONS]))
@click.argument("network", required=False)
@click.argument("version", required=False, type=click.IntRange(min=1))
@data_option
@click.option(
    "--row",
    "rows",
    metavar="KEY",
    multiple=True,
    help='With "approve": take this row of the difference table only, such as share:MODE.',
)
@click.option("--reason", default="", help="Why; a decision needs it.")
@by_option
@json_option
def versions(
    action: str,
    network: str | None,
    version: int | None,
    data: Path | None,
    rows: tuple[str, ...],
    reason: str,
    by: str,
    as_json: bool,
) -> None:
    """List versions of networks, show one, approve, reject or use it.

    "list [NETWORK]", "show NETWORK VERSION", "text NETWORK VERSION" (as a network file),
    "compare NETWORK VERSION" (what it would have told past callers; takes about two minutes),
    "approve", "reject" and "use NETWORK VERSION --reason TEXT". Using an earlier version rolls
    back.

    Example: triage versions list
    """
    from triage.services.learning import reports

    if action == LIST:
        names = network_names() if network is None else (load_network(network).id,)
        if data is None:
            found = reports.versions_listed(None, names)
        else:
            with database_in(data) as database:
                found = reports.versions_listed(database, names)
        if as_json:
            write_json({"versions": found})
        else:
            click.echo("\n".join(version_lines(found)))
        return
    if network is None or version is None or data is None:
        raise UserMistake(f"versions {action}: expected NETWORK, VERSION and --data.")
    with database_in(data) as database:
        if action == COMPARE:
            _compare(database, network, version, as_json)
            return
        if action in DECISIONS:
            version = _decide(database, action, network, version, rows, reason, by)
        _show(database, network, version, as_json, is_text=action == TEXT)


def _compare(database: "Database", network: str, version: int, as_json: bool) -> None:
    """Print what a version would have told past callers."""
    from triage.services.learning.replanning import replanned_as_json, replanned_with

    found = replanned_with(database, network, version)
    if as_json:
        write_json({"network": network, **replanned_as_json(found)})
    else:
        click.echo("\n".join(replanned_lines(found)))


def _decide(
    database: "Database",
    action: str,
    network: str,
    version: int,
    rows: tuple[str, ...],
    reason: str,
    by: str,
) -> int:
    from triage.services.learning import versions as own
    from triage.services.people.audit import Stamp

    if not reason.strip():
        raise UserMistake(f"versions {action}: got no --reason; expected why.")
    stamp = Stamp(datetime.now(UTC), by)
    if action == "approve":
        return own.approve(database, network, version, stamp, reason, rows or None)
    if action == "reject":
        own.reject(database, network, version, stamp, reason)
    else:
        own.use(database, network, version, stamp, reason)
    return version


def _show(
    database: "Database", network: str, version: int, as_json: bool, *, is_text: bool
) -> None:
    from triage.services.learning import reports
    from triage.services.learning import versions as own

    if is_text:
        click.echo(own.text_of(database, network, version), nl=False)
        return
    full = own.version_in_full(database, network, version)
    if as_json:
        rows = reports.versions_listed(database, [network])
        shown = next(row for row in rows if row["version"] == version)
        proposal = (
            None
            if full.proposal is None
            else reports.report_as_json(full.proposal, network, version)
        )
        write_json({**shown, "proposal": proposal})
    else:
        click.echo("\n".join(full_version_lines(full)))
