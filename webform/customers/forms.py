"""Forms of customers and machines."""

from collections.abc import Mapping, Sequence

from wtforms import Field, Form, HiddenField, SelectChoice, SelectField, StringField, TextAreaField
from wtforms.validators import ValidationError

from triage.services.customers.records import (
    CustomerEntered,
    MachineEntered,
    StoredCustomer,
    StoredMachine,
)
from webform.forms import AtMost, Chosen, Entered, PageForm

NAME_MAX, PHONE_MAX, STREET_MAX, TOWN_MAX, POSTCODE_MAX = 200, 60, 200, 100, 20
NOTES_MAX, PLATE_MAX, PLACE_MAX = 1000, 300, 200
FIRST_YEAR, LAST_YEAR = 1950, 2100
NO_DRIVE = "Not known"


class YearOrNothing:
    """Take a year of four digits, or nothing."""

    def __call__(self, form: Form, field: Field) -> None:
        """Refuse what is neither."""
        text = (field.data or "").strip()
        is_year = text.isascii() and text.isdecimal() and len(text) == 4
        if text and not (is_year and FIRST_YEAR <= int(text) <= LAST_YEAR):
            raise ValidationError("Year bought must have four digits, such as 2019, or stay empty")


class CustomerFields(PageForm):
    """What is on record of a customer."""

    name = StringField(
        "Name", validators=[Entered(thing="the name"), AtMost(NAME_MAX, thing="the name")]
    )
    phone = StringField(
        "Phone number",
        description="As it is said; an odd number is kept too",
        validators=[AtMost(PHONE_MAX, thing="the phone number")],
    )
    street = StringField(
        "Street and number", validators=[AtMost(STREET_MAX, thing="street and number")]
    )
    postcode = StringField("Postcode", validators=[AtMost(POSTCODE_MAX, thing="the postcode")])
    town = StringField("Town", validators=[AtMost(TOWN_MAX, thing="the town")])

    def customer(self) -> CustomerEntered:
        """Return what was entered of the customer."""
        return CustomerEntered(
            name=self.name.data.strip(),
            phone=(self.phone.data or "").strip(),
            street=(self.street.data or "").strip(),
            town=(self.town.data or "").strip(),
            postcode=(self.postcode.data or "").strip(),
            notes=(self["notes"].data or "").strip() if "notes" in self else "",
        )


class MachineFields(PageForm):
    """What is on record of a machine."""

    drive = SelectField("Drive", validate_choice=False)
    bought_year = StringField(
        "Year bought", description="May stay empty", validators=[YearOrNothing()]
    )
    plate_text = StringField(
        "What the plate says",
        description="Model and numbers as read out; may stay empty",
        validators=[AtMost(PLATE_MAX, thing="what the plate says")],
    )
    place = StringField(
        "Where it stands",
        description="Cellar, kitchen, second floor; may stay empty",
        validators=[AtMost(PLACE_MAX, thing="where it stands")],
    )

    def offer_drives(self, drives: Mapping[str, str]) -> None:
        """Offer the kinds of drive there are."""
        self.drive.choices = [
            SelectChoice("", NO_DRIVE),
            *(SelectChoice(name, title) for name, title in drives.items()),
        ]

    def machine(self, network_id: str) -> MachineEntered:
        """Return what was entered of the machine; a drive that is not on the list is none."""
        known = [choice.value for choice in self.drive.choices]
        year = (self.bought_year.data or "").strip()
        return MachineEntered(
            network_id=network_id,
            drive=self.drive.data if self.drive.data in known else "",
            bought_year=int(year) if year else None,
            plate_text=(self.plate_text.data or "").strip(),
            place=(self.place.data or "").strip(),
        )


class CustomerForm(CustomerFields):
    """A customer on record."""

    notes = TextAreaField("Notes", validators=[AtMost(NOTES_MAX, thing="the notes")])

    @classmethod
    def for_customer(cls, customer: StoredCustomer | None) -> "CustomerForm":
        """Form filled with what is on record."""
        form = cls()
        if customer is not None and not form.is_submitted():
            form.name.data, form.phone.data = customer.name, customer.phone_text
            form.street.data, form.town.data = customer.street, customer.town
            form.postcode.data, form.notes.data = customer.postcode, customer.notes
        return form


class MachineForm(MachineFields):
    """A machine on record."""

    network = SelectField(
        "Appliance", validate_choice=False, validators=[Chosen(thing="an appliance")]
    )

    @classmethod
    def for_machine(
        cls,
        machine: StoredMachine | None,
        appliances: Sequence[tuple[str, str]],
        drives: Mapping[str, str],
    ) -> "MachineForm":
        """Form filled with what is on record."""
        form = cls()
        form.network.choices = [
            SelectChoice("", "Choose an appliance"),
            *(SelectChoice(name, title) for name, title in appliances),
        ]
        form.offer_drives(drives)
        if machine is not None and not form.is_submitted():
            form.network.data, form.drive.data = machine.network_id, machine.drive
            form.bought_year.data = str(machine.bought_year or "")
            form.plate_text.data, form.place.data = machine.plate_text, machine.place
        return form


class NewOfCallForm(CustomerFields, MachineFields):
    """The caller and the machine of a call, new on record."""

    @classmethod
    def for_call(cls, caller: str, drives: Mapping[str, str]) -> "NewOfCallForm":
        """Form that begins with how the caller was noted."""
        form = cls()
        form.offer_drives(drives)
        if not form.is_submitted():
            form.name.data = caller
        return form


class WhoForm(PageForm):
    """One of the customers that were found, and which machine."""

    who = HiddenField()

    def validate(self, extra_validators: Mapping[str, Sequence[object]] | None = None) -> bool:
        """Demand a choice that has the form of one."""
        is_complete = bool(super().validate(extra_validators))
        parts = (self.who.data or "").split()
        if len(parts) == 2 and all(part.isascii() and part.isdecimal() for part in parts):
            return is_complete
        self.who.errors = ["Choose who is calling"]
        return False

    def chosen(self) -> tuple[int, int]:
        """Return the numbers of the customer and of the machine, 0 for none of those on record."""
        customer, machine = self.who.data.split()
        return int(customer[:9]), int(machine[:9])
