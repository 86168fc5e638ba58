"""``triage ask``: an interview at the terminal.

Every line that is read is an answer, or one of the keys in ``KEYS``. Input from a file or a pipe
works the same; its end stops the interview.
"""

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

import click

from triage.cli.interview import (
    ComplaintTaken,
    FlagAnswered,
    Interview,
    InterviewStep,
    MadeSafe,
    QuestionAnswered,
    Stage,
    interview_as_json,
    next_question,
)
from triage.cli.output import heading, json_option, network_argument, table, wrapped, write_json
from triage.cli.plan_text import plan_lines
from triage.cli.ranking_text import cause_lines, warning_lines, why_lines
from triage.cli.settings import engine_and_settings, settings_option
from triage.inference.evidence import DONT_KNOW
from triage.network.values import Observation, SafetyFlag
from triage.services.plan.ranking import NextObservation, Ranking
from triage.trade.words import match_words

UNDO, STOP, WHY, UNKNOWN = "u", "q", "w", "?"
YES_NO: Mapping[str, bool] = {"y": True, "yes": True, "n": False, "no": False}


class Undo(Exception):  # noqa: N818 - a wish, not an error
    """Raised when the last step is to be taken back."""


class Stop(Exception):  # noqa: N818 - a wish, not an error
    """Raised when the interview is to end."""


@dataclass(frozen=True, slots=True)
class Terminal:
    """Where the interview is held. With ``--json`` all talk goes to standard error."""

    is_talk_on_stderr: bool

    def say(self, *lines: str) -> None:
        """Print lines of text."""
        click.echo("\n".join(lines), err=self.is_talk_on_stderr)

    def read(self, prompt: str) -> str:
        """Read one line.

        Raises
        ------
        Undo, Stop
            That key was entered; or the input is at its end.
        """
        click.echo(f"{prompt}: ", nl=False, err=self.is_talk_on_stderr)
        line = sys.stdin.readline()
        answer = line.strip()
        if not sys.stdin.isatty():
            click.echo(answer, err=self.is_talk_on_stderr)  # a terminal shows what is typed
        if answer == UNDO:
            raise Undo
        if answer == STOP or not line:
            raise Stop
        return answer


@click.command()
@network_argument
@settings_option
@json_option
def ask(network: str, settings: Path | None, as_json: bool) -> None:
    """Ask question by question at the terminal, best question first.

    Safety questions come first, then what the caller complains of, then the question worth most per
    minute. After every answer the leading causes are shown, at the end the plan of the first visit.

    Keys: the number of an answer; ? the caller does not know; w why this question; u undo; q stop.
    With --json the final state is printed, and all talk goes to standard error.
    """
    terminal = Terminal(as_json)
    engine, shop = engine_and_settings(network, settings)
    interview = hold(Interview(engine, settings=shop), terminal)
    if as_json:
        write_json(interview_as_json(interview))
    else:
        _say_end(interview, terminal)


def hold(interview: Interview, terminal: Terminal) -> Interview:
    """Hold the interview until it is stopped, and return it with all its steps."""
    turns: Mapping[Stage, Callable[[Interview, Terminal], tuple[InterviewStep, ...]]] = {
        Stage.SAFETY: _ask_flag,
        Stage.CONFIRM: _confirm,
        Stage.COMPLAINT: _take_complaint,
        Stage.QUESTIONS: _ask_question,
    }
    terminal.say(f"{interview.engine.network.title}. Keys: u undo, q stop.")
    while interview.stage is not Stage.STOPPED:
        try:
            interview = interview.adding(*turns[interview.stage](interview, terminal))
        except Undo:
            if not interview.steps:
                terminal.say("  There is nothing to undo.")
            interview = interview.undone()
        except Stop:
            break
    return interview


def _ask_flag(interview: Interview, terminal: Terminal) -> tuple[InterviewStep, ...]:
    flag = interview.safety.unanswered[0]
    count = len(interview.engine.network.safety_flags)
    place = count - len(interview.safety.unanswered) + 1
    terminal.say(heading(f"Safety {place} of {count}"))
    return (_answer_flag(flag, terminal),)


def _answer_flag(flag: SafetyFlag, terminal: Terminal) -> FlagAnswered:
    """Ask about a danger; a yes is answered at once with what to say."""
    terminal.say(wrapped(flag.wording, 2))
    while True:
        answer = terminal.read("y/n").lower()
        if answer in YES_NO:
            break
        terminal.say("  Enter y or n. A danger that cannot be ruled out is a yes.")
    if YES_NO[answer]:
        terminal.say(
            heading(f"DANGER: {flag.title}"),
            wrapped(f"Say: {flag.script}", 2, 5),
            wrapped(f"Then: {flag.referral}", 2, 6),
        )
    return FlagAnswered(flag.id, YES_NO[answer])


def _confirm(interview: Interview, terminal: Terminal) -> tuple[InterviewStep, ...]:
    dangers = ", ".join(flag.title for flag in interview.safety.raised)
    terminal.say(heading(f"Made safe? {dangers}"))
    while True:
        name = terminal.read("Name of the person who says it is safe now (q to stop)")
        if name:
            return (MadeSafe(name),)
        terminal.say("  Enter a name. Without one nothing is ranked.")


def _take_complaint(interview: Interview, terminal: Terminal) -> tuple[InterviewStep, ...]:
    terminal.say(heading("What does the caller say is wrong?"))
    words = terminal.read("Caller's words (empty to pick from a list)")
    network = interview.engine.network
    found = match_words(network, words) if words else ()
    dangers = [network.safety_flags[entry.id] for entry in found if entry.is_danger]
    for flag in dangers:
        terminal.say(wrapped(f"These words may mean a danger: {flag.title}.", 2))
        answered = _answer_flag(flag, terminal)
        if answered.is_raised:
            return (answered,)
    choices = [network.observations[entry.id] for entry in found if not entry.is_danger]
    if words and not choices:
        terminal.say("  No sign goes with these words. Pick from the list.")
    return (ComplaintTaken(_pick(choices or list(interview.complaints), terminal)),)


def _pick(choices: list[Observation], terminal: Terminal) -> tuple[str, ...]:
    """Let some of the observations be picked by their numbers."""
    rows = [(f"{place}", choice.title) for place, choice in enumerate(choices, start=1)]
    terminal.say(*table(rows, right=(0,)))
    while True:
        picked = terminal.read("Numbers of what the caller said (empty for none)")
        numbers = picked.replace(",", " ").split()
        if all(number.isdecimal() and 1 <= int(number) <= len(choices) for number in numbers):
            return tuple(dict.fromkeys(choices[int(number) - 1].id for number in numbers))
        terminal.say(f"  Enter numbers from 1 to {len(choices)}, such as: 1 3")


def _ask_question(interview: Interview, terminal: Terminal) -> tuple[InterviewStep, ...]:
    ranking = interview.ranking()
    if ranking is None:
        raise Stop
    terminal.say(heading("Causes now"), *cause_lines(ranking.causes), *warning_lines(ranking))
    question = next_question(ranking)
    if question is None:
        terminal.say(heading("No question is left that would tell anything."))
        raise Stop
    look = question.observation
    terminal.say(heading(f"Ask ({question.gain_bits:.2f} bits)"), wrapped(look.wording, 2))
    terminal.say(*(f"  {place}  {label}" for place, label in enumerate(look.answers.values(), 1)))
    return (QuestionAnswered(look.id, _read_answer(question, ranking, terminal)),)


def _read_answer(question: NextObservation, ranking: Ranking, terminal: Terminal) -> str:
    answers = list(question.observation.answers)
    while True:
        answer = terminal.read(f"1-{len(answers)}, ? w u q")
        if answer == UNKNOWN:
            return DONT_KNOW
        if answer == WHY:
            terminal.say(wrapped(question.reason, 2), *why_lines(ranking))
        elif answer.isdecimal() and 1 <= int(answer) <= len(answers):
            return answers[int(answer) - 1]
        elif answer in answers:
            return answer
        else:
            terminal.say(
                f"  Enter a number from 1 to {len(answers)}; or ? does not know, w why, "
                "u undo, q stop."
            )


def _say_end(interview: Interview, terminal: Terminal) -> None:
    """Say what follows: the plan, or why there is none."""
    plan = interview.plan()
    if plan is not None:
        terminal.say(heading("First visit"), *plan_lines(plan))
    elif interview.stage is Stage.STOPPED:
        terminal.say(heading("Stopped: this danger comes before any question about the machine."))
    else:
        terminal.say(heading("No causes are ranked: the safety questions come first."))
