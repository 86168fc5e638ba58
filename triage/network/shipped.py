"""Where the shipped network files are, and how messages name a file."""

from functools import cache
from importlib.resources import files
from pathlib import Path


@cache
def shipped_folder() -> Path:
    """Folder of the package ``networks``."""
    return Path(str(files("networks"))).resolve()


def shown_path(path: Path) -> str:
    """Path as messages name it: from ``networks/`` for what is shipped, else as it was given."""
    resolved = path.resolve()
    if resolved.is_relative_to(shipped_folder()):
        return resolved.relative_to(shipped_folder().parent).as_posix()
    return path.as_posix()
