"""Errors of what the owner keeps."""

from triage.errors.root import TriageError


class StaleSettingsError(TriageError):
    """Raised when the settings were saved in another window since the page was shown."""

    def __init__(self, shown: int, current: int) -> None:
        self.shown, self.current = shown, current
        super().__init__(
            f"The settings were changed in another window since this page was shown: it shows "
            f"version {shown}, and version {current} holds. Nothing was saved; open the settings "
            "again and make the change there."
        )


class PlateNoteError(TriageError):
    """Raised when an entry of the list by plate says nothing; ``field`` names what of it."""

    def __init__(self, field: str, got: str, expected: str) -> None:
        self.field, self.got, self.expected = field, got, expected
        super().__init__(f"Entry by plate, {field}: got {got}; expected {expected}.")
