"""Errors of the settings of a shop."""

from collections.abc import Sequence

from triage.errors.root import TriageError


class SettingsFileError(TriageError):
    """Raised when a file of shop settings has problems; ``problems`` holds every one."""

    def __init__(self, place: str, problems: Sequence[str]) -> None:
        self.place = place
        self.problems = tuple(problems)
        count = len(self.problems)
        heading = f"{place}: {count} problem{'s' if count != 1 else ''}"
        super().__init__("\n".join([heading, *self.problems]))
