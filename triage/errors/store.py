"""Errors of the store."""

from triage.errors.root import TriageError


class StoreError(TriageError):
    """Root of what can go wrong between the program and its database."""


class NewerDatabaseError(StoreError):
    """Raised when a newer program wrote the database."""

    def __init__(self, found: str, newest: str) -> None:
        self.found, self.newest = found, newest
        super().__init__(
            f"The database has revision {found}; this program knows revisions up to {newest}. "
            "Nothing was changed. Update the program, or name another database."
        )
