"""Sections ``shop`` and ``tax`` of the settings: read strictly and written back."""

import re
from pathlib import Path

import pytest
from click.testing import CliRunner

from triage.cli.settings import settings
from triage.errors import SettingsFileError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.settings.front import ShopEntry, TaxEntry
from triage.services.settings.hours import desk_settings
from triage.services.settings.reading import check_settings_text
from triage.services.settings.shop_front import (
    DEFAULT_FRONT,
    DateStyle,
    ShopFront,
    Taxed,
    Units,
)
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.settings_data import file_as_yaml

PAGE = Path(__file__).resolve().parents[3] / "docs" / "settings.md"
FRONT = ShopFront(
    name="Shop, invented",
    address="1 Invented Lane\nNowhere",
    units=Units.SI,
    date_style=DateStyle.ISO,
    tax_name="Sales tax",
    tax_rate_basis_points=825,
    taxed=(Taxed.LABOUR, Taxed.PARTS),
)


def test_front_is_read_back_as_it_was_written() -> None:
    assert check_settings_text(settings_as_yaml(DEFAULT_SETTINGS, FRONT)).front == FRONT


def test_front_that_is_left_out_is_untaxed() -> None:
    front = check_settings_text("format: 1\n").front

    assert front == DEFAULT_FRONT
    assert (front.tax_rate_basis_points, front.taxed) == (0, ())


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ("shop: {units: metric}", 'shop.units: got "metric"; expected one of "us" or "si".'),
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
    for entry, section_name in ((ShopEntry, "shop"), (TaxEntry, "tax")):
        rows = [line for line in section.splitlines() if f"of `{section_name}` |" in line]
        for key in entry.model_fields:
            assert any(f"`{key}`" in row for row in rows), key


WHOLE = """\
format: 1
shop: {name: Shop of nobody}
prices: {service_fee: 9999}
desk: {window_minutes: 5, opening_hours: {monday: ["08:00-12:00"]}}
"""


def test_command_checks_every_section_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(WHOLE, encoding="utf-8")

    result = CliRunner().invoke(settings, ["check", str(path)])

    assert result.exit_code == 1
    assert [line.split(": ")[0].rpartition(":")[2] for line in result.output.splitlines()] == [
        "3",
        "4",
    ]


def test_command_shows_every_section_of_a_file(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(WHOLE.replace("9999", "99").replace(": 5,", ": 50,"), encoding="utf-8")

    result = CliRunner().invoke(settings, ["show", str(path)])

    again = check_settings_text(result.output)
    assert again.problems == ()
    assert again.front.name == "Shop of nobody"
    assert desk_settings(result.output).window_minutes == 50


def test_file_with_problems_is_not_shown(tmp_path: Path) -> None:
    path = tmp_path / "shop.yaml"
    path.write_text(WHOLE.replace("9999", "99"), encoding="utf-8")

    with pytest.raises(SettingsFileError, match="window_minutes"):
        file_as_yaml(path)
