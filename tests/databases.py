"""A fresh database for a test: an SQLite file, or one on a PostgreSQL server started for the run.

``pytest --database postgresql`` runs tests that ask for ``database_address`` on PostgreSQL. The
server listens on a socket in a folder of its own, so that no port clashes, and needs no network.
"""

import itertools
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psycopg
from sqlalchemy import make_url

from tests.in_memory import folder_of_tests
from triage.store.database import Database

PROGRAMS = "/usr/lib/postgresql"  # where Debian keeps each version's programs
SERVER_USER = "postgres"  # the server refuses to run as root
FAST = (
    "-c fsync=off -c full_page_writes=off -c synchronous_commit=off -c autovacuum=off "
    "-c wal_level=minimal -c max_wal_senders=0 -c max_wal_size=64MB -c max_connections=200"
)
TEMPLATE = "template_shop"


class PostgresServer:
    """A running server and its databases; each has every table, copied from one template."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.numbers = itertools.count(1)
        self._make(TEMPLATE, "template1")
        Database(self.address(TEMPLATE)).close()

    def address(self, name: str) -> str:
        """Address of a database as SQLAlchemy writes it."""
        return f"postgresql+psycopg://shop@/{name}?host={self.folder}"

    def fresh(self, template: str = TEMPLATE) -> str:
        """Address of a new database; ``template1`` has no tables."""
        name = f"shop_{next(self.numbers)}"
        self._make(name, template)
        return self.address(name)

    def remove(self, address: str) -> None:
        """Remove a database that is not needed any more."""
        name = make_url(address).database
        self._say(f"DROP DATABASE {name} WITH (FORCE)")

    def _make(self, name: str, template: str) -> None:
        self._say(f"CREATE DATABASE {name} TEMPLATE {template} STRATEGY FILE_COPY")

    def _say(self, words: str) -> None:
        where = f"host={self.folder} user=shop dbname=postgres"
        with psycopg.connect(where, autocommit=True) as connection:
            connection.execute(words)  # type: ignore[call-overload]


@contextmanager
def postgres_server() -> Iterator[PostgresServer]:
    """Start a server in a new folder; stop it and remove the folder at the end."""
    versions = sorted(Path(PROGRAMS).glob("*/bin/initdb"), key=lambda path: path.parts)
    assert versions, f"{PROGRAMS} has no server: apt-get install -y postgresql"
    programs = versions[-1].parent
    folder = Path(tempfile.mkdtemp(prefix="shop-pg-", dir=folder_of_tests()))
    as_user = _other_user(folder)
    control = [*as_user, str(programs / "pg_ctl"), "-D", str(folder / "data"), "-w"]
    options = f"-c listen_addresses='' -k {folder} {FAST}"
    try:
        _run(
            [
                *as_user,
                str(programs / "initdb"),
                "-D",
                str(folder / "data"),
                "-U",
                "shop",
                "-A",
                "trust",
                "-E",
                "UTF8",
                "--locale=C.UTF-8",
                "--no-sync",
            ]
        )
        _run([*control, "-l", str(folder / "log"), "-o", options, "start"])
        yield PostgresServer(folder)
    finally:
        subprocess.run([*control, "-m", "immediate", "stop"], capture_output=True)
        shutil.rmtree(folder, ignore_errors=True)


def _other_user(folder: Path) -> list[str]:
    """Words that start a program as somebody who may run the server."""
    if os.geteuid() != 0:
        return []
    person = pwd.getpwnam(SERVER_USER)
    os.chown(folder, person.pw_uid, person.pw_gid)
    folder.chmod(0o755)
    return ["runuser", "-u", SERVER_USER, "--"]


def _run(words: list[str]) -> None:
    done = subprocess.run(words, capture_output=True, text=True, cwd="/")
    assert done.returncode == 0, f"{' '.join(words)}\n{done.stdout}\n{done.stderr}"
