"""What the owner of the demo decides on: a proposed version, and scores of the forecasts."""

from datetime import datetime

from triage.services.calls.calls import Database, Entry, Submission
from triage.services.learning.work import Work, ask_for, work_off
from webform.demo.story import WASHER

OWNER = "Larke Merrow"
WORK = ((Work.PROPOSE, WASHER), (Work.EVALUATE, ""))


def learn(database: Database, now: datetime) -> None:
    """Propose better numbers from the closed jobs of one appliance, and score all forecasts."""
    for kind, network_id in WORK:
        entry = Entry(submission=Submission(f"demo-{kind}", 0), at=now, by=OWNER)
        number, _ = ask_for(database, kind, network_id, {}, entry)
        work_off(database, number, lambda: now)
