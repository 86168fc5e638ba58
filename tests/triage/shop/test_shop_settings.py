"""Claims about the settings in the store: validated whole, versioned, never overwritten."""

from dataclasses import replace
from datetime import UTC, datetime, timedelta

import pytest
from sqlalchemy import select

from triage.errors import SettingsFileError, StaleSettingsError
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database, Entry, Submission
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.settings import (
    current_settings,
    save_settings,
    settings_history,
    settings_text,
    version_of_settings,
)
from triage.store.shop import StoredSettings, add_settings
from triage.store.tables.people import AuditRow

AT = datetime(2026, 3, 2, 20, 0, tzinfo=UTC)
FEE_95 = "format: 1\nprices: {service_fee: 95}\n"
FEE_99 = "format: 1\nprices: {service_fee: 99}\n"
UNREADABLE = "format: 1\nparts:\n  part_of_an_older_program: {stock: 1}\n"


def entry(shown: int, minutes: int = 0) -> Entry:
    at = AT + timedelta(minutes=minutes)
    return Entry(submission=Submission("0" * 32, shown), at=at, by="owner")


def test_shop_that_saved_nothing_has_the_defaults(database: Database) -> None:
    assert current_settings(database) == DEFAULT_SETTINGS
    assert version_of_settings(database) == 0
    assert settings_text(database) == settings_as_yaml(DEFAULT_SETTINGS)


def test_saved_settings_hold_and_older_ones_stay(database: Database) -> None:
    first = save_settings(database, FEE_95, "fuel", entry(0))

    second = save_settings(database, FEE_99, "more fuel", entry(1, minutes=5))

    assert (first, second) == (1, 2)
    assert current_settings(database).costs.service_fee_minor == 9900
    history = [(one.version, one.reason, one.by, one.text) for one in settings_history(database)]
    assert history == [(2, "more fuel", "owner", FEE_99), (1, "fuel", "owner", FEE_95)]


def test_settings_with_problems_are_refused_whole_with_every_line(database: Database) -> None:
    text = "format: 1\nprices: {service_fee: 95, labour_per_hour: 9999}\nparts: {pupm: {}}\n"

    with pytest.raises(SettingsFileError, match=r"2 problems") as caught:
        save_settings(database, text, "", entry(0))

    assert [line.split(": ")[0] for line in caught.value.problems] == ["settings:2", "settings:3"]
    assert current_settings(database) == DEFAULT_SETTINGS
    assert settings_history(database) == ()


def test_settings_changed_in_another_window_are_not_overwritten(database: Database) -> None:
    save_settings(database, FEE_95, "", entry(0))

    with pytest.raises(StaleSettingsError, match=r"shows version 0, and version 1 holds"):
        save_settings(database, FEE_99, "", entry(0))

    assert settings_text(database) == FEE_95


def test_same_settings_sent_twice_make_one_version(database: Database) -> None:
    save_settings(database, FEE_95, "", entry(0))

    again = save_settings(database, FEE_95, "", entry(0))

    assert again == 1
    assert len(settings_history(database)) == 1


def test_two_savings_at_the_same_moment_make_one_version(database: Database) -> None:
    new = StoredSettings(version=1, text=FEE_95, at=AT, by="owner", reason="")
    with database.writing() as session:
        add_settings(session, new)

    with (
        pytest.raises(StaleSettingsError, match="version 1 holds"),
        database.writing() as session,
    ):
        add_settings(session, replace(new, text=FEE_99))

    assert settings_text(database) == FEE_95


def test_settings_that_an_update_made_unreadable_leave_the_version_before(
    database: Database,
) -> None:
    save_settings(database, FEE_95, "", entry(0))
    with database.writing() as session:
        add_settings(
            session,
            StoredSettings(version=2, text=UNREADABLE, at=AT, by="owner", reason=""),
        )

    assert current_settings(database).costs.service_fee_minor == 9500
    assert settings_text(database) == UNREADABLE


def test_saving_settings_is_told_in_the_audit_trail(database: Database) -> None:
    save_settings(database, FEE_95, "fuel went up", entry(0))

    with database.reading() as session:
        rows = session.scalars(select(AuditRow)).all()
        told = [(row.at, row.by, row.action, row.subject, row.detail) for row in rows]
    assert told == [(AT, "owner", "settings_saved", "settings 1", {"reason": "fuel went up"})]
