"""Where files of tests stand: in memory where there is room, so that no test waits for a disk."""

import shutil
import tempfile
from pathlib import Path

MEMORY = Path("/dev/shm")
ROOM_BYTES = 3_000_000_000  # a run uses less than half; a container may have only 64 MB


def folder_of_tests() -> Path:
    """Folder for what tests write: of memory, or the usual one for temporary files."""
    has_room = MEMORY.is_dir() and shutil.disk_usage(MEMORY).free > ROOM_BYTES
    return MEMORY if has_room else Path(tempfile.gettempdir())
