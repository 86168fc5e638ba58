"""What every view needs: the database, the time, who is at work. One per app."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from flask import current_app

from triage.planning.shop import ShopSettings
from triage.services.calls import Database, Entry, Submission
from triage.services.shop.settings import current_front, current_settings
from triage.services.shop_front import ShopFront

EXTENSION = "triage.desk"
DISPATCHER = "dispatcher"  # until people sign in


@dataclass(frozen=True, slots=True)
class Desk:
    """Database, clock and zone of the running app."""

    database: Database
    clock: Callable[[], datetime]
    time_zone: tzinfo

    def entry(self, submission: Submission) -> Entry:
        """Stamp a submission with the time and with who is at work."""
        return Entry(submission=submission, at=self.clock(), by=DISPATCHER)

    def settings(self) -> ShopSettings:
        """Settings of the shop that hold now."""
        return current_settings(self.database)

    def front(self) -> ShopFront:
        """Name, units, dates and tax of the shop as they hold now."""
        return current_front(self.database)

    def midnight(self) -> datetime:
        """Start of today in the zone of the shop."""
        now = self.clock().astimezone(self.time_zone)
        return now - timedelta(
            hours=now.hour, minutes=now.minute, seconds=now.second, microseconds=now.microsecond
        )


def desk() -> Desk:
    """Desk of the running app."""
    found = current_app.extensions[EXTENSION]
    assert isinstance(found, Desk)
    return found
