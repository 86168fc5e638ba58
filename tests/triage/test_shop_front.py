"""Sections ``shop`` and ``tax`` of the settings: read strictly, written back, hours by day."""

import re
from datetime import time
from pathlib import Path

import pytest

from triage.planning.shop import DEFAULT_SETTINGS
from triage.services.settings import check_settings_text
from triage.services.settings_text import settings_as_yaml
from triage.services.shop_front import (
    DEFAULT_FRONT,
    DateStyle,
    ShopFront,
    Taxed,
    Units,
    Weekday,
    opening_times,
)

PAGE = Path(__file__).resolve().parents[2] / "docs" / "settings.md"
FRONT = ShopFront(
    name="Shop, invented",
    address="1 Invented Lane\nNowhere",
    units=Units.SI,
    date_style=DateStyle.ISO,
    hours={Weekday.SAT: "09:30-12:00"},
    tax_name="Sales tax",
    tax_rate_basis_points=825,
    taxed=(Taxed.LABOUR, Taxed.PARTS),
)


def test_front_is_read_back_as_it_was_written() -> None:
    assert check_settings_text(settings_as_yaml(DEFAULT_SETTINGS, FRONT)).front == FRONT


def test_front_that_is_left_out_is_untaxed_and_open_on_weekdays() -> None:
    front = check_settings_text("format: 1\n").front

    assert front == DEFAULT_FRONT
    assert (front.tax_rate_basis_points, front.taxed) == (0, ())
    assert [front.open_on(day) is not None for day in range(7)] == [True] * 5 + [False] * 2


def test_opening_hours_are_those_of_the_day() -> None:
    assert FRONT.open_on(5) == (time(9, 30), time(12))
    assert FRONT.open_on(0) is None


@pytest.mark.parametrize("text", ["8-17", "08:00", "25:00-26:00", "17:00-08:00", "08:00-08:00", ""])
def test_text_that_is_no_opening_hours_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="hours"):
        opening_times(text)


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("shop: {units: metric}", 'shop.units: got "metric"; expected one of "us" or "si".'),
        ("shop: {hours: {mon: 8-17}}", 'shop.hours.mon: got hours "8-17"; expected such as'),
        ("shop: {hours: {monday: 08:00-17:00}}", 'got "monday"; expected one of "mon", "tue"'),
        (f"shop: {{name: {'x' * 81}}}", "shop.name: got 81 characters; expected at most 80."),
        ("shop: {adress: x}", 'got unknown key "adress"'),
        ("tax: {rate: 8.255}", "tax.rate: got 8.255; expected at most two decimals."),
        ("tax: {rate: 82}", "tax.rate: got 82; expected at most 30."),
        ("tax: {on: [wine]}", 'tax.on[0]: got "wine"; expected one of "fee", "labour" or "parts".'),
        ("tax: {name: ''}", "tax.name: got an empty text; expected text."),
    ],
)
def test_mistake_in_shop_or_tax_is_told_with_its_line(text: str, problem: str) -> None:
    found = check_settings_text(f"format: 1\n{text}\n")

    assert found.settings is None
    assert len(found.problems) == 1
    assert found.problems[0].startswith("settings:2: ")
    assert problem in found.problems[0]


def test_page_names_every_key_and_its_example_is_sound() -> None:
    page = PAGE.read_text(encoding="utf-8")
    section = page[page.index("## Shop and tax") :]
    example = re.search(r"```yaml\n(.*?)```", section, re.DOTALL)

    assert example is not None
    assert check_settings_text(example.group(1)).problems == ()
    for key in ("name", "address", "units", "dates", "hours"):
        assert f"`shop.{key}`" in section
    for key in ("name", "rate", "on"):
        assert f"`tax.{key}`" in section
