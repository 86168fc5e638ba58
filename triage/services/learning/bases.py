"""Where learning starts from, kept with each version."""

from dataclasses import asdict, dataclass
from typing import TYPE_CHECKING, Any

from triage.services.learning.editing import Edit
from triage.store.networks import version_why

if TYPE_CHECKING:
    from sqlalchemy.orm import Session


@dataclass(frozen=True, slots=True)
class Base:
    """A shipped version, and numbers the owner set since."""

    version: int
    edits: tuple[Edit, ...] = ()

    def as_json(self) -> dict[str, Any]:
        """Base as the store keeps it."""
        return {"version": self.version, "edits": [asdict(one) for one in self.edits]}


def base_kept(session: "Session", network_id: str, version: int) -> Base:
    """Base of a version; a version that names none is its own."""
    kept = version_why(session, network_id, version).get("base")
    if kept is None:
        return Base(version)
    return Base(kept["version"], tuple(Edit(**one) for one in kept["edits"]))


def base_as_json(session: "Session", network_id: str, version: int) -> dict[str, Any]:
    """Base of a version as the store keeps it."""
    return base_kept(session, network_id, version).as_json()
