"""Calls of the days around today, with their visits: every way in which a job can stand."""

from datetime import date, timedelta

from triage.services.call_log.events import CallOutcome, FindingMade, HelpAsked
from triage.services.job.events import (
    Arrived,
    Left,
    OwnFinding,
    PartArrived,
    PartOrdered,
    PieceUsed,
    QuoteAuthorised,
    QuoteDeclined,
    QuoteGiven,
    RepairDone,
    Verified,
    VisitNote,
)
from webform.demo.story import DemoCall, DemoCaller, DemoVisit

HOUR, DAY = 60, 24 * 60  # minutes
NORTH, SOUTH = 0, 1

OF_THE_PAST: tuple[DemoCall, ...] = (
    DemoCall(
        caller="Rowena Thrale",
        words="It roars like a plane when it spins.",
        minutes_ago=3 * DAY + 2 * HOUR,
        appliance="front_load_washer",
        signs=["says_roars"],
        answers={"asks_drum_play": "play"},
        who=DemoCaller(
            name="Rowena Thrale", number=13, street="Tollgate 21", town="Mill End", age=13
        ),
        visits=[
            DemoVisit(
                van=SOUTH,
                day=-2,
                hour=10.0,
                events=[
                    Arrived(),
                    FindingMade("turns_drum", "rough"),
                    QuoteGiven(54000, "Bearings of the tub and the work"),
                    QuoteDeclined("Dearer than it is worth at its age"),
                    Left(),
                ],
                is_closed=True,
            )
        ],
    ),
    DemoCall(
        caller="Corin Vale",
        words="The dryer squeals, but I think I can live with it.",
        minutes_ago=3 * DAY,
        appliance="gas_dryer",
        signs=["says_squeals"],
        who=DemoCaller(name="Corin Vale", number=14, street="Sluice Lane 2"),
        visits=[
            DemoVisit(van=NORTH, day=-2, hour=14.0, cancelled="Sold the machine to a neighbour")
        ],
    ),
    DemoCall(
        caller="Edda Marlowe",
        words="It won't drain, and it hums at the end.",
        minutes_ago=2 * DAY + 3 * HOUR,
        signs=["says_water_left"],
        answers={"asks_pump_sound": "humming"},
        help=HelpAsked(place="Weirside", warranty="no", holder="owner", access=["stacked"]),
        who=DemoCaller(
            name="Edda Marlowe",
            number=15,
            street="Weir Cottage",
            town="Weirside",
            age=7,
            drive="belt",
            plate="DEMO 77-0146",
        ),
        visits=[
            DemoVisit(
                van=NORTH,
                day=-1,
                hour=9.0,
                events=[
                    Arrived(),
                    FindingMade("sees_standing_water", "found"),
                    FindingMade("tests_drain_pump", "hums"),
                    QuoteGiven(19800, "Drain pump and the work"),
                    QuoteAuthorised("Edda Marlowe", "in person"),
                    RepairDone("replace_drain_pump", (PieceUsed("drain_pump"),), Verified.WORKS),
                    Left(),
                ],
                is_closed=True,
            )
        ],
    ),
    DemoCall(
        caller="Jory Penhallow",
        words="It fills and fills and does not wash.",
        minutes_ago=2 * DAY,
        signs=["says_fills_and_empties"],
        who=DemoCaller(name="Jory Penhallow", number=16, street="Quarry Road 77", age=5),
        visits=[DemoVisit(van=SOUTH, day=-1, hour=14.0, is_missed=True)],
    ),
)

OF_TODAY: tuple[DemoCall, ...] = (
    DemoCall(
        caller="Sunniva Pell",
        words="There is a lot of lint in the room and nothing gets dry.",
        minutes_ago=DAY + 3 * HOUR,
        appliance="electric_dryer",
        signs=["says_dries_slowly"],
        answers={"asks_hood_air": "none", "asks_duct_cleaned": "not_lately"},
        who=DemoCaller(name="Sunniva Pell", number=19, street="Bakers Row 8", age=4),
        visits=[
            DemoVisit(
                van=NORTH,
                day=0,
                hour=-2.5,
                events=[
                    Arrived(),
                    FindingMade("watches_hood", "none"),
                    OwnFinding("A nest in the hood outside."),
                    RepairDone("clean_duct", (PieceUsed("duct_material"),), Verified.WORKS),
                    Left(),
                ],
            )
        ],
    ),
    DemoCall(
        caller="Brannock farm",
        words="The big washer stands full of water and does not go on.",
        minutes_ago=DAY + 4 * HOUR,
        signs=["says_water_left", "says_stops_part_way"],
        answers={"asks_pump_sound": "silent"},
        help=HelpAsked(place="Upper Tarrow", warranty="no", holder="owner", access=["stairs"]),
        who=DemoCaller(
            name="Iven Brannock",
            number=20,
            street="Brannock Farm",
            town="Upper Tarrow",
            age=11,
            drive="clutch",
            notes="Ring twice, the yard gate sticks.",
        ),
        visits=[
            DemoVisit(
                van=NORTH,
                day=0,
                hour=-0.5,
                minutes=90,
                events=[Arrived(), FindingMade("sees_standing_water", "found")],
            )
        ],
    ),
    DemoCall(
        caller="Lysander Coombe",
        words="The door will not open, my laundry is in there.",
        minutes_ago=DAY + 5 * HOUR,
        appliance="front_load_washer",
        signs=["says_door_stays_shut"],
        answers={"says_water_left": "no"},
        who=DemoCaller(name="Lysander Coombe", number=21, street="Fuller Street 30", age=2),
        visits=[DemoVisit(van=NORTH, day=0, hour=2.0)],
    ),
    DemoCall(
        caller="Nerys Aldous",
        words="It lights and goes out again after a minute.",
        minutes_ago=DAY + 6 * HOUR,
        appliance="gas_dryer",
        signs=["says_heat_drops_out"],
        who=DemoCaller(name="Nerys Aldous", number=22, street="Lantern Court 6", age=10),
        visits=[DemoVisit(van=SOUTH, day=0, hour=-1.0, late_minutes=45)],
    ),
    DemoCall(
        caller="Ottoline Bray",
        words="It moans and the clothes come out soaked.",
        minutes_ago=DAY + 7 * HOUR,
        signs=["says_no_spin"],
        answers={"asks_spin_only": "does_not"},
        who=DemoCaller(
            name="Ottoline Bray", number=23, street="Nettle Close 12", age=9, drive="belt"
        ),
        visits=[DemoVisit(van=SOUTH, day=0, hour=1.5, minutes=90)],
    ),
)


def week(today: date) -> tuple[DemoCall, ...]:
    """Calls of the week, oldest first."""
    return (
        _motor_came(today),
        _element_ordered(today),
        *OF_THE_PAST,
        *_of_the_phone(),
        *OF_TODAY,
        *_to_come(),
    )


def _motor_came(today: date) -> DemoCall:
    """A part was ordered and came; the second visit is to be booked."""
    return DemoCall(
        caller="Petra Sallow",
        words="It hums and then nothing, the drum does not turn at all.",
        minutes_ago=5 * DAY,
        appliance="electric_dryer",
        signs=["says_drum_stands"],
        answers={"says_hums_no_turn": "yes"},
        who=DemoCaller(name="Petra Sallow", number=11, street="Kiln Yard 3", age=9),
        visits=[
            DemoVisit(
                van=SOUTH,
                day=-4,
                hour=9.5,
                events=[
                    Arrived(),
                    FindingMade("tests_motor", "hums"),
                    FindingMade("turns_drum", "found"),
                    PartOrdered("drum_motor", today + timedelta(days=-1)),
                    Left(),
                    PartArrived("drum_motor"),
                ],
            )
        ],
    )


def _element_ordered(today: date) -> DemoCall:
    """A part is ordered and comes tomorrow."""
    return DemoCall(
        caller="Ansel Wick",
        words="No heat at all, it just turns and blows cold.",
        minutes_ago=4 * DAY + HOUR,
        appliance="electric_dryer",
        signs=["says_no_heat"],
        answers={"asks_breaker": "on"},
        who=DemoCaller(name="Ansel Wick", number=12, street="Old Ferry 9", age=6),
        visits=[
            DemoVisit(
                van=NORTH,
                day=-3,
                hour=11.0,
                events=[
                    Arrived(),
                    FindingMade("tests_heat", "none"),
                    FindingMade("meters_element", "outside"),
                    QuoteGiven(28900, "Heating element and the work"),
                    QuoteAuthorised("Ansel Wick", "in person"),
                    PartOrdered("heating_element", today + timedelta(days=1)),
                    VisitNote("The key is with the neighbour in number 11."),
                    Left(),
                ],
            )
        ],
    )


def _of_the_phone() -> tuple[DemoCall, ...]:
    """Calls to which nobody has to come."""
    return (
        DemoCall(
            caller="Tamsin Rook",
            words="The water just trickles in, it takes for ever.",
            minutes_ago=2 * DAY + HOUR,
            signs=["says_slow_fill"],
            answers={"asks_taps": "shut"},
            outcome=CallOutcome.SOLVED_BY_PHONE,
            note="The cold tap was half shut.",
            who=DemoCaller(name="Tamsin Rook", number=17, street="Mill End 5", town="Mill End"),
        ),
        DemoCall(
            caller="Launderette on the square",
            words="One of the coin machines eats the coins.",
            minutes_ago=DAY + 2 * HOUR,
            appliance="coin_operated_washer",
            outcome=CallOutcome.REFER_OUT,
        ),
        DemoCall(
            caller="Hollis Grane",
            words="It shakes the whole house when it spins.",
            minutes_ago=DAY + HOUR,
            signs=["says_bangs"],
            outcome=CallOutcome.DECLINED,
            note="Wants to think about it.",
            who=DemoCaller(name="Hollis Grane", number=18, street="Chapel Steps 1", age=15),
        ),
    )


def _to_come() -> tuple[DemoCall, ...]:
    return (
        DemoCall(
            caller="Quill Hathersage",
            words="It leaks from under the door, every time.",
            minutes_ago=6 * HOUR,
            appliance="front_load_washer",
            signs=["says_leaks_washing"],
            answers={"asks_boot": "torn"},
            who=DemoCaller(name="Quill Hathersage", number=24, street="Harbour Bank 2", age=8),
            visits=[DemoVisit(van=SOUTH, day=1, hour=10.0)],
        ),
        DemoCall(
            caller="Vesper Lund",
            words="It is dead, no lights, nothing.",
            minutes_ago=5 * HOUR,
            signs=["says_dead"],
            answers={"asks_outlet": "works"},
            who=DemoCaller(name="Vesper Lund", number=25, street="Rope Walk 44", age=3),
            visits=[DemoVisit(van=NORTH, day=2, hour=9.5, note="The lift is out of order.")],
        ),
    )
