"""Random numbers by name: the same name gives the same number, whatever was drawn before.

Policies that are compared must meet the same machine, the same answers and the same luck, although
they ask in another order. So every chance event has a name (what happens, and for which time), and
its number is a hash of that name and of the run. Names, not a stream, are what is common.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from hashlib import blake2b

Name = str | int

BITS = 53  # of a float's fraction


@dataclass(frozen=True, slots=True)
class Draws:
    """Numbers of one run; ``run`` names it, for example a seed and the number of a job."""

    run: tuple[Name, ...]

    def uniform(self, *name: Name) -> float:
        """Number from 0 up to 1, 1 excluded, of the event of that name."""
        digest = blake2b(repr((self.run, name)).encode(), digest_size=8).digest()
        return (int.from_bytes(digest, "big") >> (64 - BITS)) / 2.0**BITS

    def place(self, probabilities: Sequence[float], *name: Name) -> int:
        """Place drawn with these probabilities, which need not sum to 1 exactly."""
        left = self.uniform(*name) * sum(probabilities)
        for place, probability in enumerate(probabilities):
            left -= probability
            if left < 0.0:
                return place
        return max(place for place, p in enumerate(probabilities) if p > 0.0)
