"""What every test shares: one BLAS thread, fixed random numbers, a browser where there is one."""

import os
from pathlib import Path

# Two BLAS threads on two busy cores are many times slower than one. numpy reads this on import.
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np
import pytest
from hypothesis import settings

CHROMIUM = Path("/usr/bin/chromium")

# The same examples in every run; an example may take as long as a busy machine needs.
settings.register_profile("repeatable", deadline=None, derandomize=True)
settings.load_profile("repeatable")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Skip browser tests where no Chromium is installed; continuous integration must have it."""
    if CHROMIUM.exists() or "CI" in os.environ:
        return
    skip = pytest.mark.skip(reason=f"{CHROMIUM} is not installed")
    for item in items:
        if item.get_closest_marker("browser"):
            item.add_marker(skip)


@pytest.fixture
def rng() -> np.random.Generator:
    """Random generator with a fixed seed."""
    return np.random.default_rng(20260101)
