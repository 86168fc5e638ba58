"""Settings of the web form, read once from the environment; every problem is reported at once.

| variable | meaning |
|---|---|
| ``TRIAGE_DATA`` | folder that holds the calls and the secret key; made if it is not there |
| ``TRIAGE_DATABASE_URL`` | database address; an SQLite file in the data folder if it is empty |
| ``TRIAGE_TIME_ZONE`` | zone in which times are shown, such as ``America/Chicago``; UTC if empty |
| ``TRIAGE_SHOP`` | name of the shop, shown on every page |
| ``TRIAGE_HTTPS`` | ``yes`` if browsers reach the form by https only, else ``no``; yes if empty |
| ``TRIAGE_HOSTS`` | host names the form answers to, with commas between; any if empty |
| ``TRIAGE_PROXY`` | address of the proxy in front, such as ``127.0.0.1``; no proxy if empty |
| ``TRIAGE_API_LIMIT`` | how often a token may ask, such as ``60 per minute``; 600 if empty |
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from datetime import UTC, tzinfo
from ipaddress import ip_address
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo, available_timezones

from limits import parse

from triage.errors import TriageError, nearest

DATABASE_FILE = "calls.sqlite"
API_LIMIT = "600 per minute"  # common practice, no source: ten a second for one program

T = TypeVar("T")


class ConfigError(TriageError):
    """Raised when settings are missing or wrong; ``problems`` holds every one."""

    def __init__(self, problems: tuple[str, ...]) -> None:
        self.problems = problems
        super().__init__("\n".join(["The settings cannot be used:", *problems]))


@dataclass(frozen=True, slots=True, kw_only=True)
class Config:
    """Settings of the web form; see the table above.

    ``is_demo`` marks every page as invented. ``hosts`` empty means any host name. Only of the
    ``proxy`` is it believed for whom it asks, and whether by https.
    """

    data_folder: Path
    database_url: str = ""
    time_zone: tzinfo = UTC
    shop: str = ""
    uses_https: bool = True
    hosts: tuple[str, ...] = ()
    proxy: str = ""
    is_demo: bool = False
    api_limit: str = API_LIMIT

    @classmethod
    def from_environment(cls, environ: Mapping[str, str]) -> "Config":
        """Read the settings.

        Raises
        ------
        ConfigError
            With a line for each setting that is missing or wrong.
        """
        read = _Reader(environ)
        config = cls(
            data_folder=read("TRIAGE_DATA", _folder, Path()),
            database_url=read("TRIAGE_DATABASE_URL", _address, ""),
            time_zone=read("TRIAGE_TIME_ZONE", _zone, _zone("")),
            shop=read("TRIAGE_SHOP", str, ""),
            uses_https=read("TRIAGE_HTTPS", _yes_or_no, True),
            hosts=read("TRIAGE_HOSTS", _names, ()),
            proxy=read("TRIAGE_PROXY", _ip_address, ""),
            api_limit=read("TRIAGE_API_LIMIT", _limit, API_LIMIT),
        )
        if read.problems:
            raise ConfigError(tuple(read.problems))
        return config

    @property
    def database_address(self) -> str:
        """Address of the database as SQLAlchemy writes it."""
        return self.database_url or f"sqlite:///{self.data_folder.resolve() / DATABASE_FILE}"


class _Reader:
    """Reads one setting after the other and keeps what is wrong with them."""

    def __init__(self, environ: Mapping[str, str]) -> None:
        self.environ = environ
        self.problems: list[str] = []

    def __call__(self, name: str, convert: Callable[[str], T], stand_in: T) -> T:
        """Value of a setting; the stand-in if it is wrong, and then it is never used."""
        text = self.environ.get(name, "").strip()
        try:
            return convert(text)
        except ValueError as error:
            self.problems.append(f'{name}: got "{text}"; {error}')
            return stand_in


def _folder(text: str) -> Path:
    if not text:
        raise ValueError("expected the folder that holds the calls")
    path = Path(text).expanduser()
    if path.exists() and not path.is_dir():
        raise ValueError("expected a folder, and this is a file")
    return path


def _address(text: str) -> str:
    if text and "://" not in text:
        raise ValueError('expected an address such as "postgresql+psycopg://shop@/calls"')
    return text


def _zone(text: str) -> tzinfo:
    known = available_timezones()
    if text and text not in known:
        raise ValueError('expected a zone such as "America/Chicago".' + nearest(text, known))
    return ZoneInfo(text or "UTC")


def _yes_or_no(text: str) -> bool:
    if text not in ("", "yes", "no"):
        raise ValueError('expected "yes" or "no"')
    return text != "no"


def _ip_address(text: str) -> str:
    try:
        return str(ip_address(text)) if text else ""
    except ValueError:
        raise ValueError('expected the address of a machine such as "127.0.0.1"') from None


def _limit(text: str) -> str:
    try:
        return str(parse(text or API_LIMIT))
    except ValueError:
        raise ValueError('expected a number and a time such as "60 per minute"') from None


def _names(text: str) -> tuple[str, ...]:
    return tuple(name.strip() for name in text.split(",") if name.strip())
