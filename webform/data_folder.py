"""The data folder on the command line: which one, and the database that belongs to it."""

import os
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from triage.errors import TriageError

if TYPE_CHECKING:
    from triage.services.calls.calls import Database
    from webform.config import Config

EMPTY: Mapping[str, str] = {}
Command = TypeVar("Command", bound=Callable[..., Any])


class NoDataError(TriageError):
    """Raised when a folder holds no shop."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f'"{folder}" holds no calls and no people. Name the folder that "triage serve" uses '
            "with --data, or start it there once."
        )


def data_option(text: str, *, exists: bool = True) -> Callable[[Command], Command]:
    """Add ``--data``, passed on as ``data``."""
    return click.option(
        "--data",
        type=click.Path(path_type=Path, file_okay=False, exists=exists),
        envvar="TRIAGE_DATA",
        required=True,
        help=text,
    )


def config_of(
    data: Path, standing_in: Mapping[str, str] = EMPTY, stronger: Mapping[str, str] = EMPTY
) -> "Config":
    """Settings of a data folder; the others are read from the environment.

    ``standing_in`` holds where the environment says nothing, ``stronger`` whatever it says.

    Raises
    ------
    ConfigError
    """
    from webform.config import Config  # late: reading the help must not wait for it

    names = {**standing_in, **os.environ, "TRIAGE_DATA": str(data), **stronger}
    return Config.from_environment(names)


@contextmanager
def database_of(data: Path) -> Iterator["Database"]:
    """Database of a data folder that is in use already.

    Raises
    ------
    ConfigError, NoDataError
    """
    from triage.services.calls.calls import Database
    from webform.config import DATABASE_FILE

    config = config_of(data)
    if not config.database_url and not (data / DATABASE_FILE).exists():
        raise NoDataError(data)
    database = Database(config.database_address)
    try:
        yield database
    finally:
        database.close()
