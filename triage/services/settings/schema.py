"""What may stand in a settings file: one table of the single numbers, models for the rest.

``SETTINGS`` is the one place that knows the name, range, unit and source of a number that stands
by itself; its default is that of ``CostModel`` or ``ShopSettings``. The models of the sections are
made from it, and docs/settings.md is compared with it. Only what reads or shows settings imports
this module, so that commands without a settings file start without pydantic.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from typing import Annotated, Any, Literal

from pydantic import AfterValidator, Field, Tag, create_model, model_validator
from pydantic_core import PydanticCustomError

from triage.network.file_format import MINOR_UNITS, SUM_TOLERANCE
from triage.network.schema import Strict
from triage.network.schema_types import CURRENCY_CODE, NOT_BLANK, RULE, choice, low_to_high
from triage.network.schema_types import Cost as Money
from triage.planning.shop.fitting import says_something
from triage.planning.shop.settings import COMMON_PRACTICE, DEFAULT_SETTINGS

MOST_MONEY = 20_000  # units of the currency; a price above it is a slip, such as cents for units
MOST_STOCK = 200  # pieces of one number on one van
MOST_MINUTES = 480  # a working day
LONGEST_PATTERN = 60  # characters; no plate has more
DEALER_GUARANTEE = "one dealer's least guarantee (seen); 90 days or a year are common practice"


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """A number that stands by itself: ``section.name`` in the file.

    ``low`` and ``high`` bound it; ``unit`` is as people read it, ``currency`` standing for the
    currency of the file. ``field`` is the name of the number in ``CostModel``, or in
    ``ShopSettings`` where ``is_cost`` does not hold.
    """

    section: str
    name: str
    field: str
    unit: str
    low: float
    high: float
    meaning: str
    source: str = COMMON_PRACTICE
    is_cost: bool = True

    @property
    def key(self) -> str:
        """Name with its section."""
        return f"{self.section}.{self.name}"

    @property
    def is_money(self) -> bool:
        """Whether the file has it in units of the currency and the program in minor units."""
        return self.unit.startswith("currency")

    @property
    def is_whole(self) -> bool:
        """Whether only whole numbers are taken."""
        return self.unit == "days"

    @property
    def default(self) -> float:
        """Default as it stands in a file."""
        return self.in_file(DEFAULT_SETTINGS)

    def in_file(self, settings: Any) -> float:
        """Value of some settings as it stands in a file."""
        holder = settings.costs if self.is_cost else settings
        value: float = getattr(holder, self.field)
        shown = value / MINOR_UNITS if self.is_money else value
        return int(shown) if shown == int(shown) else shown

    def in_program(self, value: float) -> float:
        """Value of a file as the program counts it."""
        return round(value * MINOR_UNITS) if self.is_money else value


def _costs(name: str, field: str, unit: str, high: float, meaning: str) -> Setting:
    return Setting(
        section="costs", name=name, field=field, unit=unit, low=0, high=high, meaning=meaning
    )


SETTINGS: tuple[Setting, ...] = (
    _costs("technician_per_hour", "technician_minor_per_hour", "currency per hour", 500,
           "what an hour of a technician costs the shop: wage, levies, tools"),
    _costs("dispatcher_per_hour", "dispatcher_minor_per_hour", "currency per hour", 500,
           "what an hour at the phone costs the shop"),
    _costs("customer_per_hour", "customer_minor_per_hour", "currency per hour", 500,
           "what an hour of the customer's time counts for"),
    _costs("trip", "trip_minor", "currency", 1000,
           "own cost of a trip: driving time, fuel, van"),
    _costs("return_trip", "return_trip_minor", "currency", 2000,
           "own cost of coming again: trip, setting up again, a lost slot"),
    _costs("carry_part", "carry_minor", "currency", 500,
           "cost of taking a part along in vain: picking, clutter, risk of damage"),
    _costs("wrong_no_fault", "wrong_no_fault_minor", "currency", 2000,
           "cost of calling a broken machine sound"),
    Setting(section="prices", name="service_fee", field="service_fee_minor", unit="currency",
            low=0, high=1000, meaning="price of coming and finding the fault"),
    Setting(section="prices", name="labour_per_hour", field="labour_price_minor_per_hour",
            unit="currency per hour", low=0, high=1000, meaning="price of an hour of repair"),
    Setting(section="prices", name="part_mark_up", field="part_mark_up", unit="times cost",
            low=0.5, high=5, meaning="price of a part, as a multiple of what the shop pays"),
    Setting(section="visit", name="trip_minutes", field="trip_minutes", unit="minutes",
            low=0, high=240, meaning="time to the customer"),
    Setting(section="visit", name="verification_minutes", field="verification_minutes",
            unit="minutes", low=0, high=180, meaning="test run after a repair"),
    Setting(section="visit", name="minutes_spread", field="minutes_spread",
            unit="share of its minutes", low=0, high=1,
            meaning="by how much a step takes longer or shorter: the standard deviation",
            source="from memory, no source"),
    Setting(section="shares", name="ordered_part_sent_back", field="return_share_of_ordered_part",
            unit="share of its cost", low=0, high=1,
            meaning="loss on a part ordered for a visit that did not need it"),
    Setting(section="shares", name="worth_repairing", field="worth_repairing_share",
            unit="share of a new machine", low=0.1, high=1,
            meaning="a repair above this share of a new machine installed is too dear"),
    Setting(section="shares", name="quote_declined", field="quote_declined_share",
            unit="share of quotes", low=0, high=0.9,
            meaning="quotes that customers decline; the visit then ends with the fee",
            source="15 to 25 % are common practice, no source", is_cost=False),
    Setting(section="warranty", name="labour_days", field="warranty_labour_days", unit="days",
            low=0, high=3650, meaning="how long own work is guaranteed",
            source=DEALER_GUARANTEE, is_cost=False),
    Setting(section="warranty", name="parts_days", field="warranty_parts_days", unit="days",
            low=0, high=3650, meaning="how long parts are guaranteed",
            source=DEALER_GUARANTEE, is_cost=False),
)  # fmt: skip


def _type_of(setting: Setting) -> Any:
    bounds = Field(ge=setting.low, le=setting.high, allow_inf_nan=False)
    if setting.is_whole:
        return Annotated[int, Field(ge=setting.low, le=setting.high)]
    return Annotated[Money, bounds] if setting.is_money else Annotated[float, bounds]


@cache
def section_models() -> Mapping[str, type[Strict]]:
    """Model of each section of single numbers; a number left out is None."""
    fields: dict[str, dict[str, Any]] = {}
    for setting in SETTINGS:
        fields.setdefault(setting.section, {})[setting.name] = (_type_of(setting) | None, None)
    return {
        section: create_model(section, __base__=Strict, **names)
        for section, names in fields.items()
    }


def _rule(text: str) -> PydanticCustomError:
    return PydanticCustomError(RULE, "{text}", {"text": text})


def _single_or_range(value: object) -> str:
    return "<list>" if isinstance(value, list) else "<number>"


def _says_something(pattern: str) -> str:
    if not says_something(pattern):
        raise _rule(f'got "{pattern}"; expected a letter or digit in it, else it fits every plate')
    if len(pattern) > LONGEST_PATTERN:
        raise _rule(f"got {len(pattern)} characters; expected at most {LONGEST_PATTERN}")
    return pattern


SomeMoney = Annotated[Money, Field(le=MOST_MONEY)]
CostOrRange = Annotated[
    Annotated[SomeMoney, Tag("<number>")]
    | Annotated[
        list[SomeMoney],
        Field(min_length=2, max_length=2),
        AfterValidator(low_to_high),
        Tag("<list>"),
    ],
    choice("a cost, or a range [lowest, highest]", _single_or_range),
]
Minutes = Annotated[float, Field(gt=0, le=MOST_MINUTES)]
Share = Annotated[float, Field(gt=0, le=1)]
Count = Annotated[int, Field(ge=0, le=MOST_STOCK)]
Number = Annotated[str, Field(pattern=NOT_BLANK)]
Pattern = Annotated[str, AfterValidator(_says_something)]


class VariantEntry(Strict):
    """A number of a part: the plates it fits, and what is known of it."""

    plates: Annotated[list[Pattern], Field(min_length=1)]
    share: Share | None = None
    stock: Count = 0
    cost: SomeMoney | None = None


class PartSettingsEntry(Strict):
    """What the shop sets for a part."""

    cost: CostOrRange | None = None
    price: SomeMoney | None = None
    on_van: Literal["usually", "sometimes", "ordered"] | None = None
    stock: Count | None = None
    fits: Share | None = None
    numbers: dict[Number, VariantEntry] = Field(default_factory=dict)

    @model_validator(mode="after")
    def _one_way_to_fit(self) -> "PartSettingsEntry":
        if not self.numbers:
            return self
        if self.stock is not None or self.fits is not None:
            raise _rule('got "stock" or "fits" beside "numbers"; expected them with each number')
        shares = [entry.share for entry in self.numbers.values()]
        if None in shares and any(share is not None for share in shares):
            raise _rule("got a share for some numbers only; expected one for each or for none")
        total = sum(share or 0.0 for share in shares)
        if total > 1 + SUM_TOLERANCE:
            raise _rule(f"got shares that sum to {total:.12g}; expected at most 1")
        return self


class NewMachineEntry(Strict):
    """A new machine of one kind."""

    price: Annotated[Money, Field(gt=0, le=MOST_MONEY)] | None = None
    installation: SomeMoney | None = None
    life_years: Annotated[float, Field(ge=1, le=50)] | None = None


class UnrepairedEntry(Strict):
    """What leaving a machine unrepaired costs: one of the two."""

    share_of_new_machine: Annotated[float, Field(ge=0, le=1)] | None = None
    cost: SomeMoney | None = None

    @model_validator(mode="after")
    def _one_of_two(self) -> "UnrepairedEntry":
        if (self.share_of_new_machine is None) == (self.cost is None):
            raise _rule('got both or neither; expected "share_of_new_machine" or "cost"')
        return self


class MinutesEntry(Strict):
    """The shop's own minutes, by id."""

    repairs: dict[str, Minutes] = Field(default_factory=dict)
    observations: dict[str, Minutes] = Field(default_factory=dict)


class Header(Strict):
    """What a file says of itself."""

    format: Literal[1]
    currency: Annotated[str, Field(pattern=CURRENCY_CODE)] = DEFAULT_SETTINGS.currency
    source: Annotated[str, Field(pattern=NOT_BLANK)] = DEFAULT_SETTINGS.source


HEADER_NAMES: Sequence[str] = tuple(Header.model_fields)
OTHER_SECTIONS: Sequence[str] = ("unrepaired", "new_machines", "parts", "minutes")
