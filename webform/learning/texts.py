"""English texts of the pages of learning."""

from collections.abc import Mapping

from triage.services.learning.editing import KINDS
from triage.services.learning.replanning import ENDING, PARTS, QUESTION, SLOT
from triage.services.learning.work import Work

WORK_TITLES: Mapping[Work, str] = {
    Work.PROPOSE: "Propose a version from closed jobs",
    Work.EVALUATE: "Score the networks on closed jobs",
    Work.REPLAN: "Plan past calls with a version",
    Work.SENSITIVITY: "Find the numbers worth measuring",
    Work.IMPORT: "Take a file of closed jobs in",
}
RUN_WORDS: Mapping[str, str] = {
    "waiting": "waiting to begin",
    "running": "going on",
    "done": "done",
    "failed": "not finished",
}
STATE_WORDS: Mapping[str, str] = {
    "proposed": "waits for a decision",
    "approved": "approved",
    "approved_in_part": "approved in part, as another version",
    "rejected": "rejected",
}
ORIGIN_WORDS: Mapping[str, str] = {
    "shipped": "came with the program",
    "learned": "learned from closed jobs",
    "edited": "one number set by hand",
}
KIND_WORDS: Mapping[str, str] = {
    "share": "Shares of causes",
    "multiplier": "Circumstances that make causes more or less likely",
    "context": "Circumstances",
    "leak": "Signs without a known cause",
    "link": "How often a cause shows as a sign",
    "row": "Signs with rules of their own",
    "channel": "How often an answer is given",
    "minutes": "Minutes",
}
WHAT_WORDS: Mapping[str, str] = {
    ENDING: "how the call should end",
    PARTS: "the parts to load",
    SLOT: "the length of the slot",
    QUESTION: "the next question",
}
NUMBER_KINDS = KINDS
TOGETHER_LABEL = "Learn kinds together"
SETTING_LABELS: Mapping[str, tuple[str, str]] = {
    "share_jobs": (
        "Shares are worth, in jobs",
        "A share of the network counts as much as that many closed jobs",
    ),
    "link_jobs": (
        "Strengths are worth, in jobs",
        "Those of one half, in jobs with the cause and a look at the sign; others are worth more",
    ),
    "channel_jobs": (
        "Answers are worth, in jobs",
        "How reliably callers and tests tell a sign; those of one half, others are worth more",
    ),
    "stated_weight": (
        "Part of the weight that the network states itself",
        "1 takes its word; 0.1 lets jobs move it ten times as fast",
    ),
    "careless_share": (
        "Callers who answer without looking, of all answers",
        "Beyond what the network says of each question; 0.05 is one in twenty, 0 is none",
    ),
    "careless_answers": (
        "That share is worth, in answers",
        "So many answers of your callers count as much as it",
    ),
    "context_jobs": ("Circumstances are worth, in jobs", "Age, drive, hardness of the water"),
    "minutes_jobs": ("Minutes are worth, in jobs", "Timed steps against the network's figure"),
    "half_life_months": (
        "A job of that age counts half, in months",
        "May stay empty: then all jobs count alike",
    ),
    "call_back_days": (
        "A call back tells of the earlier cause, in days",
        "A customer who calls again within that time",
    ),
}
