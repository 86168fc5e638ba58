"""Passwords: argon2id digests, what a new password must be, one-time passwords.

The cost of a digest is the second recommended choice of [RFC9106]_: 3 passes over 64 MiB in 4
lanes. A digest of another cost still proves its password, and is due to be made anew.
"""

import secrets
import unicodedata
from collections.abc import Callable

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError

from triage.errors import PasswordRuleError

LENGTH_MIN = 12  # characters; common practice
LENGTH_MAX = 200  # characters; longer ones would only keep the program busy
PASSES = 3
MEMORY_KIB = 65_536
LANES = 4

# Without letters and digits that are taken for one another when a password is read out.
ALPHABET = "abcdefghjkmnpqrstuvwxyz23456789"
GROUPS = 4
GROUP_LENGTH = 4  # 16 characters of 31: 79 bits
UNBIASED = 256 - 256 % len(ALPHABET)  # bytes from here on would favour the first characters


class Passwords:
    """Digests of passwords at one cost.

    Parameters
    ----------
    passes, memory_kib, lanes : int
        Cost of a digest. Less than the defaults is for tests.
    random_bytes : callable
        Gives so many random bytes, for one-time passwords.
    """

    def __init__(
        self,
        *,
        passes: int = PASSES,
        memory_kib: int = MEMORY_KIB,
        lanes: int = LANES,
        random_bytes: Callable[[int], bytes] = secrets.token_bytes,
    ) -> None:
        self._hasher = PasswordHasher(time_cost=passes, memory_cost=memory_kib, parallelism=lanes)
        self._random_bytes = random_bytes

    def digest(self, password: str) -> str:
        """Digest to keep; it names its own cost and salt."""
        return self._hasher.hash(_same_everywhere(password))

    def is_right(self, digest: str, password: str) -> bool:
        """Whether the digest was made of this password.

        An empty digest is of nobody. It takes as long as any other to say so, so that the time of
        an answer does not tell which logins there are.
        """
        if not digest:
            self.digest(password)
            return False
        try:
            return self._hasher.verify(digest, _same_everywhere(password))
        except (VerificationError, InvalidHashError):
            return False

    def is_due(self, digest: str) -> bool:
        """Whether the digest was made at another cost than this one."""
        return self._hasher.check_needs_rehash(digest)

    def one_time(self) -> str:
        """New random password to read out once, such as ``k7f3-9m2q-x4tn-h8wp``."""
        characters: list[str] = []
        while len(characters) < GROUPS * GROUP_LENGTH:
            for byte in self._random_bytes(GROUPS * GROUP_LENGTH):
                if byte < UNBIASED:
                    characters.append(ALPHABET[byte % len(ALPHABET)])
        starts = range(0, GROUPS * GROUP_LENGTH, GROUP_LENGTH)
        return "-".join("".join(characters[start : start + GROUP_LENGTH]) for start in starts)


STRONG = Passwords()


def check_new_password(password: str, login: str) -> None:
    """Refuse a password that is easily guessed.

    Raises
    ------
    PasswordRuleError
        It is too short, too long, or the login.
    """
    plain = _same_everywhere(password)
    if len(plain) < LENGTH_MIN:
        raise PasswordRuleError(f"must have {LENGTH_MIN} characters or more")
    if len(plain) > LENGTH_MAX:
        raise PasswordRuleError(f"must have {LENGTH_MAX} characters or fewer")
    if login.casefold() == plain.strip().casefold():
        raise PasswordRuleError("must not be the login")
    if len(set(plain)) == 1:
        raise PasswordRuleError("must not be one character over and over")


def _same_everywhere(password: str) -> str:
    """One spelling of a password, whichever keyboard it was typed on."""
    return unicodedata.normalize("NFKC", password)
