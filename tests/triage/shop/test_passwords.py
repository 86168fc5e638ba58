"""Claims about digests and one-time passwords."""

import itertools
import re

import pytest

from triage.services.people.passwords import ALPHABET, STRONG, UNBIASED, Passwords

CHEAP = Passwords(passes=1, memory_kib=8, lanes=1)


def test_digest_costs_what_the_standard_recommends() -> None:
    # Second recommended option of [RFC9106]_, section 4: t=3, m=64 MiB, p=4, argon2id.
    assert STRONG.digest("a password").startswith("$argon2id$v=19$m=65536,t=3,p=4$")


def test_digest_proves_its_password_and_no_other() -> None:
    digest = CHEAP.digest("the right one")

    assert CHEAP.is_right(digest, "the right one")
    assert not CHEAP.is_right(digest, "the wrong one")


def test_same_password_has_another_digest_each_time() -> None:
    assert CHEAP.digest("the same") != CHEAP.digest("the same")


@pytest.mark.parametrize("digest", ["", "plain text", "$argon2id$v=19$m=8,t=1,p=1$broken"])
def test_what_is_no_digest_proves_nothing(digest: str) -> None:
    assert not CHEAP.is_right(digest, digest)


def test_digest_of_another_cost_is_right_and_due() -> None:
    digest = CHEAP.digest("the right one")
    dearer = Passwords(passes=2, memory_kib=16, lanes=1)

    assert dearer.is_right(digest, "the right one")
    assert dearer.is_due(digest)
    assert not CHEAP.is_due(digest)


def test_one_time_password_is_easy_to_read_out() -> None:
    drawn = {CHEAP.one_time() for _ in range(50)}

    assert len(drawn) == 50
    for password in drawn:
        assert re.fullmatch(rf"[{ALPHABET}]{{4}}(-[{ALPHABET}]{{4}}){{3}}", password)
    assert not set("01ilo") & set(ALPHABET)


def test_one_time_password_favours_no_character() -> None:
    counter = itertools.count()

    def every_byte(number: int) -> bytes:
        return bytes(next(counter) % 256 for _ in range(number))

    passwords = Passwords(passes=1, memory_kib=8, lanes=1, random_bytes=every_byte)
    drawn = "".join(passwords.one_time().replace("-", "") for _ in range(UNBIASED // 16 * 2))

    assert {drawn[:UNBIASED].count(one) for one in ALPHABET} == {UNBIASED // len(ALPHABET)}
