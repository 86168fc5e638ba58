"""Mends an entry that has been refused, so that the rest of it can be checked all the same.

What is wrong is taken out or replaced by a stand-in; the network is not built from it. The report
leaves out what the mending itself would raise (see ``Report.mute``).
"""

from collections.abc import Mapping
from typing import Any

from triage.network.yaml_marks import KeyPath

# Values that no other check looks at. Fields that others depend on (answers, channel) have none.
STAND_INS: Mapping[str, object] = {
    "format": 1,
    "version": 1,
    "currency": "USD",
    "title": "?",
    "wording": "?",
    "script": "?",
    "referral": "?",
    "unit": "?",
    "minutes": 0,
    "success": 1,
    "cost": [0, 0],
    "on_van": "usually",
    "class": "leave_and_call",
}


def mended(raw: object, bad_paths: list[KeyPath]) -> object:
    """Copy of ``raw`` without what stands at the bad paths, stand-ins where there are some."""
    copied = _copied(raw)
    for path in bad_paths:
        _mend(copied, path)
    return copied


def _mend(raw: object, path: KeyPath) -> None:
    """Mend one value; inside a list it is the list that goes, to keep the numbers of its items."""
    keys = path[: next((i for i, key in enumerate(path) if isinstance(key, int)), len(path))]
    parent: Any = raw
    for key in keys[:-1]:
        if not isinstance(parent, dict) or key not in parent:
            return  # an earlier bad path took it out
        parent = parent[key]
    if not keys or not isinstance(parent, dict):
        return
    name = str(keys[-1])
    if name in STAND_INS:
        parent[name] = STAND_INS[name]
    else:
        parent.pop(name, None)


def _copied(raw: object) -> object:
    if isinstance(raw, dict):
        return {key: _copied(value) for key, value in raw.items()}
    return [_copied(item) for item in raw] if isinstance(raw, list) else raw
