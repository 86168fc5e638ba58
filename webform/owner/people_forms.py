"""Forms with which the owner adds and changes people."""

from collections.abc import Mapping
from typing import ClassVar

from wtforms import RadioField, SelectChoice, StringField

from triage.errors import (
    LastOwnerError,
    LoginRuleError,
    LoginTakenError,
    NameRuleError,
    TriageError,
)
from triage.services.people.accounts import NAME_MAX, Account
from triage.services.people.roles import Person, Role
from webform.auth.forms import AS_TYPED, LOGIN_MAX
from webform.auth.texts import ROLES, WORK
from webform.forms import AtMost, Chosen, Entered, PageForm

CHOICES = [SelectChoice(role.value, f"{ROLES[role]}: {WORK[role]}") for role in Role]


class PersonForm(PageForm):
    """Name and role of a person."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {
        NameRuleError: "name",
        LastOwnerError: "role",
    }

    name = StringField(
        "Name",
        description="As colleagues say it; it stands beside everything this person enters",
        validators=[
            Entered(thing="the person's name"),
            AtMost(NAME_MAX, thing="the name"),
        ],
        render_kw={"autocomplete": "off"},
    )
    role = RadioField(
        "Role", choices=CHOICES, validate_choice=False, validators=[Chosen(thing="a role")]
    )

    def show(self, account: Account) -> "PersonForm":
        """Fill in what holds now, if the form is shown for the first time."""
        if not self.is_submitted():
            self.name.data, self.role.data = account.name, account.role.value
        return self

    def chosen_role(self) -> Role:
        """Return the role that was chosen."""
        return Role(self.role.data)


class NewPersonForm(PersonForm):
    """Login, name and role of a person to be added."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {
        LoginTakenError: "login",
        LoginRuleError: "login",
        NameRuleError: "name",
    }

    login = StringField(
        "Login",
        description="What they type to sign in, such as a first name; it stays for ever. "
        'Small letters without accents, digits, and "." "-" "_"',
        validators=[Entered(thing="a login"), AtMost(LOGIN_MAX, thing="the login")],
        render_kw={"autocomplete": "off", **AS_TYPED},
    )

    def person(self) -> Person:
        """Return what was entered as a domain value."""
        return Person(self.login.data.strip(), self.name.data, self.chosen_role())


class ButtonForm(PageForm):
    """A button with the ticket of its page."""
