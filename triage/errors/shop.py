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
