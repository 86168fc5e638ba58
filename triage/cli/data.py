"""The database of a shop, as commands find it: in a data folder, or by its address."""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

if TYPE_CHECKING:
    from triage.services.calls.calls import Database

DATABASE_FILE = "calls.sqlite"  # as the web form names it; a test compares the two
BY_COMMAND = "command line"

Command = TypeVar("Command", bound=Callable[..., Any])


def data_option(command: Command) -> Command:
    """Add ``--data``, a folder or None."""
    option = click.option(
        "--data",
        type=click.Path(exists=True, file_okay=False, path_type=Path),
        metavar="DIR",
        help="Data folder of the web form, whose database is used.",
    )
    return option(command)


def by_option(command: Command) -> Command:
    """Add ``--by``, the name under which something is done."""
    option = click.option(
        "--by", metavar="NAME", default=BY_COMMAND, help="Your name, for the audit trail."
    )
    return option(command)


@contextmanager
def database_in(folder: Path) -> "Iterator[Database]":
    """Database in a data folder, closed at the end; an empty folder gets one."""
    from triage.services.calls.calls import (
        Database,  # the database takes a third of a second to load
    )

    database = Database.at(folder / DATABASE_FILE)
    try:
        yield database
    finally:
        database.close()
