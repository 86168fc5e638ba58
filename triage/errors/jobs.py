"""Errors of jobs: what is entered on site, photos, stock."""

from collections.abc import Iterable

from triage.errors.root import TriageError, nearest


class JobError(TriageError):
    """Raised when what was entered on a visit cannot be recorded."""


class UnusableEntryError(JobError):
    """Raised when an entry sent by a page or a device is not one that a job can take.

    ``field`` names what of the entry it is about; empty where it is the whole of it.
    """

    def __init__(self, what: str, expected: str, field: str = "") -> None:
        self.what, self.expected, self.field = what, expected, field
        super().__init__(f"This entry was not recorded: {what}; expected {expected}.")


class UnknownPartError(JobError):
    """Raised when a part is named that the machine does not have."""

    def __init__(self, part: str, known: Iterable[str]) -> None:
        self.part = part
        super().__init__(
            f'Unknown part "{part}"; choose one of the parts of this machine.{nearest(part, known)}'
        )


class NotPossibleNowError(JobError):
    """Raised when a job does not stand where the entry would make sense."""

    def __init__(self, what: str, way_out: str) -> None:
        super().__init__(f"{what}. {way_out}")


class PhotoError(JobError):
    """Raised when a photo cannot be kept; ``field`` is ``photo``, or ``note``."""

    def __init__(self, fact: str, way_out: str, field: str = "photo") -> None:
        self.field = field
        super().__init__(f"{fact}. {way_out}")


class UnknownPhotoError(JobError):
    """Raised when a job has no photo of that number."""

    def __init__(self, photo_id: int) -> None:
        self.photo_id = photo_id
        super().__init__(f"This job has no photo {photo_id}. Choose one on the job sheet.")


class UnknownVanError(JobError):
    """Raised when no van of that number is there."""

    def __init__(self, van_id: int) -> None:
        self.van_id = van_id
        super().__init__(f"There is no van {van_id}. Choose one from the list of vans.")
