"""Folders that the processes of a test run share: made by the first that asks, read by the others.

Nobody writes into them: a test that writes, or opens a database, copies it first.
"""

import fcntl
import os
import shutil
from collections.abc import Callable
from pathlib import Path

import pytest

WORKER = "PYTEST_XDIST_WORKER"  # set in every process of a run that has several


def once_a_run(factory: pytest.TempPathFactory, name: str, make: Callable[[Path], None]) -> Path:
    """Folder of a name, which ``make`` fills if no process of this run has done so yet."""
    run = factory.getbasetemp()
    run = run.parent if WORKER in os.environ else run
    folder, unfinished = run / name, run / f"{name}-unfinished"
    with (run / f"{name}.lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # the others wait here; given back when the file closes
        if not folder.exists():
            shutil.rmtree(unfinished, ignore_errors=True)
            unfinished.mkdir()
            make(unfinished)
            unfinished.rename(folder)
    return folder
