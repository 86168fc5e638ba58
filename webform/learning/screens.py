"""Read models of the first page of learning and of work that goes on."""

from dataclasses import dataclass

from flask import url_for

from triage.services.learning.overview import LearningOverview, NetworkLine
from triage.services.learning.work import Work, WorkState
from webform.formatting import day_and_time
from webform.learning.texts import RUN_WORDS, WORK_TITLES


@dataclass(frozen=True, slots=True)
class Link:
    """A link with its words."""

    title: str
    url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class NetworkRow:
    """A network: its version in use, its jobs, and what to do with it."""

    title: str
    version: Link
    jobs: str
    waiting: tuple[Link, ...]
    links: tuple[Link, ...]


@dataclass(frozen=True, slots=True)
class WorkRow:
    """Work that was asked for."""

    link: Link
    state: str
    at: str
    by: str


@dataclass(frozen=True, slots=True)
class OverviewScreen:
    """Everything the first page shows."""

    networks: tuple[NetworkRow, ...]
    work: tuple[WorkRow, ...]
    files: tuple[Link, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkScreen:
    """How far work is; ``result`` leads to what came of it, None while nothing has."""

    title: str
    state: str
    step: str
    share: str
    is_going: bool
    problems: tuple[str, ...]
    told: str
    result: Link | None


def overview_screen(found: LearningOverview) -> OverviewScreen:
    """Put the first page together."""
    return OverviewScreen(
        networks=tuple(_network(line) for line in found.networks),
        work=tuple(_work(state) for state in found.work),
        files=tuple(
            Link(file.name, url_for("learning.file", number=file.id))
            for file in found.files
            if file.imported_at is None
        ),
    )


def _network(line: NetworkLine) -> NetworkRow:
    name = line.id
    return NetworkRow(
        title=line.title,
        version=Link(f"version {line.version}", url_for("learning.versions", name=name)),
        jobs="1 closed job" if line.jobs == 1 else f"{line.jobs} closed jobs",
        waiting=tuple(
            Link(
                f"Decide about version {number}",
                url_for("learning.version", name=name, version=number),
            )
            for number in line.waiting
        ),
        links=(
            Link("Propose a version", url_for("learning.propose", name=name)),
            Link("Versions", url_for("learning.versions", name=name)),
            Link("What to measure next", url_for("learning.measure", name=name)),
            Link("Set a number", url_for("learning.numbers_of", name=name)),
        ),
    )


def _work(state: WorkState) -> WorkRow:
    run = state.run
    return WorkRow(
        Link(WORK_TITLES[Work(run.kind)], url_for("learning.work", number=run.id)),
        _state(state),
        day_and_time(run.asked_at),
        run.asked_by,
    )


def work_screen(state: WorkState) -> WorkScreen:
    """Put the page of long work together."""
    run = state.run
    done = run.steps_done / run.steps if run.steps else 0.0
    return WorkScreen(
        title=WORK_TITLES[Work(run.kind)],
        state=_state(state),
        step=run.step if state.is_going else "",
        share=f"{100 * (1.0 if run.state == 'done' else done):.0f}",
        is_going=state.is_going,
        problems=tuple(run.problem.splitlines()) if not state.is_dead else (),
        told=_told(state),
        result=_result(state),
    )


def _state(state: WorkState) -> str:
    return "stopped, since the program was stopped" if state.is_dead else RUN_WORDS[state.run.state]


def _told(state: WorkState) -> str:
    result = state.run.result
    if state.run.kind != Work.IMPORT or state.run.state != "done":
        return ""
    jobs, known = result["jobs"], result["known"]
    taken = "1 job was taken in" if jobs == 1 else f"{jobs} jobs were taken in"
    return f"{taken}; {known} were in already." if known else f"{taken}."


def _result(state: WorkState) -> Link | None:
    run = state.run
    if run.state != "done":
        return None
    match Work(run.kind):
        case Work.PROPOSE:
            place = {"name": run.network_id, "version": run.result["version"]}
            return Link("Look at the proposal", url_for("learning.version", **place))
        case Work.REPLAN:
            place = {"name": run.network_id, "version": run.result["version"]}
            return Link("Look at the plans", url_for("learning.version", **place, _anchor="plans"))
        case Work.EVALUATE:
            return Link("Look at the scores", url_for("learning.scores"))
        case Work.SENSITIVITY:
            return Link("Look at the numbers", url_for("learning.measure", name=run.network_id))
        case Work.IMPORT:
            return Link("Go on to learning", url_for("learning.overview"))
