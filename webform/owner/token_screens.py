"""Read model of the list of tokens: every value a finished text."""

from collections.abc import Iterable
from dataclasses import dataclass

from triage.services.people.tokens import Token
from webform.auth.texts import ROLES
from webform.formatting import day_and_time
from webform.owner.people_texts import NEVER_USED, TOKEN_ACTIVE, TOKEN_IDLE, TOKEN_REVOKED


@dataclass(frozen=True, slots=True)
class TokenLine:
    """A token as a line of the list."""

    id: int
    name: str
    role: str
    person: str
    made: str
    used: str
    status: str
    can_be_revoked: bool


def token_lines(tokens: Iterable[Token]) -> list[TokenLine]:
    """Lines of the list of tokens."""
    return [
        TokenLine(
            id=token.id,
            name=token.name,
            role=ROLES[token.role],
            person=token.person,
            made=day_and_time(token.added_at),
            used=NEVER_USED if token.used_at is None else day_and_time(token.used_at),
            status=_status(token),
            can_be_revoked=token.revoked_at is None,
        )
        for token in tokens
    ]


def _status(token: Token) -> str:
    if token.revoked_at is not None:
        return TOKEN_REVOKED.format(when=day_and_time(token.revoked_at))
    return TOKEN_ACTIVE if token.is_in_force else TOKEN_IDLE
