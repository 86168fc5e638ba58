"""Who may be at work: a person and a role."""

from dataclasses import dataclass
from enum import StrEnum


class Role(StrEnum):
    """What a person does in the shop. The owner may do what the others may, too."""

    DISPATCHER = "dispatcher"
    TECHNICIAN = "technician"
    OWNER = "owner"


@dataclass(frozen=True, slots=True)
class Person:
    """Somebody who is at work: login, name as others read it, role."""

    login: str
    name: str
    role: Role


def written(name: str) -> str:
    r"""Name on one line, without what cannot be seen, which databases and lists do not take.

    >>> written("  Parts \x00 desk ")
    'Parts desk'
    """
    return " ".join("".join(one for one in name if one.isprintable() or one.isspace()).split())
