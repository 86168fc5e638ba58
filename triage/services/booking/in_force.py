"""Settings of the desk that the shop has in force: those of the newest settings in the store."""

from functools import lru_cache

from triage.services.settings.hours import DEFAULT_DESK, DeskSettings, check_desk
from triage.store.database import Database
from triage.store.shop import newest_settings

TEXTS_KEPT = 8


def desk_settings_of(database: Database) -> DeskSettings:
    """Settings of the desk as they hold; the defaults if the owner never saved any."""
    with database.reading() as session:
        newest = newest_settings(session)
    return DEFAULT_DESK if newest is None else _kept(newest.text)


@lru_cache(maxsize=TEXTS_KEPT)
def _kept(text: str) -> DeskSettings:
    """Settings of a text that was checked when it was saved; reading it takes milliseconds."""
    return check_desk(text)[0]
