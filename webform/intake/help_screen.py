"""Read model of the page "can we help"."""

from dataclasses import dataclass

from triage.services.calls.help import HelpOfCall
from triage.services.customers.history import EarlierJob
from triage.services.settings.hours import DeskSettings
from webform.intake.screens import CallHead, call_head


@dataclass(frozen=True, slots=True)
class HelpScreen:
    """What is asked besides, and what was repaired before.

    ``callback`` is empty if no repair is recent enough for a call-back.
    """

    head: CallHead
    asks_place: bool
    jobs: tuple[str, ...]
    callback: str


def help_screen(asked: HelpOfCall, settings: DeskSettings) -> HelpScreen:
    """Put the page together."""
    earlier = asked.history.callback_of
    return HelpScreen(
        call_head(asked.state, "intake.can_help"),
        bool(settings.service_area),
        tuple(job_line(job) for job in asked.history.jobs if job.is_same_machine),
        job_line(earlier) if earlier else "",
    )


def job_line(job: EarlierJob) -> str:
    """Earlier job on a line: when, what was done, how it ended."""
    done = ", ".join(job.repairs) or job.outcome
    return f"{job.ago[0].upper()}{job.ago[1:]}: {done} (call {job.call_id})"
