"""A closed job and saved settings, for tests of pages that need one of each."""

from datetime import timedelta

from tests.triage.job.playing_jobs import entry, repaired
from tests.web.conftest import NINE
from triage.planning.shop.settings import DEFAULT_SETTINGS
from triage.services.calls.calls import Database
from triage.services.closing.close import close_job
from triage.services.closing.draft import closing_draft
from triage.services.settings.shop_front import DEFAULT_FRONT
from triage.services.settings.text import settings_as_yaml
from triage.services.shop.settings import save_settings

LONG_AGO = NINE - timedelta(days=40)


def close_a_call(database: Database) -> int:
    """Number of a job that was closed long ago; the settings have a version 1."""
    call_id = repaired(database, phoned_at=LONG_AGO, at=LONG_AGO + timedelta(days=1))
    at = LONG_AGO + timedelta(days=1, hours=1)
    given = closing_draft(database, call_id, DEFAULT_SETTINGS, at).given
    close_job(
        database,
        call_id,
        given,
        entry(database, call_id, at),
        settings=DEFAULT_SETTINGS,
        front=DEFAULT_FRONT,
    )
    save_settings(database, settings_as_yaml(DEFAULT_SETTINGS), "", entry(database, 0, at))
    return call_id
