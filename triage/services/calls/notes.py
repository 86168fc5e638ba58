"""Notes on a call; they can be taken at any time, also after it ended."""

from collections.abc import Sequence

from triage.network.values import FaultNetwork
from triage.services.call_log.change import Entry, change_call
from triage.services.call_log.events import CallEvent, NoteTaken
from triage.services.call_log.state import CallState
from triage.store.database import Database


def take_note(database: Database, call_id: int, text: str, entry: Entry) -> None:
    """Add a note to a call.

    Raises
    ------
    UnknownCallError, StaleCallError
    """

    def decide(state: CallState, network: FaultNetwork) -> Sequence[CallEvent]:
        return [NoteTaken(text.strip())]

    change_call(database, call_id, entry, decide, only_open=False)
