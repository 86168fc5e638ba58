"""English words of the technician's pages that depend on what happened."""

from collections.abc import Mapping

from triage.services.job.day import VisitStanding
from triage.services.job.events import Verified

STANDINGS: Mapping[VisitStanding, str] = {
    VisitStanding.NEXT: "Next",
    VisitStanding.BOOKED: "Later today",
    VisitStanding.LATE: "Late",
    VisitStanding.UNDER_WAY: "Under way",
    VisitStanding.DONE: "Done",
    VisitStanding.NO_SHOW: "Nobody was there",
}
VISIT_STATES: Mapping[str, str] = {
    "booked": "Booked",
    "under_way": "Under way",
    "done": "Over",
    "no_show": "Nobody was there",
}
VERIFIED: Mapping[Verified, str] = {
    Verified.WORKS: "works",
    Verified.STILL_BROKEN: "still not right",
    Verified.NOT_RUN: "check run not made yet",
}
VERIFIED_SENT: Mapping[str, str] = {one.value: words for one, words in VERIFIED.items()}
REPAIR_BUTTONS: Mapping[Verified, str] = {
    Verified.WORKS: "Done, and it works",
    Verified.STILL_BROKEN: "Done, still not right",
    Verified.NOT_RUN: "Done, check run not made yet",
}
REPAIR_WORDING = "Do it, then run the machine through and check that the complaint is gone."
COULD_NOT_BE_RUN = "Could not be run"
COULD_NOT_BE_RUN_ID = "could_not_be_run"
BACK_TO_PROPOSED = "Back to the proposed step"

NO_CUSTOMER = "No customer on record; the caller is"
NO_VISIT = "No visit is booked for this job."
NOBODY_CAME = "Nothing was found or repaired on site yet."

CURED = "The check run shows that it works. Close the job, or go on if something else is wrong."
NOTHING_LEFT = "By what is known nothing is wrong any more. Make the check run, then close the job."
CHECK_RUN_OPEN = "The check run after the repair was not made yet."
EXCLUDE = (
    "These findings exclude each other, so no cause can be ranked. "
    "Take back the one that may be wrong."
)
OFF_PLAN = (
    "Off the printed plan since “{left_by}”. Nothing is lost: every result counts, "
    "and the steps below are worked out anew."
)
ON_PLAN = "On the printed plan, at step {number}."
YOU_CHOSE = "You chose this step. The program proposes: {title}."
ANSWERED_TWICE = "{sent} without signal, {found} meanwhile; it counts as {counts}."
TWICE = "Answered twice: {title}"
OVERRULED = "Took another step: {title}"
OWN_FINDING = "Own finding"
SECOND_FAULT = "Second fault"
NOTE = "Note"
STALE = (
    "Something else was entered on this job since this page was shown. Nothing was overwritten: "
    "look at the sheet as it is now; what you typed is kept."
)
PHOTO_TOO_LARGE, FEWER_DOTS = (
    "A photo must be 8 MB or smaller",
    "Take it with fewer dots, or choose another",
)
TOO_LARGE = "What was sent is too large. A photo must be 8 MB or smaller."
NOT_RECORDED = "That was not recorded"
NOT_FOUND = "Not found"
TO_JOB = "Back to the job"
TO_STOCK = "Back to the stock"
TO_DAY = "Back to the day"
TODAY = "Today"
DAY_BEFORE, DAY_AFTER = "Day before", "Day after"
SHOWN_MAX = 20  # characters of what was typed that a message repeats
NEVER_COUNTED = "never counted"
UNKNOWN_STEP = "a step this network no longer has"
UNKNOWN_PART = "a part this network no longer has"

BEFORE_WORK = (
    "Unplug the machine before a panel comes off, and prove that it is dead.",
    "Close the water taps, and the gas valve of a gas dryer, before anything on them is opened.",
    "Capacitors and drive boards hold a charge: discharge them through a resistor and prove zero.",
    "Keep hands out of the basket or drum until it stands still.",
    "Cabinet edges are sharp: wear gloves.",
    "At the end: covers and ground screws back, leak check of water and gas, full run.",
    "Local codes hold. House wiring, house drains and gas pipes belong to a licensed trade.",
)

# Calculators that help with an appliance kind, by the beginning of its id.
CALCULATORS: Mapping[str, tuple[str, ...]] = {
    "top_load_washer": ("supply_voltage", "standpipe", "fill_time", "capacitor"),
    "front_load_washer": ("supply_voltage", "standpipe", "fill_time"),
    "electric_dryer": ("supply_voltage", "dryer_duct", "heating_element", "thermistor"),
    "gas_dryer": ("supply_voltage", "dryer_duct", "thermistor"),
}
EVERY_CALCULATOR = ("supply_voltage",)


def counted(count: int, one: str, many: str) -> str:
    """Number of things with their word.

    >>> counted(1, "entry", "entries"), counted(3, "entry", "entries")
    ('1 entry', '3 entries')
    """
    return f"{count} {one if count == 1 else many}"


def no_reading(typed: str) -> str:
    """What to enter where a reading is no number."""
    if not typed.strip():
        return "The reading is missing. Enter a number such as 117.5."
    shown = typed if len(typed) <= SHOWN_MAX else f"{typed[:SHOWN_MAX]}…"
    return f"“{shown}” cannot be a reading. Enter a number such as 117.5, or press an answer below."


def reading_out_of_span(typed: str, span: str, answer: str) -> str:
    """What to do about a reading that cannot be."""
    way_out = (
        f"If the meter does show that, or an overload, press “{answer}” below."
        if answer
        else "Then measure again."
    )
    shown = typed if len(typed) <= SHOWN_MAX else f"{typed[:SHOWN_MAX]}…"
    return f"Expected {span}, not {shown}. Check the number, its sign and its unit. {way_out}"


def no_pieces(typed: str, expected: str) -> str:
    """What to enter where a number of pieces is none."""
    return f"“{typed}” is no number of pieces. Enter {expected}."


def pieces(count: int, title: str) -> str:
    """Pieces of a part."""
    return title if count == 1 else f"{count} × {title}"


def job_title(number: int, name: str) -> str:
    """Job as pages name it."""
    return f"Job {number}: {name}" if name else f"Job {number}"


def waiting_for(part: str, day: str, is_there: bool) -> str:
    """How it stands with a part that was ordered."""
    return f"{part}: is there" if is_there else f"{part}: expected on {day}"
