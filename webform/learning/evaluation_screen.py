"""Read models of the scores, and of the numbers worth measuring."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from markupsafe import Markup

from triage.network.values import FaultNetwork
from triage.services.learning.practice import Overruled, Practice, practice_from_json
from triage.services.learning.scoring import GroupScores, NetworkScores, Scores, scores_from_json
from triage.services.learning.sensitivity import sensitivity_from_json
from triage.services.learning.work import StoredRun
from triage.services.networks.engines import network_choices
from webform.formatting import day_and_time, money, nowrap
from webform.learning.charts import months_picture, reliability_picture

Cells = tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class ScoreRows:
    """Scores of a network as sentences, tables and pictures; empty without a scored job."""

    title: str
    sentences: tuple[str, ...]
    alarm: str
    picture: Markup
    bins: tuple[Cells, ...]
    brier: tuple[tuple[str, str], ...]
    months: Markup
    by_month: tuple[Cells, ...]
    by_person: tuple[Cells, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class EvaluationScreen:
    """Everything the page of the scores shows; ``asked`` is empty if nobody asked yet."""

    asked: str
    networks: tuple[ScoreRows, ...]
    practice: tuple[tuple[str, str], ...]
    tables: tuple[tuple[str, tuple[Cells, ...]], ...]
    overruled: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class SensitivityScreen:
    """Everything the page of the numbers worth measuring shows."""

    id: str
    title: str
    asked: str
    rows: tuple[Cells, ...]


def score_rows(found: NetworkScores) -> ScoreRows:
    """Scores of one network for a page."""
    overall = found.overall
    months = tuple((one.name, one.learned_bits, one.frozen_bits) for one in found.by_month)
    return ScoreRows(
        title=found.title,
        sentences=tuple(_sentences(found, overall)),
        alarm=f"The network stopped fitting the jobs: {found.drift_alarm}. Look at what changed "
        "since: other machines, other callers, another way of closing jobs."
        if found.drift_alarm
        else "",
        picture=Markup("")
        if overall is None
        else reliability_picture(overall, f"{found.title}: forecast against what happened"),
        bins=() if overall is None else tuple(_bins(overall)),
        brier=() if overall is None else _brier(overall),
        months=months_picture(months, f"{found.title}: surprise by month"),
        by_month=tuple(_group(one) for one in found.by_month),
        by_person=tuple(_group(one) for one in found.by_person),
    )


def _sentences(found: NetworkScores, overall: Scores | None) -> list[str]:
    if overall is None:
        return ["No closed job has a confirmed cause, so nothing can be scored."]
    against = overall.against_frozen
    better = "less" if against.mean < 0 else "more"
    sure = (against.low < 0) == (against.high < 0)
    verdict = "" if sure else " That may be chance: the interval holds 0."
    return [
        f"{overall.jobs} jobs with a confirmed cause were each forecast from the jobs before them; "
        f"{found.not_scored} without one are not scored.",
        f"Surprise: {overall.learned_bits:.2f} bits a job as learned, {overall.frozen_bits:.2f} as "
        f"the program came, {overall.base_bits:.2f} from how common causes are alone. Less is "
        "better.",
        f"Learning makes {abs(against.mean):.2f} bits {better} a job (95 % interval "
        f"{against.low:.2f} to {against.high:.2f}).{verdict}",
        f"The cause was first on the list in {_share(overall.top_1)}, among the first three in "
        f"{_share(overall.top_3)}.",
    ]


def _bins(overall: Scores) -> list[Cells]:
    return [
        (
            nowrap(f"{100 * one.low:.0f} to {100 * one.high:.0f} %"),
            f"{one.count}",
            nowrap(f"{100 * one.mean_probability:.1f} %"),
            nowrap(f"{100 * one.observed.value:.1f} %"),
            nowrap(f"{100 * one.observed.low:.1f} to {100 * one.observed.high:.1f} %"),
        )
        for one in overall.bins
    ]


def _brier(overall: Scores) -> tuple[tuple[str, str], ...]:
    parts = overall.brier
    return (
        ("Brier score", f"{parts.score:.4f}"),
        (
            "of it reliability: chances that do not come true as often as said",
            f"{parts.reliability:.4f}",
        ),
        ("less resolution: how far forecasts differ from the average", f"{parts.resolution:.4f}"),
        ("plus uncertainty: what the causes themselves leave open", f"{parts.uncertainty:.4f}"),
        ("plus differences within a bin", f"{parts.within:.4f}"),
        (
            "Mean distance of forecast and outcome",
            nowrap(f"{100 * overall.calibration_error:.1f} %"),
        ),
    )


def _group(one: GroupScores) -> Cells:
    return (
        one.name,
        str(one.jobs),
        f"{one.learned_bits:.2f}",
        f"{one.frozen_bits:.2f}",
        _share(one.top_1),
        _share(one.top_3),
    )


def evaluation_screen(run: StoredRun | None) -> EvaluationScreen:
    """Put the page of the scores together."""
    if run is None:
        return EvaluationScreen(asked="", networks=(), practice=(), tables=(), overruled=())
    result = run.result
    titles = dict(network_choices())
    return EvaluationScreen(
        asked=f"{day_and_time(run.asked_at)}, {run.asked_by}",
        networks=tuple(score_rows(scores_from_json(one)) for one in result["scores"]),
        practice=tuple(_practice(practice_from_json(result["practice"]))),
        tables=(
            ("By appliance", _practices(result["by_appliance"], titles)),
            ("By person who closed", _practices(result["by_person"], {})),
            ("By month", _practices(result["by_month"], {})),
        ),
        overruled=tuple(_overruled(Overruled(**result["overruled"]))),
    )


def _practice(found: Practice) -> list[tuple[str, str]]:
    promised = found.promised_first_visit
    said = "" if promised is None else nowrap(f"; promised {100 * promised:.0f} %")
    ratio = found.minutes_ratio
    return [
        ("Closed jobs", str(found.jobs)),
        ("Repaired on the first visit", f"{_of(found.first_visit, found.first_visit_jobs)}{said}"),
        ("Parts fitted that were aboard", _of(found.parts_aboard, found.parts_fitted)),
        (
            "Parts to take along that were not needed",
            _of(found.parts_unneeded, found.parts_promised),
        ),
        ("Done within the minutes for half", _of(found.within_p50, found.timed_jobs)),
        ("Done within the minutes for eight of ten", _of(found.within_p80, found.timed_jobs)),
        (
            "Minutes taken, against those promised",
            "not known" if ratio is None else f"{ratio:.2f} times (median)",
        ),
    ]


def _practices(kept: Sequence[Mapping[str, Any]], titles: Mapping[str, str]) -> tuple[Cells, ...]:
    rows = []
    for one in kept:
        found = practice_from_json({name: value for name, value in one.items() if name != "name"})
        rows.append(
            (
                titles.get(one["name"], one["name"]),
                str(found.jobs),
                _of(found.first_visit, found.first_visit_jobs),
                _of(found.parts_aboard, found.parts_fitted),
                _of(found.within_p80, found.timed_jobs),
            )
        )
    return tuple(rows)


def _overruled(found: Overruled) -> list[str]:
    if found.times == 0:
        return [f"In {found.jobs} closed jobs the plan was never overruled."]
    return [
        f"The plan was overruled {found.times} times, in {found.jobs_overruled} of {found.jobs} "
        f"closed jobs ({_share(found.share)}).",
        f"The technician was right {found.technician_right} times, the plan {found.plan_right} "
        f"times; {found.not_told} times the outcome does not tell.",
    ]


def sensitivity_screen(network: FaultNetwork, run: StoredRun | None) -> SensitivityScreen:
    """Put the page of the numbers worth measuring together."""
    found = () if run is None else sensitivity_from_json(run.result["numbers"])
    currency = "" if run is None else run.result["currency"]
    return SensitivityScreen(
        id=network.id,
        title=network.title,
        asked=""
        if run is None
        else f"{day_and_time(run.asked_at)}, {run.asked_by}, from {run.result['jobs']} closed jobs",
        rows=tuple(
            (
                one.title,
                nowrap(f"{100 * one.value:.1f} %"),
                nowrap(f"{100 * one.low:.1f} to {100 * one.high:.1f} %"),
                f"{one.behind:.0f} jobs",
                nowrap(f"{100 * one.changed_share:.0f} %"),
                money(one.regret_minor, currency),
                one.advice,
            )
            for one in found
        ),
    )


def _share(share: Any) -> str:
    return nowrap(f"{100 * share.value:.0f} % ({100 * share.low:.0f} to {100 * share.high:.0f} %)")


def _of(share: Any, count: int) -> str:
    return "none to count" if count == 0 else f"{_share(share)} of {count}"
