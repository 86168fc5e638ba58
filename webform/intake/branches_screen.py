"""Read model of the page with the branches of a visit plan."""

from dataclasses import dataclass

from triage.services.calls.board import CallBranches
from webform.formatting import nowrap
from webform.intake.screens import CallHead, call_head
from webform.jobsheet.plan_screen import PlanShown, plan_shown


@dataclass(frozen=True, slots=True)
class BranchesScreen:
    """A plan with its branches, and how far it is from the best possible at most."""

    head: CallHead
    plan: PlanShown
    gap: str


def branches_screen(found: CallBranches) -> BranchesScreen:
    """Put the page with the branches together."""
    plan = plan_shown(found.plan, found.network.title, None)
    return BranchesScreen(
        call_head(found.state, "intake.branches"), plan, nowrap(found.plan.gap_sentence)
    )
