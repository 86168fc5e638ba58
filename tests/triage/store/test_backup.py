"""Claims about backups: whole when made, whole when put back, and nothing is lost on the way."""

import hashlib
import json
import shutil
import stat
import threading
from collections.abc import Callable
from dataclasses import asdict
from datetime import UTC, datetime
from pathlib import Path

import pytest

from triage.errors import (
    DamagedBackupError,
    NewerDatabaseError,
    NotABackupError,
    NothingToBackUpError,
    OverwriteError,
    StoreInUseError,
)
from triage.services.backup import (
    MANIFEST,
    Backup,
    check_backup,
    make_backup,
    restore_backup,
    uncounted,
)
from triage.services.people.audit import ActFilter, Action, Stamp, act, find_acts
from triage.store.audit import add_act
from triage.store.database import Database
from triage.store.revisions import NEWEST

NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)
NAME, KEY = "calls.sqlite", "secret.key"
KEY_TEXT = "an invented key of thirty-two letters"


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Data folder of a shop in which three things were done."""
    folder = tmp_path / "data"
    folder.mkdir()
    (folder / KEY).write_text(KEY_TEXT)
    database = Database.at(folder / NAME)
    note(database, 3)
    database.close()
    return folder


def note(database: Database, times: int) -> None:
    for number in range(times):
        with database.writing() as session:
            add_act(session, act(Action.SIGNED_IN, Stamp(NINE, "Olin"), f"act {number} " * 20))


def acts(folder: Path) -> int:
    database = Database.at(folder / NAME)
    found = len(find_acts(database, ActFilter()).acts)
    database.close()
    return found


def back_up(data: Path, target: Path, *, replaces: bool = False) -> Backup:
    return make_backup(data, target, database=NAME, others=(KEY,), at=NINE, replaces=replaces)


def restore(target: Path, data: Path, *, replaces: bool = False) -> Path | None:
    return restore_backup(target, data, database=NAME, at=NINE, replaces=replaces)[1]


def test_backup_holds_database_key_and_what_to_check_them_by(data: Path, tmp_path: Path) -> None:
    backup = back_up(data, tmp_path / "safe")

    assert (backup.revision, backup.rows["audit"]) == (NEWEST, 3)
    assert set(backup.files) == {NAME, KEY}
    assert json.loads((tmp_path / "safe" / MANIFEST).read_text()) == asdict(backup)
    assert backup.made_at == "2026-03-02T09:00:00+00:00"
    assert (tmp_path / "safe" / KEY).read_text() == KEY_TEXT


def test_backup_may_be_read_by_its_owner_alone(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")

    modes = {one.name: stat.S_IMODE(one.stat().st_mode) for one in (tmp_path / "safe").iterdir()}
    assert modes == {NAME: 0o600, KEY: 0o600, MANIFEST: 0o600}
    assert stat.S_IMODE((tmp_path / "safe").stat().st_mode) == 0o700


def test_backup_has_what_is_still_in_the_log_of_a_running_program(
    data: Path, tmp_path: Path
) -> None:
    database = Database.at(data / NAME)
    note(database, 5)
    assert (data / f"{NAME}-wal").stat().st_size > 0

    backup = back_up(data, tmp_path / "safe")

    database.close()
    assert backup.rows["audit"] == 8


def test_backup_is_whole_while_others_write(data: Path, tmp_path: Path) -> None:
    database = Database.at(data / NAME)
    is_over = threading.Event()

    def write() -> None:
        while not is_over.is_set():
            note(database, 1)

    writer = threading.Thread(target=write)
    writer.start()
    for number in range(5):
        back_up(data, tmp_path / f"safe-{number}")
    is_over.set()
    writer.join()
    database.close()

    counted = [
        check_backup(tmp_path / f"safe-{number}", database=NAME).rows["audit"]
        for number in range(5)
    ]
    assert counted == sorted(counted)
    assert counted[-1] > 3


def test_restored_shop_is_the_one_that_was_backed_up(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")

    kept = restore(tmp_path / "safe", tmp_path / "new" / "data")

    assert kept is None
    assert acts(tmp_path / "new" / "data") == 3
    key = tmp_path / "new" / "data" / KEY
    assert (key.read_text(), stat.S_IMODE(key.stat().st_mode)) == (KEY_TEXT, 0o600)


def test_restore_keeps_what_was_there_before(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")
    database = Database.at(data / NAME)
    note(database, 4)
    database.close()

    kept = restore(tmp_path / "safe", data, replaces=True)

    assert kept == data / "before-restore-20260302-090000"
    assert acts(data) == 3
    assert acts(kept) == 7


def test_nothing_is_restored_over_a_shop_unless_it_is_said(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")

    with pytest.raises(OverwriteError, match="say --replace"):
        restore(tmp_path / "safe", data)


def test_nothing_is_restored_while_the_program_runs(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")
    database = Database.at(data / NAME)
    note(database, 1)

    with pytest.raises(StoreInUseError, match="Stop the program"):
        restore(tmp_path / "safe", data, replaces=True)

    database.close()
    assert acts(data) == 4


def test_damaged_shop_can_be_replaced(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")
    (data / NAME).write_bytes(b"not a database at all" * 100)

    restore(tmp_path / "safe", data, replaces=True)

    assert acts(data) == 3


def flipped(path: Path) -> None:
    """Turn one byte in the middle of a file around."""
    content = bytearray(path.read_bytes())
    content[len(content) // 2] ^= 0xFF
    path.write_bytes(bytes(content))


def cut(path: Path) -> None:
    path.write_bytes(path.read_bytes()[:-4096])


def lost(path: Path) -> None:
    path.unlink()


@pytest.mark.parametrize("name", [NAME, KEY])
@pytest.mark.parametrize("damage", [flipped, cut, lost])
def test_damaged_backup_is_not_put_back(
    data: Path, tmp_path: Path, name: str, damage: Callable[[Path], None]
) -> None:
    back_up(data, tmp_path / "safe")
    damage(tmp_path / "safe" / name)

    with pytest.raises(DamagedBackupError, match=f"{name} (was changed|is missing)"):
        restore(tmp_path / "safe", data, replaces=True)

    assert acts(data) == 3
    assert [one for one in data.iterdir() if one.name.startswith("before-")] == []


def rewritten(target: Path, **changes: object) -> None:
    """Change what the backup says of itself."""
    path = target / MANIFEST
    path.write_text(json.dumps({**json.loads(path.read_text()), **changes}))


def test_backup_whose_rows_are_not_those_it_names_is_damaged(data: Path, tmp_path: Path) -> None:
    backup = back_up(data, tmp_path / "safe")
    rewritten(tmp_path / "safe", rows={**backup.rows, "audit": 4})

    with pytest.raises(DamagedBackupError, match="other rows"):
        check_backup(tmp_path / "safe", database=NAME)


def test_backup_with_damaged_pages_is_damaged_even_where_its_checksum_is_right(
    data: Path, tmp_path: Path
) -> None:
    backup = back_up(data, tmp_path / "safe")
    copy = tmp_path / "safe" / NAME
    content = bytearray(copy.read_bytes())
    content[4096:8192] = b"\xff" * 4096
    copy.write_bytes(bytes(content))
    digest = hashlib.sha256(content).hexdigest()
    rewritten(tmp_path / "safe", files={**backup.files, NAME: digest})

    with pytest.raises(DamagedBackupError):
        check_backup(tmp_path / "safe", database=NAME)


def test_backup_of_a_newer_program_is_refused(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")
    rewritten(tmp_path / "safe", revision="9999")

    with pytest.raises(NewerDatabaseError, match="Update the program"):
        check_backup(tmp_path / "safe", database=NAME)


def test_backup_without_a_database_is_damaged(data: Path, tmp_path: Path) -> None:
    backup = back_up(data, tmp_path / "safe")
    rewritten(tmp_path / "safe", files={KEY: backup.files[KEY]})

    with pytest.raises(DamagedBackupError, match="not named"):
        check_backup(tmp_path / "safe", database=NAME)


@pytest.mark.parametrize("text", ["", "[]", "{}", '{"format": 1}', "\xff"])
def test_folder_without_what_a_backup_says_of_itself_is_none(
    data: Path, tmp_path: Path, text: str
) -> None:
    back_up(data, tmp_path / "safe")
    (tmp_path / "safe" / MANIFEST).write_text(text, encoding="latin-1")

    with pytest.raises(NotABackupError, match="not a backup of this program"):
        check_backup(tmp_path / "safe", database=NAME)


def test_backup_in_another_format_is_none_of_this_program(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")
    rewritten(tmp_path / "safe", format=2)

    with pytest.raises(NotABackupError):
        check_backup(tmp_path / "safe", database=NAME)


def test_backup_overwrites_nothing_unless_it_is_said(data: Path, tmp_path: Path) -> None:
    back_up(data, tmp_path / "safe")

    with pytest.raises(OverwriteError):
        back_up(data, tmp_path / "safe")

    database = Database.at(data / NAME)
    note(database, 1)
    database.close()
    assert back_up(data, tmp_path / "safe", replaces=True).rows["audit"] == 4


def test_only_a_backup_is_ever_replaced(data: Path, tmp_path: Path) -> None:
    photos = tmp_path / "photos"
    photos.mkdir()
    (photos / "one.jpg").write_text("a photo")

    with pytest.raises(NotABackupError):
        back_up(data, photos, replaces=True)

    assert (photos / "one.jpg").read_text() == "a photo"


def test_empty_folder_takes_a_backup(data: Path, tmp_path: Path) -> None:
    (tmp_path / "safe").mkdir()

    assert back_up(data, tmp_path / "safe").rows["audit"] == 3


def test_folder_that_lacks_database_or_key_says_which(data: Path, tmp_path: Path) -> None:
    (data / KEY).unlink()

    with pytest.raises(NothingToBackUpError, match=f"has no {KEY}"):
        back_up(data, tmp_path / "safe")

    shutil.rmtree(data)
    with pytest.raises(NothingToBackUpError, match=f"no {NAME} and no {KEY}"):
        back_up(data, tmp_path / "safe")


def test_damaged_shop_is_not_backed_up_as_if_it_were_whole(data: Path, tmp_path: Path) -> None:
    content = bytearray((data / NAME).read_bytes())
    content[4096:] = b"\xff" * (len(content) - 4096)
    (data / NAME).write_bytes(bytes(content))

    with pytest.raises(DamagedBackupError):
        back_up(data, tmp_path / "safe")

    assert not (tmp_path / "safe").exists()
    assert [one.name for one in tmp_path.iterdir()] == ["data"]


def test_copy_must_hold_as_many_rows_as_there_were_meanwhile() -> None:
    before, after = {"calls": 3, "visits": 5}, {"calls": 6, "visits": 4}

    assert uncounted(before, {"calls": 3, "visits": 5}, after) == ()
    assert uncounted(before, {"calls": 6, "visits": 4}, after) == ()
    assert uncounted(before, {"calls": 2, "visits": 6}, after) == (
        "calls: 2 rows were copied of 3 to 6",
        "visits: 6 rows were copied of 4 to 5",
    )
    assert uncounted(before, {"calls": 4}, after) == ("visits: 0 rows were copied of 4 to 5",)
