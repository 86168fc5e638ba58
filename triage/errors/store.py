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


class StoreInUseError(StoreError):
    """Raised when a database is to be replaced that a program has open."""

    def __init__(self, path: str) -> None:
        self.path = path
        super().__init__(
            f'"{path}" is in use. Stop the program that serves it, and restore then; '
            "nothing was changed."
        )


class BackupError(TriageError):
    """Root of what can go wrong with backups."""


class NothingToBackUpError(BackupError):
    """Raised when a folder lacks what a backup is made of."""

    def __init__(self, folder: str, missing: tuple[str, ...]) -> None:
        self.folder, self.missing = folder, missing
        super().__init__(
            f'"{folder}" has no {" and no ".join(missing)}. Name the folder that "triage serve" '
            "uses with --data."
        )


class NotABackupError(BackupError):
    """Raised when a folder is taken for a backup that is none."""

    def __init__(self, folder: str) -> None:
        self.folder = folder
        super().__init__(
            f'"{folder}" is not a backup of this program; nothing was changed. Name a folder that '
            '"triage backup" made.'
        )


class OverwriteError(BackupError):
    """Raised when something is where a backup, or what it holds, is to be put."""

    def __init__(self, folder: str) -> None:
        self.folder = folder
        super().__init__(
            f'"{folder}" holds something already; nothing was changed. Name another folder, '
            "or say --replace."
        )


class DamagedBackupError(BackupError):
    """Raised when a database, or its copy, is not whole; ``problems`` says why."""

    def __init__(self, place: str, problems: tuple[str, ...]) -> None:
        self.place, self.problems = place, problems
        listed = "; ".join(problems[:5])
        super().__init__(
            f'"{place}" is damaged: {listed}. Nothing was changed; use another backup.'
        )
