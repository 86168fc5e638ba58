"""``triage people``: who may sign in, from a terminal on the machine of the shop.

Whoever may read the data folder may do this; it is the way back in for an owner who is locked out.
"""

import json
from collections.abc import Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from webform.data_folder import data_option, database_of

if TYPE_CHECKING:
    from triage.services.people.accounts import Account, OneTimePassword
    from triage.services.people.audit import Stamp

ROLES = ("dispatcher", "technician", "owner")  # of Role, which the help must not wait for
TERMINAL = "the command line"  # in the audit trail
data_of_shop = data_option("Folder that holds the calls and the people.")
json_option = click.option("--json", "as_json", is_flag=True, help="Print JSON (docs/json.md).")


@click.group()
def people() -> None:
    """List and add people, give one-time passwords, let somebody in no more."""


@people.command("list")
@data_of_shop
@json_option
def list_people(data: Path, as_json: bool) -> None:
    """List who may sign in, and as what."""
    from triage.services.people.accounts import find_people

    with database_of(data) as database:
        found = find_people(database)
    if as_json:
        _print_json({"people": [_entry(account) for account in found]})
        return
    for account in found:
        state = "" if account.is_active else "  may not sign in"
        click.echo(f"{account.login:<20}  {account.role:<10}  {account.name}{state}")
    if not found:
        click.echo("Nobody yet.")


@people.command()
@click.argument("login")
@click.option("--name", required=True, help="Name as colleagues say it.")
@click.option("--role", type=click.Choice(ROLES), required=True, help="What the person does.")
@data_of_shop
@json_option
def add(login: str, name: str, role: str, data: Path, as_json: bool) -> None:
    """Add a person, and print their one-time password."""
    from triage.services.people.accounts import add_person
    from triage.services.people.passwords import STRONG
    from triage.services.people.roles import Person, Role

    with database_of(data) as database:
        made = add_person(database, Person(login, name, Role(role)), STRONG, _stamp())
    _tell(made, as_json)


@people.command("reset-password")
@click.argument("login")
@data_of_shop
@json_option
def reset(login: str, data: Path, as_json: bool) -> None:
    """Print a one-time password for a person; their sessions end."""
    from triage.services.people.accounts import reset_password
    from triage.services.people.passwords import STRONG

    with database_of(data) as database:
        made = reset_password(database, login, STRONG, _stamp())
    _tell(made, as_json)


@people.command("deactivate")
@click.argument("login")
@data_of_shop
@json_option
def deactivate_person(login: str, data: Path, as_json: bool) -> None:
    """Let a person in no more; what they entered stays on record."""
    from triage.services.people.accounts import deactivate

    with database_of(data) as database:
        account = deactivate(database, login, _stamp())
    if as_json:
        _print_json(_entry(account))
    else:
        click.echo(f"{account.name} is signed out everywhere and may not sign in any more.")


def _tell(made: "OneTimePassword", as_json: bool) -> None:
    if as_json:
        _print_json({**_entry(made.account), "one_time_password": made.password})
        return
    click.echo(f"One-time password for {made.account.name}, login {made.account.login}:")
    click.echo(f"\n    {made.password}\n")
    click.echo("It is shown only now. Signing in with it leads to choosing one of one's own.")


def _entry(account: "Account") -> Mapping[str, Any]:
    return {
        "login": account.login,
        "name": account.name,
        "role": account.role.value,
        "is_active": account.is_active,
        "must_change_password": account.must_change_password,
        "added_at": account.added_at.isoformat(),
    }


def _stamp() -> "Stamp":
    from triage.services.people.audit import Stamp

    return Stamp(datetime.now(UTC), TERMINAL)


def _print_json(data: Mapping[str, Any]) -> None:
    click.echo(json.dumps(data, indent=2, ensure_ascii=False))
