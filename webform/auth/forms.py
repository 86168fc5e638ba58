"""Forms of the pages on which people sign in and change their password."""

from collections.abc import Mapping
from typing import ClassVar

from wtforms import PasswordField, StringField
from wtforms.validators import ValidationError

from triage.errors import (
    PasswordRuleError,
    TriageError,
    WrongPasswordError,
    WrongPresentPasswordError,
)
from triage.services.people.passwords import LENGTH_MAX, LENGTH_MIN
from webform.forms import AtMost, Entered, PageForm

LOGIN_MAX = 60
AS_TYPED = {"autocapitalize": "none", "spellcheck": "false"}


class SignInForm(PageForm):
    """Login and password."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {WrongPasswordError: "password"}

    login = StringField(
        "Login",
        validators=[Entered(thing="your login"), AtMost(LOGIN_MAX, thing="the login")],
        render_kw={"autocomplete": "username", **AS_TYPED},
    )
    password = PasswordField(
        "Password",
        validators=[Entered(thing="your password"), AtMost(LENGTH_MAX, thing="the password")],
        render_kw={"autocomplete": "current-password"},
    )


class PasswordForm(PageForm):
    """Present password and a new one, typed twice."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {
        WrongPresentPasswordError: "present",
        PasswordRuleError: "new",
    }

    present = PasswordField(
        "Present password",
        validators=[Entered(thing="your present password"), AtMost(LENGTH_MAX, thing="it")],
        render_kw={"autocomplete": "current-password"},
    )
    new = PasswordField(
        "New password",
        description=f"{LENGTH_MIN} characters or more, and not your login; "
        "a few words in a row are easy to type",
        validators=[Entered(thing="a new password")],
        render_kw={"autocomplete": "new-password"},
    )
    again = PasswordField(
        "New password again",
        validators=[Entered(thing="the new password again")],
        render_kw={"autocomplete": "new-password"},
    )

    def validate_again(self, field: PasswordField) -> None:
        """Demand the same twice."""
        if field.data != self.new.data:
            raise ValidationError("New password must be the same twice")


class SignOutForm(PageForm):
    """Sign out on this device, or on every device."""
