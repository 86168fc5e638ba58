"""Settings of the shop in the store: the newest version holds, older ones stay to be read.

A version is the text of a settings file (docs/settings.md), and is checked as strictly when it is
saved. Reading a text takes some milliseconds, so what it says is kept as long as the process runs.
"""

from functools import lru_cache

from triage.errors import SettingsFileError, StaleSettingsError
from triage.planning.shop.settings import DEFAULT_SETTINGS, ShopSettings
from triage.services.calls.calls import Database, Entry
from triage.services.people.audit import Action, Stamp, act
from triage.services.settings.reading import SettingsCheck, check_settings_text
from triage.services.settings.shop_front import DEFAULT_FRONT, ShopFront
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.plates import PlateKind, with_own_numbers
from triage.store.audit import add_act
from triage.store.shop import (
    StoredSettings,
    add_settings,
    newest_settings,
    plate_notes,
    settings_versions,
)

__all__ = [
    "StoredSettings",
    "check_text",
    "current_front",
    "current_settings",
    "save_settings",
    "settings_history",
    "settings_text",
    "version_of_settings",
]

TEXTS_KEPT = 8
PLACE = "settings"
NEVER_SAVED = 0  # version before the first


@lru_cache(maxsize=TEXTS_KEPT)
def check_text(text: str) -> SettingsCheck:
    """What a text of settings says, and every problem with its line."""
    return check_settings_text(text, place=PLACE)


def current_settings(database: Database) -> ShopSettings:
    """Settings that hold: the newest version, or the defaults if the owner never saved any.

    Numbers of parts in the owner's list by plate are in them.

    A version that cannot be read any more, since an update of the program took a name away that it
    uses, is passed over for the one before it; ``settings_text`` still shows the owner the newest.
    """
    found = _holding(database)
    settings = DEFAULT_SETTINGS if found is None or found.settings is None else found.settings
    with database.reading() as session:
        numbers = plate_notes(session, PlateKind.PART.value)
    return with_own_numbers(settings, numbers)


def current_front(database: Database) -> ShopFront:
    """What customers and staff meet, of the same version."""
    found = _holding(database)
    return DEFAULT_FRONT if found is None else found.front


def _holding(database: Database) -> SettingsCheck | None:
    with database.reading() as session:
        newest = newest_settings(session)
        if newest is None:
            return None
        found = check_text(newest.text)
        if found.settings is not None:
            return found
        older = settings_versions(session)[1:]
    checks = (check_text(one.text) for one in older)
    return next((one for one in checks if one.settings is not None), None)


def settings_text(database: Database) -> str:
    """Text of the newest version; the defaults as a text if the owner never saved any."""
    with database.reading() as session:
        newest = newest_settings(session)
    return settings_as_yaml(DEFAULT_SETTINGS) if newest is None else newest.text


def version_of_settings(database: Database) -> int:
    """Number of the newest version; 0 if the owner never saved any."""
    with database.reading() as session:
        newest = newest_settings(session)
    return NEVER_SAVED if newest is None else newest.version


def settings_history(database: Database) -> tuple[StoredSettings, ...]:
    """Every version, newest first."""
    with database.reading() as session:
        return settings_versions(session)


def save_settings(database: Database, text: str, reason: str, entry: Entry) -> int:
    """Save a version of the settings and return its number.

    Parameters
    ----------
    database : Database
    text : str
        A whole settings file.
    reason : str
        Why, in the owner's words.
    entry : Entry
        The version of the settings that the page showed, the time, and who saves. The same text
        sent again, or one that holds already, makes no second version.

    Raises
    ------
    SettingsFileError
        The text has problems; the error lists every one with its line.
    StaleSettingsError
        Another version holds than the page showed.
    """
    found = check_text(text)
    if found.settings is None:
        raise SettingsFileError(PLACE, found.problems)
    with database.writing() as session:
        newest = newest_settings(session)
        current = NEVER_SAVED if newest is None else newest.version
        if newest is not None and newest.text == text:
            return current
        if entry.submission.shown_version != current:
            raise StaleSettingsError(entry.submission.shown_version, current)
        version = current + 1
        add_settings(
            session,
            StoredSettings(version=version, text=text, at=entry.at, by=entry.by, reason=reason),
        )
        stamp = Stamp(entry.at, entry.by)
        add_act(session, act(Action.SETTINGS_SAVED, stamp, f"settings {version}", reason=reason))
    return version
