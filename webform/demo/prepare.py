"""Make the demo: its folder, its people, its story, its closed jobs."""

from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path

from triage.errors import TriageError
from triage.services.calls.calls import Database
from triage.services.people.accounts import has_people
from triage.services.people.passwords import STRONG, Passwords
from webform.config import DATABASE_FILE, Config
from webform.demo.calls import DEMO_CALLS
from webform.demo.closed_jobs import take_in
from webform.demo.customers import put_names_to_jobs
from webform.demo.learning import learn
from webform.demo.playing import Player
from webform.demo.shop import BY, SHOP, Stamps, set_up_shop
from webform.demo.week import week
from webform.demo_people import add_people

MARKER = "demo.txt"
MARKER_TEXT = "Invented calls of the demo shop; `triage demo --reset` makes them anew.\n"
OPENED_BEFORE = timedelta(days=400)  # when the settings of the shop were saved


class NotADemoError(TriageError):
    """Raised when a demo is asked for in a folder that holds something else."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: holds calls that are not of the demo; nothing was changed. "
            "Choose another folder with --data."
        )


def demo_config(folder: Path) -> Config:
    """Settings of the demo: this machine only, its own time zone, every page marked as invented."""
    return Config(
        data_folder=folder,
        time_zone=datetime.now().astimezone().tzinfo or UTC,
        shop=SHOP,
        uses_https=False,
        hosts=("127.0.0.1", "localhost"),
        is_demo=True,
    )


def prepare_demo(
    folder: Path,
    *,
    reset: bool,
    learns: bool = False,
    passwords: Passwords = STRONG,
    now: datetime | None = None,
) -> None:
    """Make the folder of the demo with its calls, unless it is there already.

    The story is played around ``now``, the present moment if it is left out. A demo that ``learns``
    also has a proposed version and scores, which takes as long again.

    Raises
    ------
    NotADemoError
        The folder holds calls that are not of the demo.
    """
    database_file = folder / DATABASE_FILE
    if database_file.exists() and not (folder / MARKER).exists():
        raise NotADemoError(folder)
    folder.mkdir(parents=True, exist_ok=True)
    (folder / MARKER).write_text(MARKER_TEXT, encoding="utf-8")
    if reset:
        for leftover in folder.glob(f"{DATABASE_FILE}*"):  # with its -wal and -shm
            leftover.unlink()
    is_new = not database_file.exists()
    database = Database.at(database_file)
    now = now or datetime.now(UTC)
    if not has_people(database):
        add_people(database, now, passwords)
    if is_new:
        fill(database, now, demo_config(folder).time_zone)
    if is_new and learns:
        learn(database, now)
    database.close()


def fill(database: Database, now: datetime, zone: tzinfo = UTC) -> None:
    """Play the story around a moment, and take in a year of closed jobs before it.

    Today's calls come first, so that their numbers are small and the same in every demo.
    """
    stamps = Stamps()
    vans = set_up_shop(database, now - OPENED_BEFORE, stamps)
    player = Player(database, now, zone, vans, stamps)
    for call in (*DEMO_CALLS, *week(now.astimezone(zone).date())):
        player.take(call)
    take_in(database, now, zone, BY)
    put_names_to_jobs(player)
