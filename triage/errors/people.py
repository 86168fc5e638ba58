"""Errors of the people of the shop, their logins and passwords."""

from triage.errors.root import TriageError


class PeopleError(TriageError):
    """Root of what can go wrong with accounts, passwords and tokens."""


class UnknownPersonError(PeopleError):
    """Raised when nobody has that login."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(f'Nobody has the login "{login}". Choose one from the list of people.')


class LoginTakenError(PeopleError):
    """Raised when a login is asked for that somebody has."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(
            f'The login "{login}" is taken. Choose another; if you have just added this person, '
            "give them a new one-time password."
        )


class LoginRuleError(PeopleError):
    """Raised when a login holds what a login may not hold."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(
            "Login must have 2 to 60 characters: small letters without accents, digits, "
            'and "." "-" "_" after the first'
        )


class NameRuleError(PeopleError):
    """Raised when a person's name is empty or too long."""

    def __init__(self, limit: int) -> None:
        super().__init__(f"Name must have 1 to {limit} characters")


class PasswordRuleError(PeopleError):
    """Raised when a new password is easily guessed."""

    def __init__(self, rule: str) -> None:
        self.rule = rule
        super().__init__(f"New password {rule}")


class WrongPasswordError(PeopleError):
    """Raised when login and password do not go together; it does not say which is wrong."""

    def __init__(self) -> None:
        super().__init__(
            "Login and password do not go together. Check both; capitals count in the password."
        )


class WrongPresentPasswordError(PeopleError):
    """Raised when somebody who changes their password does not know the present one."""

    def __init__(self) -> None:
        super().__init__("Present password is another one. Enter it again; capitals count.")


class LastOwnerError(PeopleError):
    """Raised when the shop would be left without an owner who can sign in."""

    def __init__(self, login: str) -> None:
        self.login = login
        super().__init__(
            "This is the only owner who can sign in. Nothing was changed; "
            "make somebody else an owner first."
        )


class UnknownTokenError(PeopleError):
    """Raised when there is no token of that number."""

    def __init__(self, token_id: str) -> None:
        self.token_id = token_id
        super().__init__(f"There is no token of number {token_id}. Choose one from the list.")
