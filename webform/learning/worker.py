"""A thread for long work, so that no page waits for it. One piece of work at a time."""

import threading

from triage.services.calls.calls import Entry
from triage.services.learning.work import Work, ask_for, work_off
from webform.desk import desk

ONE_AT_A_TIME = threading.Lock()
PREFIX = "learning-"


def begin(kind: Work, network_id: str, request: dict[str, object], entry: Entry) -> int:
    """Ask for work and begin it; gives its number. Sent twice it is begun once."""
    at_work = desk()
    number, is_new = ask_for(at_work.database, kind, network_id, request, entry)

    def run() -> None:
        with ONE_AT_A_TIME:
            work_off(at_work.database, number, at_work.clock)

    if is_new:
        threading.Thread(target=run, name=f"{PREFIX}{number}", daemon=True).start()
    return number


def wait_for_all(timeout_s: float = 300.0) -> None:
    """Wait until all work that was begun is done; before a database is closed, and in tests."""
    for thread in threading.enumerate():
        if thread.name.startswith(PREFIX):
            thread.join(timeout_s)
