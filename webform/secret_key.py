"""The key that signs sessions: random, made at the first start, readable by its owner only."""

import os
import secrets
from pathlib import Path

from webform.config import ConfigError

FILE = "secret.key"
BYTES = 32
OWNER_ONLY = 0o600


def secret_key(folder: Path) -> bytes:
    """Key of a data folder, written there if it is the first start.

    Raises
    ------
    ConfigError
        The file is there, and it is not a key.
    """
    path = folder / FILE
    try:
        handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL, OWNER_ONLY)
    except FileExistsError:
        return _read(path)
    key = secrets.token_hex(BYTES).encode()
    with os.fdopen(handle, "wb") as file:
        file.write(key)
    return key


def _read(path: Path) -> bytes:
    key = path.read_bytes().strip()
    if len(key) < BYTES:
        problem = f"{path}: got {len(key)} bytes; expected at least {BYTES}. Remove the file."
        raise ConfigError((problem,))
    return key
