"""What every test shares: one BLAS thread, fixed random numbers, a browser, a database."""

import gc
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

# Two BLAS threads on two busy cores are many times slower than one. numpy reads this on import.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest
from hypothesis import settings

from tests.databases import PostgresServer, postgres_server
from tests.in_memory import folder_of_tests
from tests.once_a_run import once_a_run
from triage.store.database import Database

# What modules, networks and templates hold is alive to the end: look through it rarely.
gc.set_threshold(100_000, 20, 100)

os.environ.setdefault("PYTEST_DEBUG_TEMPROOT", str(folder_of_tests()))  # of tmp_path

CHROMIUM = Path("/usr/bin/chromium")
DATABASE = "database_address"
ONE_ENGINE = "one_engine"
# The files that take longest, so that two processes end together. The first makes the demo; the
# other process need not wait for it, since the second has a shop of its own.
BEGUN_FIRST = ("test_every_page", "test_journey", "test_photos", "test_jobsheet")

# The same examples in every run; an example may take as long as a busy machine needs.
settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.load_profile("repeatable")


def pytest_addoption(parser: pytest.Parser) -> None:
    """Choose the database engine of the tests that need one."""
    parser.addoption("--database", choices=("sqlite", "postgresql"), default="sqlite")


def pytest_configure(config: pytest.Config) -> None:
    """Name the mark of tests that ask of a database only who is signed in."""
    told = "pages of what is shipped; a second engine would see nothing new"
    config.addinivalue_line("markers", f"{ONE_ENGINE}: {told}")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Put long files first; mark the tests that use a database; skip those without a browser.

    Continuous integration must have Chromium.
    """
    items.sort(key=_place)
    for item in items:
        uses_database = DATABASE in getattr(item, "fixturenames", ())
        if uses_database and not item.get_closest_marker(ONE_ENGINE):
            item.add_marker("database")
    if CHROMIUM.exists() or "CI" in os.environ:
        return
    skip = pytest.mark.skip(reason=f"{CHROMIUM} is not installed")
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(skip)


def _place(item: pytest.Item) -> int:
    """Place of a test's file: those begun first in their order, then all others as they were."""
    name = item.path.stem
    return BEGUN_FIRST.index(name) if name in BEGUN_FIRST else len(BEGUN_FIRST)


@pytest.fixture
def rng() -> np.random.Generator:
    """Random generator with a fixed seed."""
    return np.random.default_rng(20260101)


@pytest.fixture(scope="session")
def postgresql() -> Iterator[PostgresServer]:
    """PostgreSQL server of this run."""
    with postgres_server() as server:
        yield server


@pytest.fixture(scope="session")
def made_demo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The demo as ``triage demo`` makes it, once a run; nobody opens it, a test copies it."""
    # Here, not at the top: tests of the library do not wait for the web form.
    from tests.web.conftest import CHEAP
    from webform.demo import prepare_demo

    def make(folder: Path) -> None:
        prepare_demo(folder, reset=False, learns=True, passwords=CHEAP)

    return once_a_run(tmp_path_factory, "demo", make)


@pytest.fixture
def demo_copy(made_demo: Path, tmp_path: Path) -> Path:
    """A demo of the test's own, with calls, people, a proposed version and scores."""
    return Path(shutil.copytree(made_demo, tmp_path / "demo"))


@pytest.fixture(scope="session")
def sqlite_template(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """SQLite file that has every table, made once; nobody writes into it."""
    path = tmp_path_factory.mktemp("template") / "calls.sqlite"
    Database.at(path).close()
    return path


@pytest.fixture
def database_address(request: pytest.FixtureRequest, tmp_path: Path) -> Iterator[str]:
    """Address of a fresh database of the engine that was chosen, copied from one with tables."""
    if request.config.getoption("--database") == "sqlite":
        template: Path = request.getfixturevalue("sqlite_template")
        yield f"sqlite:///{shutil.copyfile(template, tmp_path / 'calls.sqlite')}"
        return
    server: PostgresServer = request.getfixturevalue("postgresql")
    address = server.fresh()
    yield address
    server.remove(address)


@pytest.fixture
def database(database_address: str) -> Iterator[Database]:
    """Fresh database."""
    made = Database(database_address)
    yield made
    made.close()
