"""Backups of a shop: make one that is known to be whole, and put one back.

A backup is a folder with a copy of the database, the secret key, and ``backup.json``: when it was
made, the revision of the tables, rows by table, SHA-256 of every file. It holds customers' data, so
nobody but its owner may read it. It is put in its place when it is complete and was checked.
"""

import hashlib
import json
import shutil
import tempfile
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from triage.errors import (
    DamagedBackupError,
    NewerDatabaseError,
    NotABackupError,
    NothingToBackUpError,
    OverwriteError,
)
from triage.store.backup import (
    DatabaseFacts,
    check_at_rest,
    copy_database,
    damage_of,
    database_facts,
)
from triage.store.revisions import NEWEST

MANIFEST = "backup.json"
FORMAT = 1
OWNER_ONLY_FOLDER, OWNER_ONLY_FILE = 0o700, 0o600
LOGS = ("-wal", "-shm")  # beside a database that is in use


@dataclass(frozen=True, slots=True, kw_only=True)
class Backup:
    """What a backup holds; ``files`` gives the SHA-256 of each."""

    format: int
    made_at: str
    revision: str
    rows: Mapping[str, int]
    files: Mapping[str, str]


def make_backup(
    data: Path,
    target: Path,
    *,
    database: str,
    others: tuple[str, ...],
    at: datetime,
    replaces: bool,
) -> Backup:
    """Back up a data folder while the program may be running, and check the copy.

    Parameters
    ----------
    data, target : Path
        Folder of the shop; folder to be made.
    database, others : str, tuple of str
        Names of the files in the data folder: the SQLite database, and what goes with it.
    at : datetime
        Time of the backup.
    replaces : bool
        Whether an older backup at the target may be replaced.

    Raises
    ------
    NothingToBackUpError, OverwriteError, DamagedBackupError
        Damaged means that the shop's own database is.
    """
    missing = [name for name in (database, *others) if not (data / name).is_file()]
    if missing:
        raise NothingToBackUpError(str(data), tuple(missing))
    _check_target(target, replaces)
    target.parent.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=target.parent, prefix=".triage-backup-") as made:
        folder = Path(made) / "new"
        folder.mkdir(mode=OWNER_ONLY_FOLDER)
        facts = _copy_checked(data / database, folder / database)
        for name in others:
            shutil.copyfile(data / name, folder / name)
        names = (database, *others)
        backup = Backup(
            format=FORMAT,
            made_at=at.astimezone(UTC).isoformat(),
            revision=facts.revision,
            rows=dict(facts.rows),
            files={name: _sha256(folder / name) for name in names},
        )
        (folder / MANIFEST).write_text(json.dumps(asdict(backup), indent=2) + "\n", "utf-8")
        for path in folder.iterdir():
            path.chmod(OWNER_ONLY_FILE)
        if target.exists():
            target.rename(Path(made) / "old")
        folder.rename(target)
    return check_backup(target, database=database)


def check_backup(target: Path, *, database: str) -> Backup:
    """Look whether a backup is whole: checksums, pages, references, rows, revision.

    Raises
    ------
    NotABackupError, DamagedBackupError, NewerDatabaseError
    """
    backup = _manifest(target)
    problems = [
        f"{name} is missing" if not (target / name).is_file() else f"{name} was changed"
        for name, digest in sorted(backup.files.items())
        if not (target / name).is_file() or _sha256(target / name) != digest
    ]
    if database not in backup.files:
        problems.append(f"{database} is not named in {MANIFEST}")
    if problems:
        raise DamagedBackupError(str(target), tuple(problems))
    if backup.revision > NEWEST:
        raise NewerDatabaseError(backup.revision, NEWEST)
    facts = _whole(target / database)
    if facts != DatabaseFacts(backup.revision, backup.rows):
        raise DamagedBackupError(
            str(target), (f"{database} holds other rows than {MANIFEST} says",)
        )
    return backup


def restore_backup(
    target: Path, data: Path, *, database: str, at: datetime, replaces: bool
) -> tuple[Backup, Path | None]:
    """Put a backup back, after checking it; the program must not be running.

    Returns
    -------
    Backup, Path or None
        What was put back, and the folder into which what was there before was moved.

    Raises
    ------
    NotABackupError, DamagedBackupError, NewerDatabaseError, OverwriteError, StoreInUseError
    """
    backup = check_backup(target, database=database)
    names = [*backup.files, *(database + log for log in LOGS)]
    present = [name for name in names if (data / name).exists()]
    if present and not replaces:
        raise OverwriteError(str(data))
    if (data / database).exists():
        check_at_rest(data / database)
    data.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory(dir=data, prefix=".triage-restore-") as made:
        for name in (MANIFEST, *backup.files):
            shutil.copyfile(target / name, Path(made) / name)
            (Path(made) / name).chmod(OWNER_ONLY_FILE)
        check_backup(Path(made), database=database)  # what was written is what was read
        kept = _put_aside(data, present, at)
        for name in backup.files:
            (Path(made) / name).rename(data / name)
    return backup, kept


def _check_target(target: Path, replaces: bool) -> None:
    """Only a backup is ever replaced, whatever was asked for."""
    if not target.exists() or (target.is_dir() and not any(target.iterdir())):
        return
    if not replaces:
        raise OverwriteError(str(target))
    if not (target / MANIFEST).is_file():
        raise NotABackupError(str(target))


def _copy_checked(source: Path, target: Path) -> DatabaseFacts:
    """Copy a database; what is counted in the copy must lie between before and after."""
    before = database_facts(source)
    copy_database(source, target)
    after = database_facts(source)
    facts = _whole(target)
    problems = uncounted(before.rows, facts.rows, after.rows)
    if problems:
        raise DamagedBackupError(str(source), problems)
    return facts


def uncounted(
    before: Mapping[str, int], copied: Mapping[str, int], after: Mapping[str, int]
) -> tuple[str, ...]:
    """Tables of which another number of rows was copied than was there meanwhile.

    >>> uncounted({"calls": 3, "vans": 2}, {"calls": 4, "vans": 0}, {"calls": 5, "vans": 2})
    ('vans: 0 rows were copied of 2 to 2',)
    """
    problems = []
    for name in sorted({*before, *copied, *after}):
        least, most = sorted((before.get(name, 0), after.get(name, 0)))
        if not least <= copied.get(name, 0) <= most:
            count = copied.get(name, 0)
            problems.append(f"{name}: {count} rows were copied of {least} to {most}")
    return tuple(problems)


def _whole(database: Path) -> DatabaseFacts:
    problems = damage_of(database)
    if problems:
        raise DamagedBackupError(str(database), problems)
    return database_facts(database, is_at_rest=True)


def _manifest(target: Path) -> Backup:
    try:
        read: Any = json.loads((target / MANIFEST).read_text("utf-8"))
        backup = Backup(**read)
    except (OSError, ValueError, TypeError):
        raise NotABackupError(str(target)) from None
    if backup.format != FORMAT or not isinstance(backup.files, dict):
        raise NotABackupError(str(target))
    return backup


def _put_aside(data: Path, present: list[str], at: datetime) -> Path | None:
    """Move what is there into a folder of its own: a restore loses nothing."""
    if not present:
        return None
    kept = data / f"before-restore-{at.astimezone(UTC):%Y%m%d-%H%M%S}"
    kept.mkdir(mode=OWNER_ONLY_FOLDER)
    for name in present:
        if (data / name).exists():  # the log may be gone since the database was last opened
            (data / name).rename(kept / name)
    return kept


def _sha256(path: Path) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
