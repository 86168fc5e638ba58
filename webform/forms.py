"""What all forms share: the ticket of a page, and validators that speak plainly.

Every page carries a **ticket**: an id made when it was built and the version of the call it shows.
All forms of one page share it, since the first of them to be sent makes the page old.
"""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import ClassVar, ParamSpec, Self, TypeVar
from uuid import uuid4

from flask_wtf import FlaskForm
from wtforms import Field, Form, HiddenField
from wtforms.validators import Regexp, StopValidation, ValidationError

from triage.errors import TriageError
from triage.services.calls.calls import Entry, Submission
from webform.desk import desk
from webform.errors import IncompletePageError

VERSION_MAX_DIGITS = 9

P = ParamSpec("P")
T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class Ticket:
    """Id of a page and the version of the call it shows."""

    client_id: str
    shown_version: int

    @classmethod
    def for_page(cls, shown_version: int) -> "Ticket":
        """Ticket of a page that is being built."""
        return cls(uuid4().hex, shown_version)


class Entered:
    """Demand a text: "Enter the caller's name"."""

    def __init__(self, *, thing: str) -> None:
        self.message = f"Enter {thing}"

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at an empty text."""
        if not (field.data or "").strip():
            raise StopValidation(self.message)


class AtMost:
    """Limit the length of a text: "The note must be 500 characters or fewer"."""

    def __init__(self, limit: int, *, thing: str) -> None:
        self.limit = limit
        self.message = f"{thing[0].upper()}{thing[1:]} must be {limit} characters or fewer"

    def __call__(self, form: Form, field: Field) -> None:
        """Refuse a text that is too long."""
        if len(field.data or "") > self.limit:
            raise ValidationError(self.message)


class Chosen:
    """Demand one of the choices of a field: "Choose an appliance"."""

    def __init__(self, *, thing: str) -> None:
        self.message = f"Choose {thing}"

    def __call__(self, form: Form, field: Field) -> None:
        """Stop at nothing, or at something that is not on the list."""
        known = [choice.value for choice in field.choices if choice.value]
        if field.data not in known:
            raise StopValidation(self.message)


class PageForm(FlaskForm):
    """A form with the ticket of its page.

    ``refusals`` says beside which field stands what the library may refuse when the form is sent.
    """

    refusals: ClassVar[Mapping[type[TriageError], str]] = {}

    client_id = HiddenField(validators=[Regexp(r"^[0-9a-f]{32}$")])
    shown_version = HiddenField(validators=[Regexp(rf"^\d{{1,{VERSION_MAX_DIGITS}}}$")])

    def with_ticket(self, ticket: Ticket) -> "PageForm":
        """Put a fresh ticket on a form that is about to be shown for the first time."""
        if not self.is_submitted():
            self.client_id.data = ticket.client_id
            self.shown_version.data = str(ticket.shown_version)
        return self

    def fresh(self, ticket: Ticket) -> Self:
        """Put a ticket on a form that stands beside the one that was sent."""
        self.client_id.data = ticket.client_id
        self.shown_version.data = str(ticket.shown_version)
        return self

    def entry(self) -> Entry:
        """Ticket of the page that was sent, with time and author.

        Raises
        ------
        IncompletePageError
            The page that was sent had no ticket.
        """
        if self.client_id.errors or self.shown_version.errors:
            raise IncompletePageError
        submission = Submission(self.client_id.data, int(self.shown_version.data))
        return desk().entry(submission)

    def attempt(self, act: Callable[P, T], *args: P.args, **kwargs: P.kwargs) -> T | None:
        """Call a service; None if it refused, and then the message stands beside its field."""
        try:
            return act(*args, **kwargs)
        except tuple(self.refusals) as error:
            self[self.refusals[type(error)]].errors = [str(error)]
            return None

    def errors_by_field(self) -> Sequence[tuple[str, str]]:
        """Id of each field that is wrong, and the sentence that says what to do."""
        return [
            (field.id, error)
            for field in self
            for error in field.errors
            if not isinstance(field, HiddenField)
        ]


def sent(form: PageForm) -> PageForm:
    """Form that was sent whole, or ``IncompletePageError``: buttons leave nothing to correct."""
    if not form.validate_on_submit():
        raise IncompletePageError
    return form
