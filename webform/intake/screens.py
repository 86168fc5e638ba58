"""Read models of the intake pages: every text and number as the template places it."""

from dataclasses import dataclass
from datetime import timedelta

from flask import url_for

from triage.network.values import SafetyClass
from triage.services.call_log.events import CallOutcome
from triage.services.call_log.state import CallState
from triage.services.calls.board import AnswerShown, AskedQuestion, CallBoard
from triage.services.calls.calls import CallStep, may_rank, step_of
from triage.services.calls.intake import SafetyCheck
from triage.services.job.board import JobBoard
from triage.services.networks.scope import OTHER_KINDS, appliance_title
from triage.services.plan.ranking import RankedCause, Ranking
from webform.desk import desk
from webform.formatting import bar, minutes, nowrap, percent, told
from webform.forms import Ticket
from webform.intake import texts
from webform.intake.on_site_screen import OnSiteShown, on_site


@dataclass(frozen=True, slots=True)
class StepLink:
    """A step of a call in the bar on top; ``url`` is empty where it cannot be gone to yet."""

    name: str
    url: str
    is_current: bool


@dataclass(frozen=True, slots=True)
class CallHead:
    """What every page of a call shows on top."""

    call_id: int
    title: str
    appliance: str
    words: str
    steps: tuple[StepLink, ...]
    outcome: str
    note: str
    is_open: bool
    was_stopped: bool
    notes: tuple[str, ...]
    linked: tuple[int, ...]
    has_customer: bool
    book_url: str
    other_at_it: str


@dataclass(frozen=True, slots=True)
class DangerShown:
    """A danger that was reported: what to say, and who takes over."""

    title: str
    script: str
    referral: str


@dataclass(frozen=True, slots=True)
class DangerScreen:
    """Dangers of a call, worst first, and whether the call may go on after a confirmation."""

    heading: str
    dangers: tuple[DangerShown, ...]
    may_go_on: bool
    confirmed_by: str


@dataclass(frozen=True, slots=True)
class AnswerButton:
    """An answer with its key; ``is_given`` marks the present one."""

    key: str
    value: str
    label: str
    is_given: bool


@dataclass(frozen=True, slots=True)
class QuestionPanel:
    """The question to ask now."""

    observation: str
    title: str
    wording: str
    reason: str
    minutes: str
    is_guided: bool
    is_proposed: bool
    answers: tuple[AnswerButton, ...]


@dataclass(frozen=True, slots=True)
class CauseRow:
    """A cause with its rank, chance as word, number and bar, and what the last answer changed."""

    rank: int
    title: str
    word: str
    percent: str
    bar: str
    change: str


@dataclass(frozen=True, slots=True)
class OtherQuestion:
    """A question that could be asked instead."""

    title: str
    url: str
    was_skipped: bool


@dataclass(frozen=True, slots=True)
class GivenRow:
    """An answer that counts."""

    observation: str
    title: str
    label: str
    change_url: str


@dataclass(frozen=True, slots=True, kw_only=True)
class BoardScreen:
    """Everything the page with questions and causes shows."""

    head: CallHead
    ticket: Ticket
    question: QuestionPanel | None
    nothing_left: str
    enough: str
    causes: tuple[CauseRow, ...]
    nothing_failed: str
    explained_cause: str
    explanation: tuple[str, ...]
    missing: str
    conflict: str
    version_note: str
    on_site: OnSiteShown | None
    next_best: tuple[OtherQuestion, ...]
    other_questions: tuple[OtherQuestion, ...]
    answers: tuple[GivenRow, ...]
    announcement: str


OTHER_IS_AT_IT_MINUTES = 10  # a call lasts a few minutes

STEP_PAGES = (
    (CallStep.SAFETY, "intake.safety"),
    (CallStep.HELP, "intake.can_help"),
    (CallStep.SIGNS, "intake.signs"),
    (CallStep.QUESTIONS, "intake.questions"),
    (CallStep.ENDED, "intake.plan"),
)
REFERRAL_PAGES = (
    (CallStep.SAFETY, "intake.safety"),
    (CallStep.REFER, "intake.refer"),
)
PAGE_OF_STEP = {
    CallStep.SAFETY: "intake.safety",
    CallStep.MAKE_SAFE: "intake.danger",
    CallStep.REFER: "intake.refer",
    CallStep.HELP: "intake.can_help",
    CallStep.REFUSE: "intake.refuse",
    CallStep.SIGNS: "intake.signs",
    CallStep.QUESTIONS: "intake.questions",
    CallStep.ENDED: "intake.plan",
    CallStep.STOPPED: "intake.danger",
}


def page_of(state: CallState) -> str:
    """Endpoint of the page at which a call stands; one that ended early has no plan."""
    step = step_of(desk().database, state)
    if step is not CallStep.ENDED or may_rank(desk().database, state):
        return PAGE_OF_STEP[step]
    return "intake.refer" if state.network_id in OTHER_KINDS else "intake.safety"


def call_head(state: CallState, page: str) -> CallHead:
    """Head of a page of a call; ``page`` is the endpoint that is shown."""
    step = step_of(desk().database, state)
    is_other = state.network_id in OTHER_KINDS
    is_open_to_all = (
        step in (CallStep.REFER, CallStep.ENDED) if is_other else may_rank(desk().database, state)
    )
    steps = tuple(
        StepLink(
            texts.STEP_NAMES[name],
            url_for(endpoint, call_id=state.call_id)
            if is_open_to_all or name is CallStep.SAFETY
            else "",
            endpoint == page,
        )
        for name, endpoint in (REFERRAL_PAGES if is_other else STEP_PAGES)
    )
    return CallHead(
        state.call_id,
        texts.call_title(state.call_id, state.caller),
        appliance_title(state.network_id),
        state.words,
        steps,
        texts.OUTCOMES[state.outcome.outcome] if state.outcome else "",
        state.outcome.note if state.outcome else "",
        state.is_open,
        step is CallStep.STOPPED,
        tuple(note.text for note in state.notes),
        state.linked,
        bool(state.customer_id),
        _book_url(state),
        _other_at_it(state),
    )


def _other_at_it(state: CallState) -> str:
    """Who else is probably at an open call: the last entry is theirs, and not old."""
    if not state.is_open or state.last_at is None or state.last_by == desk().who().name:
        return ""
    minutes_ago = int((desk().clock() - state.last_at) / timedelta(minutes=1))
    if minutes_ago > OTHER_IS_AT_IT_MINUTES:
        return ""
    when = "just now" if minutes_ago < 1 else f"{minutes_ago} min ago"
    return texts.OTHER_AT_IT.format(name=state.last_by, when=when)


def _book_url(state: CallState) -> str:
    """Where the visit of a call that ended with one is booked, else empty."""
    is_visit = state.outcome is not None and state.outcome.outcome is CallOutcome.VISIT
    return url_for("booking.book", call_id=state.call_id) if is_visit else ""


def danger_screen(check: SafetyCheck) -> DangerScreen:
    """Dangers that were reported, and what they demand."""
    worst = check.safety.worst_class
    return DangerScreen(
        texts.DANGER_HEADINGS[worst] if worst else texts.NO_DANGER_HEADING,
        tuple(DangerShown(flag.title, flag.script, flag.referral) for flag in check.safety.raised),
        worst is SafetyClass.MAKE_SAFE_THEN_BOOK and check.state.is_open,
        check.safety.confirmed_by or "",
    )


def board_screen(found: JobBoard) -> BoardScreen:
    """Put the page with questions and causes together."""
    board, ranking = found.board, found.board.ranking
    panel = _panel(board.question) if board.question and board.state.is_open else None
    causes = tuple(_cause(rank, cause) for rank, cause in enumerate(ranking.causes, start=1))
    return BoardScreen(
        head=call_head(board.state, "intake.questions"),
        ticket=Ticket.for_page(board.state.version),
        question=panel,
        nothing_left=texts.NOTHING_LEFT if board.question is None else "",
        enough="" if ranking.questions_that_pay else ranking.asking_sentence,
        causes=causes,
        nothing_failed=percent(ranking.nothing_failed),
        explained_cause=causes[0].title,
        explanation=tuple(told(entry.sentence) for entry in ranking.explanation),
        missing=nowrap(ranking.missing_sentence),
        conflict=told(ranking.conflict_sentence),
        version_note=_version_note(board),
        on_site=on_site(found),
        next_best=_next_best(board),
        other_questions=_other_questions(board),
        answers=tuple(_given(board.state, answer) for answer in board.answers),
        announcement=_announcement(ranking, panel),
    )


def _panel(question: AskedQuestion) -> QuestionPanel:
    observation = question.observation
    choices = [*observation.answers.items(), ("dont_know", texts.DONT_KNOW)]
    keys = [*(str(number) for number in range(1, len(observation.answers) + 1)), "0"]
    buttons = tuple(
        AnswerButton(key, value, told(label), value == question.answer)
        for key, (value, label) in zip(keys, choices, strict=True)
    )
    reason = told(question.reason if question.is_proposed else _chosen_reason(question))
    return QuestionPanel(
        observation.id,
        observation.title,
        told(observation.wording),
        reason,
        minutes(observation.minutes),
        observation.channel.value == "guided_check",
        question.is_proposed,
        buttons,
    )


def _chosen_reason(question: AskedQuestion) -> str:
    if question.answer is None:
        return f"{texts.CHOSEN_QUESTION} {question.reason}".strip()
    labels = {**question.observation.answers, "dont_know": texts.DONT_KNOW}
    answer = labels.get(str(question.answer), texts.SAID_UNASKED)
    return texts.CHANGE_ANSWER.format(answer=answer)


def _cause(rank: int, cause: RankedCause) -> CauseRow:
    before = "" if cause.before is None else percent(cause.before)
    return CauseRow(
        rank,
        cause.title,
        cause.word,
        percent(cause.probability),
        bar(cause.probability),
        texts.changed(cause.before, cause.probability, before),
    )


def _next_best(board: CallBoard) -> tuple[OtherQuestion, ...]:
    """The best questions after the one that is asked now."""
    asked = board.question.observation.id if board.question else ""
    return tuple(
        _other(board.state, entry.observation.id, entry.observation.title)
        for entry in board.worth_asking
        if entry.observation.id != asked
    )


def _other_questions(board: CallBoard) -> tuple[OtherQuestion, ...]:
    """Every open question that is not among the best."""
    asked = board.question.observation.id if board.question else ""
    best = {asked, *(entry.observation.id for entry in board.worth_asking)}
    return tuple(
        _other(board.state, observation.id, observation.title)
        for observation in board.open_questions
        if observation.id not in best
    )


def _other(state: CallState, observation: str, title: str) -> OtherQuestion:
    url = url_for("intake.questions", call_id=state.call_id, ask=observation)
    return OtherQuestion(title, url, observation in state.skipped)


def _given(state: CallState, answer: AnswerShown) -> GivenRow:
    url = url_for("intake.questions", call_id=state.call_id, ask=answer.observation.id)
    return GivenRow(answer.observation.id, answer.observation.title, told(answer.label), url)


def _version_note(board: CallBoard) -> str:
    """That the network has changed since the call was begun, and what that cost."""
    then, now = board.state.network_version, board.network.version
    note = "" if then == now else texts.OTHER_VERSION.format(then=then, now=now)
    lost = texts.LOST_ANSWERS.format(count=board.lost_answers) if board.lost_answers else ""
    return (note + lost).strip()


def _announcement(ranking: Ranking, panel: QuestionPanel | None) -> str:
    """What a screen reader says after an answer."""
    first = ranking.causes[0]
    said = texts.ANNOUNCED.format(
        cause=first.title, percent=percent(first.probability), word=first.word
    )
    return said + (texts.ANNOUNCED_QUESTION.format(wording=panel.wording) if panel else "")
