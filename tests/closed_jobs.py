"""Closed jobs and columns for tests. Every number here is invented."""

from datetime import UTC, datetime

import numpy as np

from tests.builders import component, network, observation, sign
from triage.inference.evidence import Finding
from triage.learning.columns import JobColumns
from triage.learning.layout import Layout
from triage.learning.values import ClosedJob, ConfirmedCause, Outcome
from triage.network.values import Channel, FaultNetwork

NOW = datetime(2026, 7, 1, tzinfo=UTC)


def one_sign_network(
    strength: float = 0.5, channel: tuple[tuple[float, ...], ...] = ((1.0, 0.0), (0.0, 1.0))
) -> FaultNetwork:
    """One call has one cause, pump or belt; the pump alone makes the sign, seen by one channel."""
    return network(
        [component("pump", {"burnt": 0.5}), component("belt", {"broken": 0.5})],
        [sign("hums", {"pump.burnt": strength}, leak=0.0)],
        [observation("listens", "hums", channel, channel=Channel.ON_SITE_TEST)],
        expected_failed_modes=1.0,
    )


def job(number: int, cause: str | None, *findings: str, **changes: object) -> ClosedJob:
    """Closed job of the test network with findings as ``observation=answer``."""
    values: dict[str, object] = {
        "id": f"job-{number}",
        "network": "test_network",
        "network_version": 1,
        "closed_at": datetime(2026, 3, 1, tzinfo=UTC),
        "outcome": Outcome.REPAIRED if cause else Outcome.DECLINED,
        "findings": tuple(Finding(*text.split("=")) for text in findings),
        "causes": (ConfirmedCause(mode=cause),) if cause else (),
    }
    return ClosedJob(**{**values, **changes})  # type: ignore[arg-type]


def random_columns(layout: Layout, jobs: int, rng: np.random.Generator) -> JobColumns:
    """Jobs with random answers: some certain, some labelled with doubt, some without a label."""
    answers = np.zeros((len(layout.compiled.observations), jobs), dtype=np.int8)
    for place, entry in enumerate(layout.compiled.observations):
        codes = layout.code_counts[place] - (entry.volunteered is None)
        answers[place] = rng.integers(0, codes, jobs) * (rng.random(jobs) < 0.5)
    label = rng.integers(0, 8, jobs)
    return JobColumns.of(
        layout,
        answers,
        np.where(rng.random(jobs) < 0.2, -1, label),
        np.where(rng.random(jobs) < 0.5, 1.0, 0.8),
        rng.uniform(0.2, 1.5, jobs),
    )
