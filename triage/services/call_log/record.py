"""What the record of a machine tells before anybody is asked: its age, its drive."""

from collections.abc import Sequence

from triage.network.values import FaultNetwork, Observation
from triage.services.call_log.events import FindingMade
from triage.store.customers import StoredMachine

AGE, DRIVE = "age", "drive"  # contexts of the networks
# Bands of the networks' context "age", each with the greatest age in whole years it holds.
AGE_BANDS: tuple[tuple[str, int], ...] = (
    ("under_1_year", 0),
    ("from_1_to_3", 3),
    ("from_4_to_7", 7),
    ("from_8_to_12", 12),
    ("over_12", 200),
)


def age_band(bought_year: int, year: int) -> str:
    """Band of the age of a machine bought in one year and seen in another.

    >>> [age_band(bought, 2026) for bought in (2026, 2023, 2019, 2014, 2013)]
    ['under_1_year', 'from_1_to_3', 'from_4_to_7', 'from_8_to_12', 'over_12']
    """
    age = max(0, year - bought_year)
    return next(band for band, greatest in AGE_BANDS if age <= greatest)


def drives_of(network: FaultNetwork) -> dict[str, str]:
    """Kinds of drive of an appliance by id, with their titles; empty if there is one kind only."""
    return dict(network.contexts[DRIVE].values) if DRIVE in network.contexts else {}


def findings_on_record(
    network: FaultNetwork, machine: StoredMachine, year: int
) -> Sequence[FindingMade]:
    """Findings that follow from what is on record.

    A fact on record counts as much as the question at the phone that asks for the very thing: the
    record was once somebody's word too, and a year bought is not yet an age.
    """
    known = {DRIVE: machine.drive}
    if machine.bought_year is not None:
        known[AGE] = age_band(machine.bought_year, year)
    findings = []
    for context, value in known.items():
        asked = _question_about(network, context)
        if value and asked is not None and value in asked.answers:
            findings.append(FindingMade(asked.id, value, from_record=True))
    return findings


def _question_about(network: FaultNetwork, context: str) -> Observation | None:
    """Question at the phone whose answers are the values of a context themselves."""
    if context not in network.contexts:
        return None
    values = list(network.contexts[context].values)
    asked = (
        entry
        for entry in network.observations.values()
        if entry.context == context
        and not entry.channel.is_on_site
        and list(entry.answers) == values
    )
    return next(asked, None)
