"""Customers of the closed jobs: names put together from invented halves, numbers of fiction."""

from collections.abc import Iterator
from datetime import timedelta

from triage.services.closing.closed import ClosedLine, ClosingFilter, closed_page, job_in_full
from triage.services.closing.values import ClosingOutcome
from webform.demo.playing import Player
from webform.demo.story import WASHER, DemoCall, DemoCaller

FIRST = ("Alder", "Bettany", "Cassian", "Dorrit", "Elowen", "Fane", "Gwillim", "Hesper")
LAST = ("Ashdown", "Birkett", "Crake", "Dunmore", "Eskdale")
STREETS = ("Tanner Row", "Mill Race", "Orchard Rise", "Cooper Yard", "Long Meadow")
FIRST_NUMBER = 50  # of the numbers of fiction; those below are for callers of the story
NEWEST_PAGES = 2  # of closed jobs; older ones stay without a name, as those of a file are
BACK_WITHIN = timedelta(days=28)


def customers() -> Iterator[DemoCaller]:
    """Forty customers, each with a machine of some age."""
    for place in range(len(FIRST) * len(LAST)):
        yield DemoCaller(
            name=f"{FIRST[place % len(FIRST)]} {LAST[place % len(LAST)]}",
            number=FIRST_NUMBER + place,
            street=f"{STREETS[place % len(STREETS)]} {3 + 2 * place}",
            age=2 + 5 * place % 14,
        )


def put_names_to_jobs(player: Player) -> None:
    """Give the newest jobs their customers, a job that was called back the same; one calls again.

    Somebody whose washer was repaired in the last weeks is at the phone now: it may be a call-back.
    """
    names, again = customers(), None
    linked: dict[int, DemoCaller] = {}
    for line in _newest(player):
        who = linked.get(line.call_id) or next(names, None)
        if who is None:
            return
        _link(player, line, who)
        earlier = _earlier(player, line)
        if earlier:
            linked[earlier] = who
        if again is None and _may_come_back(line, player):
            again = who
            player.take(_call_back(who))


def _newest(player: Player) -> Iterator[ClosedLine]:
    for page in range(1, NEWEST_PAGES + 1):
        found = closed_page(player.database, ClosingFilter(), page=page)
        yield from (line for line in found.lines if not line.caller)


def _link(player: Player, line: ClosedLine, who: DemoCaller) -> None:
    player.link(line.call_id, who, line.network_id, line.closed_at)


def _earlier(player: Player, line: ClosedLine) -> int:
    """Number of the job that a call-back follows up, else 0."""
    if not line.is_callback:
        return 0
    return job_in_full(player.database, line.call_id).given.callback_of


def _may_come_back(line: ClosedLine, player: Player) -> bool:
    is_washer = line.network_id == WASHER and line.outcome == ClosingOutcome.REPAIRED
    return is_washer and player.now - line.closed_at < BACK_WITHIN


def _call_back(who: DemoCaller) -> DemoCall:
    return DemoCall(
        caller=who.name,
        words="You were here the other week, and now it does the same again.",
        minutes_ago=4,
        who=who,
    )
