"""A load list as text."""

from collections.abc import Iterator

from triage.cli.output import heading, table, wrapped
from triage.services.plan.load import FrontierPoint, LoadEntry, LoadList
from triage.services.wording import percent

MINOR_UNITS = 100  # per unit of currency, as in the network files


def load_lines(found: LoadList) -> list[str]:
    """Return the load list as lines of text."""
    return [
        *_section("Take along", found, found.take, "Nothing beyond what is on the van."),
        *_section("Check that these are on the van", found, found.check, ""),
        *_visits(found),
        *_worth(found),
        *_frontier(found),
    ]


def _section(
    title: str, found: LoadList, entries: tuple[LoadEntry, ...], otherwise: str
) -> Iterator[str]:
    if not entries and not otherwise:
        return
    yield title if title == "Take along" else heading(title)
    if not entries:
        yield f"  {otherwise}"
    for entry in entries:
        name = f"{entry.part.title}, {entry.number}" if entry.number else entry.part.title
        if len(found.visits) > 1:
            numbers = ", ".join(str(number) for number in entry.visits)
            name += f" ({entry.appliance}, visit {numbers})"
        yield wrapped(f"- {name}: {entry.where}; {entry.reason}.", 2, 2)


def _visits(found: LoadList) -> Iterator[str]:
    yield heading("All parts of the job aboard")
    for number, visit in enumerate(found.visits, start=1):
        plate = f", plate {visit.plate}" if visit.plate else ""
        name = f"{number}. {visit.title}{plate}" if len(found.visits) > 1 else visit.title + plate
        bare = percent(visit.fill_rate_of_van)
        yield wrapped(f"{name}: {percent(visit.fill_rate)} (van as it is: {bare})", 2, 3)
        for text in visit.asks:
            yield wrapped(f"- {text}", 5, 2)


def _worth(found: LoadList) -> Iterator[str]:
    def money(amount_minor: float) -> str:
        return f"{amount_minor / MINOR_UNITS:.2f} {found.currency}"

    yield ""
    yield wrapped(f"The parts to take cost {money(found.parts_cost_minor)}.", 2)
    if found.is_proved:
        yield wrapped("No other load is better.", 2)
    else:
        text = f"No other load is better by more than {money(found.gap_minor)}."
        if found.standard_error_minor:
            text += (
                f" Worked out from drawn days, give or take {money(found.standard_error_minor)}."
            )
        yield wrapped(text, 2)


def _frontier(found: LoadList) -> list[str]:
    if len(found.frontier) < 2:
        return []
    return [
        heading(f"What more would bring: all parts aboard, cost of the parts in {found.currency}"),
        *table((_point(point) for point in found.frontier), right=(0, 1)),
    ]


def _point(point: FrontierPoint) -> tuple[str, str, str]:
    added = "; ".join(point.added) or "the van as it is"
    return percent(point.fill_rate), f"{point.parts_cost_minor / MINOR_UNITS:.0f}", added
