"""Errors of fault networks."""

from collections.abc import Sequence

from triage.errors.root import TriageError, listed, nearest


class NetworkError(TriageError):
    """Raised when a fault network cannot be used."""


class NetworkFileError(NetworkError):
    """Raised when a network file has problems; ``problems`` holds every one, in line order."""

    def __init__(self, place: str, problems: Sequence[str]) -> None:
        self.place = place
        self.problems = tuple(problems)
        count = len(self.problems)
        heading = f"{place}: {count} problem{'s' if count != 1 else ''}"
        super().__init__("\n".join([heading, *self.problems]))


class UnknownNetworkError(NetworkError):
    """Raised when no fault network of that name is shipped."""

    def __init__(self, name: str, known: Sequence[str]) -> None:
        self.name = name
        super().__init__(
            f'Unknown network "{name}"; expected one of {listed(known)} or a path to a .yaml file.'
            + nearest(name, known)
        )


class UnknownNodeError(NetworkError):
    """Raised when a network has no component, failure mode or sign of that id."""

    def __init__(self, name: str, network: str, known: Sequence[str]) -> None:
        self.name, self.network = name, network
        super().__init__(
            f'Unknown component, failure mode or sign "{name}"; expected one of the {len(known)} '
            f"of {network}, such as {listed(known, limit=4)}." + nearest(name, known)
        )


class InfeasiblePriorError(NetworkError):
    """Raised when no base odds reproduce the stated shares."""

    def __init__(self, network: str, reason: str) -> None:
        self.network = network
        super().__init__(f"{network}: the prior cannot be solved, {reason}.")


class UnknownVersionError(NetworkError):
    """Raised when a version of a network is asked for that is not kept."""

    def __init__(self, network: str, version: int, known: Sequence[int]) -> None:
        self.network, self.version = network, version
        numbers = ", ".join(str(number) for number in sorted(known)) or "none"
        super().__init__(
            f'Network "{network}": no version {version} is kept; expected one of {numbers}.'
        )


class VersionStateError(NetworkError):
    """Raised when something is decided about a version that was decided already."""

    def __init__(self, network: str, version: int, state: str, wanted: str) -> None:
        self.network, self.version, self.state = network, version, state
        super().__init__(
            f'Network "{network}", version {version}: it is {state}, so it cannot be {wanted}. '
            "Look at the version as it is now."
        )


class RenamesFileError(NetworkError):
    """Raised when the table of renamed and retired ids has problems; all of them are listed."""

    def __init__(self, problems: Sequence[str]) -> None:
        self.problems = tuple(problems)
        super().__init__("\n".join(problems))
