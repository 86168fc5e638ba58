"""People of the demo shop: invented, with passwords that its sign-in page shows to everybody."""

from dataclasses import dataclass
from datetime import datetime

from triage.services.calls.calls import Database
from triage.services.people.accounts import PROGRAM, add_person_with_password
from triage.services.people.audit import Stamp
from triage.services.people.passwords import STRONG, Passwords
from triage.services.people.roles import Person, Role


@dataclass(frozen=True, slots=True)
class DemoPerson:
    """An invented person; ``title`` is the role as people read it."""

    login: str
    name: str
    role: Role
    title: str
    password: str


DEMO_PEOPLE = (
    DemoPerson("wren", "Wren Ashby", Role.DISPATCHER, "Dispatcher", "the phone rings at nine"),
    DemoPerson("tarn", "Tarn Holloway", Role.TECHNICIAN, "Technician", "a van full of pumps"),
    DemoPerson("larke", "Larke Merrow", Role.OWNER, "Owner", "the drum is quiet now"),
)


def add_people(database: Database, at: datetime, passwords: Passwords = STRONG) -> None:
    """Give the demo shop its people."""
    for one in DEMO_PEOPLE:
        person = Person(one.login, one.name, one.role)
        stamp = Stamp(at, PROGRAM)
        add_person_with_password(database, person, one.password, passwords, stamp)
