"""Forms of the owner's own list by plate."""

from collections.abc import Mapping
from typing import ClassVar

from wtforms import SelectChoice, SelectField, StringField, TextAreaField

from triage.errors import PlateNoteError, TriageError
from triage.services.shop.plates import (
    NUMBER_MAX,
    PLATE_MAX,
    SOURCE_MAX,
    TEXT_MAX,
    part_titles,
)
from webform.forms import AtMost, Chosen, Entered, PageForm

PLATE_HINT = "Capitals, blanks and punctuation do not count"
PLATE = [
    Entered(thing="how the plate begins"),
    AtMost(PLATE_MAX, thing="the beginning of the plate"),
]


class PlateForm(PageForm):
    """What both kinds of entry have."""

    refusals: ClassVar[Mapping[type[TriageError], str]] = {PlateNoteError: "plate"}


class NumberForm(PlateForm):
    """Which number of a part fits."""

    plate = StringField("The plate begins with", description=PLATE_HINT, validators=PLATE)
    part = SelectField("Part", validate_choice=False, validators=[Chosen(thing="a part")])
    number = StringField(
        "Your number of the part",
        validators=[
            Entered(thing="your number of the part"),
            AtMost(NUMBER_MAX, thing="the number"),
        ],
    )
    source = StringField(
        "Where that is from",
        description="Such as a job, or a list; may stay empty",
        validators=[AtMost(SOURCE_MAX, thing="where that is from")],
    )

    def offer(self) -> "NumberForm":
        """Offer every part."""
        titles = part_titles().items()
        self.part.choices = [
            SelectChoice("", "Choose a part"),
            *(SelectChoice(name, title) for name, title in titles),
        ]
        return self

    def entered(self) -> tuple[str, str, str, str]:
        """Return beginning, part, number and source."""
        return (
            self.plate.data,
            self.part.data,
            self.number.data,
            (self.source.data or ""),
        )


class RecallForm(PlateForm):
    """That machines are recalled."""

    plate = StringField(
        "The plate begins with", id="recall-plate", description=PLATE_HINT, validators=PLATE
    )
    text = TextAreaField(
        "What to say and do",
        description="It stands above the call and the job before anything is ranked",
        validators=[
            Entered(thing="what to say and do"),
            AtMost(TEXT_MAX, thing="what to say and do"),
        ],
    )
    source = StringField(
        "Where the recall is from",
        id="recall-source",
        description="Such as the notice and its date",
        validators=[
            Entered(thing="where the recall is from"),
            AtMost(SOURCE_MAX, thing="where the recall is from"),
        ],
    )

    def entered(self) -> tuple[str, str, str]:
        """Return beginning, text and source."""
        return self.plate.data, self.text.data, self.source.data
