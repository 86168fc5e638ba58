"""``triage backup`` and ``triage restore``: the data of a shop, safe elsewhere and back again."""

import json
from collections.abc import Sequence
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import click

from triage.errors import TriageError
from webform.data_folder import config_of, data_option

if TYPE_CHECKING:
    from triage.services.backup import Backup
    from webform.config import Config

KEY_FILE = "secret.key"
SHOWN = {  # of all tables, and what people call their rows
    "calls": "calls",
    "customers": "customers",
    "visits": "visits",
    "closings": "closed jobs",
    "users": "people",
}
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON (docs/json.md).")
replace_option = click.option(
    "--replace", "replaces", is_flag=True, help="Replace what is there already."
)


class OtherDatabaseError(TriageError):
    """Raised when the database is not an SQLite file, and has tools of its own for backups."""

    def __init__(self, commands: Sequence[str]) -> None:
        listed = "\n".join(f"    {command}" for command in commands)
        super().__init__(
            "TRIAGE_DATABASE_URL names a PostgreSQL database, which has its own tools. Run\n\n"
            f"{listed}\n\n"
            f"and keep {KEY_FILE} of the data folder with it, readable by you alone."
        )


@click.command()
@click.argument("target", type=click.Path(path_type=Path))
@data_option("Folder that holds the calls and the secret key.")
@replace_option
@json_option
def backup(target: Path, data: Path, replaces: bool, as_json: bool) -> None:
    """Copy the data of a shop into the folder TARGET, and check the copy.

    The program may be running. The copy holds customers' data and the secret key; only who made it
    may read it.
    """
    from triage.services.backup import make_backup
    from webform.config import DATABASE_FILE

    _demand_sqlite(config_of(data), "pg_dump --format=custom --file={target} {address}", target)
    made = make_backup(
        data,
        target,
        database=DATABASE_FILE,
        others=(KEY_FILE,),
        at=datetime.now(UTC),
        replaces=replaces,
    )
    _tell(made, f"Copied to {target} and checked", None, as_json)


@click.command()
@click.argument("target", type=click.Path(path_type=Path, exists=True, file_okay=False))
@data_option("Folder to put the data into; made if it is not there.", exists=False)
@replace_option
@json_option
def restore(target: Path, data: Path, replaces: bool, as_json: bool) -> None:
    """Put the backup TARGET into a data folder, after checking it.

    Stop the program first. What was there before is kept in a folder beside it.
    """
    from triage.services.backup import restore_backup
    from webform.config import DATABASE_FILE

    command = "pg_restore --clean --if-exists --dbname={address} {target}"
    _demand_sqlite(config_of(data), command, target)
    done, kept = restore_backup(
        target, data, database=DATABASE_FILE, at=datetime.now(UTC), replaces=replaces
    )
    _tell(done, f"Checked and put into {data}", kept, as_json)


def _demand_sqlite(config: "Config", command: str, target: Path) -> None:
    if not config.database_url or config.database_url.startswith("sqlite"):
        return
    parts = urlsplit(config.database_url)
    plain = parts._replace(scheme="postgresql", netloc=_without_password(parts.netloc))
    address = plain.geturl()
    raise OtherDatabaseError([command.format(target=f"'{target}'", address=f"'{address}'")])


def _without_password(netloc: str) -> str:
    who, at, where = netloc.rpartition("@")
    return f"{who.partition(':')[0]}{at}{where}"


def _tell(done: "Backup", heading: str, kept: Path | None, as_json: bool) -> None:
    if as_json:
        shown = {**asdict(done), "kept": None if kept is None else str(kept)}
        click.echo(json.dumps(shown, indent=2, ensure_ascii=False))
        return
    counted = [f"{title} {done.rows.get(name, 0)}" for name, title in SHOWN.items()]
    click.echo(f"{heading}. Made {done.made_at[:16].replace('T', ' ')} UTC: {', '.join(counted)}.")
    if kept is not None:
        click.echo(f"What was there before is in {kept}.")
