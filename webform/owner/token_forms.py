"""The form with which the owner makes a token."""

from collections.abc import Mapping
from typing import ClassVar

from wtforms import RadioField, StringField

from triage.errors import NameRuleError, TriageError
from triage.services.people.roles import Role
from triage.services.people.tokens import NAME_MAX
from webform.forms import AtMost, Chosen, Entered, PageForm
from webform.owner.people_forms import CHOICES


class TokenForm(PageForm):
    """What a token is for, and what it may do."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {NameRuleError: "name"}

    name = StringField(
        "What it is for",
        description="The program that will use it, such as the parts desk; "
        "it stands beside everything the program enters",
        validators=[Entered(thing="what it is for"), AtMost(NAME_MAX, thing="it")],
        render_kw={"autocomplete": "off"},
    )
    role = RadioField(
        "It may do what this role may",
        choices=CHOICES,
        validate_choice=False,
        validators=[Chosen(thing="a role")],
    )

    def chosen_role(self) -> Role:
        """Return the role that was chosen."""
        return Role(self.role.data)
