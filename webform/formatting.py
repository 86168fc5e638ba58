"""Numbers and times as people read them. Templates and screens format nothing by themselves."""

from dataclasses import dataclass
from datetime import datetime

from flask import Flask, g

from triage.network.values import Observation
from triage.services import wording
from triage.services.settings.shop_front import day_as_written, short_day_as_written
from triage.services.wording import Units, accept_in, span_in, told_in, unit_in
from triage.services.wording import money as money
from triage.services.wording import money_range as money_range
from webform.desk import desk

NO_BREAK_SPACE = "\u00a0"


def nowrap(sentence: str) -> str:
    """Sentence in which no number stands on another line than its percent sign."""
    return sentence.replace(" %", f"{NO_BREAK_SPACE}%")


def percent(probability: float) -> str:
    """Probability in whole percent, on one line."""
    return nowrap(wording.percent(probability))


def units() -> Units:
    """Units of the shop, asked for once a page."""
    if "units" not in g:
        g.units = desk().front().units
    found: Units = g.units
    return found


def told(sentence: str) -> str:
    """Sentence with its quantities in the units of the shop, and no percent sign alone."""
    return nowrap(told_in(sentence, units()))


def acceptance(observation: Observation) -> str:
    """What is good, in the units of the shop."""
    return told_in(observation.acceptance, units(), observation.reading)


def answer_told(observation: Observation, answer: str | float) -> str:
    """Answer as people read it; a reading in the units of the shop."""
    return nowrap(wording.answer_in(observation, answer, units()))


@dataclass(frozen=True, slots=True)
class ReadingField:
    """What the field of a reading says: its unit, and what is good; empty for no reading."""

    unit: str = ""
    low: str = ""
    high: str = ""


def reading_field(observation: Observation) -> ReadingField:
    """Unit of a reading and the limits of what is good, in the units of the shop."""
    if observation.reading is None:
        return ReadingField()
    low, high = accept_in(observation.reading, units())
    return ReadingField(unit_in(observation.reading.unit, units()), low, high)


def told_span(span: tuple[float, float], unit: str) -> str:
    """What a meter can show, from and to, in the units of the shop."""
    return nowrap(span_in(span, unit, units()))


def minutes(value: float) -> str:
    """Duration in words.

    >>> [minutes(value) for value in (0.3, 0.5, 1.0, 2.5, 56.5)]
    ['under half a minute', 'half a minute', '1 minute', '2.5 minutes', '56 minutes']
    """
    if value < 0.5:
        return "under half a minute"
    if value < 1:
        return "half a minute"
    text = f"{value:.0f}" if value >= 10 else f"{value:.1f}".removesuffix(".0")
    return "1 minute" if text == "1" else f"{text} minutes"


def bar(probability: float) -> str:
    """Length of a bar in percent of its box, with one decimal.

    >>> bar(0.37892)
    '37.9'
    """
    return f"{100 * probability:.1f}"


def day_and_time(moment: datetime) -> str:
    """Day and time in the zone of the shop; only the time if it is today."""
    local = moment.astimezone(desk().time_zone)
    is_today = local.date() == desk().midnight().date()
    if is_today:
        return f"{local:%H:%M}"
    return f"{short_day_as_written(local.date(), desk().front().date_style)}, {local:%H:%M}"


def date_and_time(moment: datetime) -> str:
    """Date and time as the shop writes them, for lists that go back for years."""
    local = moment.astimezone(desk().time_zone)
    return f"{day_as_written(local.date(), desk().front().date_style)}, {local:%H:%M}"


def init_formatting(app: Flask) -> None:
    """Give the templates what they may format by themselves: nothing but times."""
    app.add_template_filter(day_and_time)
