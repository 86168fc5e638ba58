"""The demo shop: an invented shop in an invented town, with invented calls."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta, tzinfo
from pathlib import Path
from uuid import uuid4

from triage.errors import TriageError
from triage.services import calls
from triage.services.call_events import CallOutcome
from triage.services.call_intake import safety_check
from triage.services.calls import CallReport, Database, Entry, Submission
from triage.services.people.accounts import has_people
from triage.services.people.passwords import STRONG, Passwords
from webform.config import DATABASE_FILE, Config
from webform.demo_desk import add_desk
from webform.demo_people import add_people

SHOP = "The Quiet Drum, Larkham Hollow"
MARKER = "demo.txt"
MARKER_TEXT = "Invented calls of the demo shop; `triage demo --reset` makes them anew.\n"
WASHER = "top_load_washer"


class NotADemoError(TriageError):
    """Raised when a demo is asked for in a folder that holds something else."""

    def __init__(self, folder: Path) -> None:
        super().__init__(
            f"{folder}: holds calls that are not of the demo; nothing was changed. "
            "Choose another folder with --data."
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class DemoCall:
    """An invented call: what was said, which dangers, signs and answers, how it ended."""

    caller: str
    words: str
    minutes_ago: int
    appliance: str = WASHER
    is_asked: bool = True
    dangers: Sequence[str] = ()
    signs: Sequence[str] = ()
    answers: Mapping[str, str] = field(default_factory=dict)
    outcome: CallOutcome | None = None
    note: str = ""


DEMO_CALLS = (
    DemoCall(
        caller="Blue door, Heron Lane",
        words="It won't spin and the clothes are soaking wet. It started yesterday.",
        minutes_ago=52,
        signs=["says_no_spin"],
        answers={"says_water_left": "no", "says_lid_clicks": "yes"},
        outcome=CallOutcome.VISIT,
        note="Thursday morning, dog in the yard.",
    ),
    DemoCall(
        caller="Upstairs flat by the mill",
        words="The washer is fine I think, but I smell gas down there.",
        minutes_ago=41,
        dangers=["gas_smell"],
    ),
    DemoCall(
        caller="Farm past the old bridge",
        words="Water everywhere, I can't stop the water, it keeps running.",
        minutes_ago=23,
        dangers=["flooding"],
    ),
    DemoCall(
        caller="Corner shop, back room",
        words="It won't drain, it just hums and the clothes are swimming in it.",
        minutes_ago=9,
        signs=["says_water_left"],
        answers={"asks_pump_sound": "humming"},
    ),
    DemoCall(
        caller="Number 14, second call today",
        words="Now it makes a grinding noise when it starts.",
        minutes_ago=1,
        is_asked=False,
    ),
    DemoCall(
        caller="House with the weathercock",
        words="It takes three cycles to dry and the laundry room gets steamy.",
        minutes_ago=34,
        appliance="gas_dryer",
        signs=["says_dries_slowly", "says_steamy_room"],
        answers={"asks_hood_air": "weak"},
    ),
    DemoCall(
        caller="Mill cottage",
        words="The dryer without a hose says it cannot go on.",
        minutes_ago=17,
        appliance="heat_pump_dryer",
    ),
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


def prepare_demo(folder: Path, *, reset: bool, passwords: Passwords = STRONG) -> None:
    """Make the folder of the demo with its calls, unless it is there already.

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
    now = datetime.now(UTC)
    if not has_people(database):
        add_people(database, now, passwords)
    if is_new:
        fill(database, now, demo_config(folder).time_zone)
    database.close()


def fill(database: Database, now: datetime, zone: tzinfo = UTC) -> None:
    """Take the invented calls, each the stated minutes ago; add customers, vans and a visit."""
    for call in DEMO_CALLS:
        _take(database, call, now - timedelta(minutes=call.minutes_ago))
    add_desk(database, now, zone)


def _take(database: Database, call: DemoCall, at: datetime) -> None:
    report = CallReport(network_id=call.appliance, caller=call.caller, words=call.words)
    call_id = calls.open_call(database, report, _entry(0, at))
    if not call.is_asked:
        return
    check = safety_check(database, call_id)
    answers = {question.flag.id: question.flag.id in call.dangers for question in check.questions}
    calls.answer_safety_questions(database, call_id, answers, _next(database, call_id, at))
    if call.signs:
        calls.confirm_signs(database, call_id, call.signs, _next(database, call_id, at))
    for observation, answer in call.answers.items():
        entry = _next(database, call_id, at)
        calls.answer_question(database, call_id, observation, answer, entry)
    if call.outcome is not None:
        entry = _next(database, call_id, at)
        calls.end_call(database, call_id, call.outcome, call.note, entry)


def _entry(version: int, at: datetime) -> Entry:
    return Entry(submission=Submission(uuid4().hex, version), at=at, by="demo")


def _next(database: Database, call_id: int, at: datetime) -> Entry:
    return _entry(calls.find_call(database, call_id).version, at)
