"""What every view needs: the database, the time, who is at work. One per app."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime, timedelta, tzinfo

from flask import current_app

from triage.planning.shop.settings import ShopSettings
from triage.services.booking.in_force import desk_settings_of
from triage.services.booking.visits import BookingRules
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.people.audit import Stamp
from triage.services.people.passwords import Passwords
from triage.services.people.roles import Person
from triage.services.settings.hours import DeskSettings
from triage.services.settings.shop_front import ShopFront
from triage.services.shop.settings import current_front, current_settings
from webform.session import at_work

EXTENSION = "triage.desk"


@dataclass(frozen=True, slots=True)
class Desk:
    """Database, clock, zone and passwords of the running app."""

    database: Database
    clock: Callable[[], datetime]
    time_zone: tzinfo
    passwords: Passwords
    configured_shop: str = ""

    def shop_name(self) -> str:
        """Name of the shop: that of its settings, else that of the server's."""
        return self.front().name or self.configured_shop

    def who(self) -> Person:
        """Who is at work; ``webform.access`` lets nobody in who is not signed in."""
        person = at_work()
        assert person is not None, "a page that is open to everybody asked who is at work"
        return person

    def stamp(self) -> Stamp:
        """Time and name of who is at work, for what is done to the shop itself."""
        return Stamp(self.clock(), self.who().name)

    def entry(self, submission: Submission) -> Entry:
        """Stamp a submission with the time and with who is at work."""
        return Entry(submission=submission, at=self.clock(), by=self.who().name)

    def settings(self) -> ShopSettings:
        """Settings of the shop that hold now."""
        return current_settings(self.database)

    def front(self) -> ShopFront:
        """Name, units, dates and tax of the shop as they hold now."""
        return current_front(self.database)

    def desk_settings(self) -> DeskSettings:
        """Service area, hours and windows as they hold now."""
        return desk_settings_of(self.database)

    def booking_rules(self) -> BookingRules:
        """Rules that bind whoever books now, at a page or by a program."""
        return BookingRules(self.desk_settings(), self.time_zone)

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
