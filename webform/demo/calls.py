"""Calls of today, at the desk: none has a visit behind it. All of them are invented."""

from triage.services.call_log.events import CallOutcome
from webform.demo.story import DemoCall, DemoCaller, DemoVisit

DEMO_CALLS = (
    DemoCall(
        caller="Blue door, Heron Lane",
        words="It won't spin and the clothes are soaking wet. It started yesterday.",
        minutes_ago=52,
        signs=["says_no_spin"],
        answers={"says_water_left": "no", "says_lid_clicks": "yes"},
        outcome=CallOutcome.VISIT,
        note="Dog in the yard.",
        who=DemoCaller(
            name="Maren Oakhill",
            number=43,
            street="Heron Lane 4, the blue door",
            notes="Dog in the yard.",
            age=8,
            drive="clutch",
            plate="DEMO 41-2203",
            place="utility room",
        ),
        visits=[DemoVisit(van=0, day=1, hour=9.0, minutes=90, note="Dog in the yard.")],
    ),
    DemoCall(
        caller="Upstairs flat by the mill",
        words="The washer is fine I think, but I smell gas down there.",
        minutes_ago=41,
        dangers=["gas_smell"],
    ),
    DemoCall(
        caller="Farm past the old bridge",
        words="Water everywhere, I can't stop the water, it keeps running.",
        minutes_ago=23,
        dangers=["flooding"],
    ),
    DemoCall(
        caller="Corner shop, back room",
        words="It won't drain, it just hums and the clothes are swimming in it.",
        minutes_ago=9,
        signs=["says_water_left"],
        answers={"asks_pump_sound": "humming"},
    ),
    DemoCall(
        caller="Number 14, second call today",
        words="Now it makes a grinding noise when it starts.",
        minutes_ago=1,
        is_asked=False,
    ),
    DemoCall(
        caller="House with the weathercock",
        words="It takes three cycles to dry and the laundry room gets steamy.",
        minutes_ago=34,
        appliance="gas_dryer",
        signs=["says_dries_slowly", "says_steamy_room"],
        answers={"asks_hood_air": "weak"},
        who=DemoCaller(
            name="Ilse Brandvold", number=44, street="Weathercock House", age=14, place="cellar"
        ),
    ),
    DemoCall(
        caller="Mill cottage",
        words="The dryer without a hose says it cannot go on.",
        minutes_ago=17,
        appliance="heat_pump_dryer",
    ),
)
