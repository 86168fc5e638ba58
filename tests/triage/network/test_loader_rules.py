"""Every slip in what entries say of each other is told with its line, got and expected.

Each case changes one thing in ``networks_files/small_washer.yaml`` and states the whole message
after the name of the file.
"""

import pytest

from tests.triage.network.changed_files import problems_after

COVERAGE_CASES = {
    "mode that no sign depends on": (
        ("causes: {drive_belt.broken: 0.95, control.dead", "causes: {control.dead"),
        "38: components.drive_belt.modes.broken: got no sign that depends on it; "
        "expected at least one.",
    ),
    "mode without a repair": (
        ("cures: [drive_belt.broken]", "cures: [control.dead]"),
        "38: components.drive_belt.modes.broken: got no repair that cures it; "
        "expected at least one.",
    ),
    "sign without a cause": (
        ("    causes: {drain_pump.burnt: 1}\n", ""),
        "90: signs.pump_winding: got no failure mode that causes it; expected at least one.",
    ),
    "sign that masks itself": (
        (
            "  pump_winding:\n    title",
            "  pump_winding:\n    masked_by: [{sign: pump_winding, states: [bad], shows: bad}]\n"
            "    title",
        ),
        "91: signs.pump_winding.masked_by: got masks in a circle: pump_winding masks "
        "pump_winding; expected an order in which each sign is masked by others only.",
    ),
    "state that is added by itself": (
        ("states: [works, fails]", "states: [works, fails, untestable]"),
        '79: signs.low_spin.states: got the state "untestable"; '
        "expected it to be left out, it is added where a mask shows it.",
    ),
    "leak beside rows": (
        ("    rows:", "    leak: 0.1\n    rows:"),
        '86: signs.hum.leak: got a leak beside "rows"; '
        "expected the last row, without `when`, to say what happens with nothing failed.",
    ),
    "last row with a condition": (
        ("      - {then: {absent: 0.99, present: 0.01}}\n", ""),
        "88: signs.hum.rows[1]: got a `when`; expected none in the last row.",
    ),
    "cause stated twice": (
        ("causes:\n  water_left: {", "causes:\n  water_left: {drain_pump.burnt: 0.5, "),
        '96: causes.water_left.drain_pump.burnt: got "drain_pump.burnt" again; '
        "expected it once (first at fragments/small_drain.yaml:29).",
    ),
    "causes beside rows": (
        ("causes:\n  water_left: {", "causes:\n  hum: {control.dead: 0.5}\n  water_left: {"),
        '96: causes.hum.control.dead: got causes for a sign that has "rows"; '
        "expected one of the two.",
    ),
    "pair of one component": (
        ("modes: [drain_pump.burnt, control.dead]", "modes: [drain_pump.burnt, drain_pump.jammed]"),
        '64: pairs[0].modes: got two modes of "drain_pump", which exclude each other; '
        "expected modes of two different components.",
    ),
    "pair with nothing failed": (
        (
            "modes: [drain_pump.burnt, control.dead]",
            "modes: [control.dead, nothing_failed.normal_behaviour]",
        ),
        '64: pairs[0].modes: got a mode of "nothing_failed", which excludes every failure; '
        "expected modes of two different components.",
    ),
    "pair twice": (
        (
            "probability: 0.01}\n",
            "probability: 0.01}\n  - {modes: [control.dead, drain_pump.burnt], probability: 0.1}\n",
        ),
        '65: pairs[1].modes: got the pair "control.dead" and "drain_pump.burnt" again; '
        "expected it once (first at small_washer.yaml:64).",
    ),
    "caller's repair without steps": (
        ("    caller_steps: ", "    # caller_steps: "),
        "196: repairs.clean_screens.caller_steps: got nothing; "
        "expected the sentence to say, for a repair by caller.",
    ),
}

OBSERVATION_CASES = {
    "sign and context": (
        ("    context: drive\n    channel", "    context: drive\n    sign: hum\n    channel"),
        "118: observations.says_drive: got a sign and a context; expected one of them.",
    ),
    "neither sign nor context": (
        ("    context: drive\n    channel", "    channel"),
        "118: observations.says_drive: got neither a sign nor a context; expected one of them.",
    ),
    "no likelihood": (
        ("    likelihood: caller_sees\n", ""),
        "99: observations.says_water_left.likelihood: got nothing; "
        "expected a table or the name of a reliability.",
    ),
    "row for a state missing": (
        ("      untestable: {good: 0.01, bad: 0.02, could_not_be_run: 0.97}\n", ""),
        '147: observations.runs_full_cycle.likelihood: got no state "untestable"; '
        "expected one entry for every state.",
    ),
    "answer missing in a row": (
        ("present: {yes: 0.8, no: 0.2}", "present: {yes: 0.8, noo: 0.2}"),
        '115: observations.says_hum.likelihood.present: got no answer "no"; '
        "expected one entry for every answer.",
    ),
    "column for a table": (
        ("likelihood: caller_sees", "likelihood: volunteers_often"),
        '105: observations.says_water_left.likelihood: got the reliability "volunteers_often", '
        "a column; expected one with {state: {answer: probability}}.",
    ),
    "table for a column": (
        ("volunteered: volunteers_often", "volunteered: caller_sees"),
        '116: observations.says_hum.volunteered: got the reliability "caller_sees", '
        "a table of answers; expected one with {state: probability}.",
    ),
    "state missing in what is volunteered": (
        ("volunteered: {present: 0.5, absent: 0.002}", "volunteered: {present: 0.5}"),
        '106: observations.says_water_left.volunteered: got no state "absent"; '
        "expected one entry for every state.",
    ),
    "volunteered on site": (
        (
            "    preconditions: [powered]",
            "    preconditions: [powered]\n    volunteered: {steady: 0.5, dribble: 0.1, none: 0.1}",
        ),
        "139: observations.tests_cold_valve.volunteered: got channel on_site_test; "
        "expected channel caller or guided_check.",
    ),
    "phrases that raise nothing": (
        ("    volunteered: {present: 0.5, absent: 0.002}\n", ""),
        '106: observations.says_water_left.phrases: got phrases without "volunteered"; '
        "expected both or neither.",
    ),
    "answer with a name that is taken": (
        ('{yes: "Yes", no: "No"}', '{yes: "Yes", no: "No", volunteered: "Says so"}'),
        '114: observations.says_hum.answers.volunteered: got the answer "volunteered"; '
        "expected another name, this one stands for what the caller says unasked.",
    ),
    "test without acceptance": (
        ('    acceptance: "It fills, washes, drains and spins."\n', ""),
        "140: observations.runs_full_cycle.acceptance: got nothing; "
        "expected what a good machine does, for on_site_test.",
    ),
    "test that cannot say it could not be run": (
        ("could_not_be_run: could not be run}", "other: could not be run}"),
        '146: observations.runs_full_cycle.answers: got no answer "could_not_be_run"; '
        'expected one, since sign "low_spin" can be untestable.',
    ),
    "meter without a reading": (
        ("    reading: {", "    # reading: {"),
        "152: observations.meters_pump_winding.reading: got nothing; "
        "expected one, for channel meter.",
    ),
    "reading without a meter": (
        ("channel: meter", "channel: on_site_test"),
        "158: observations.meters_pump_winding.reading: got channel on_site_test; "
        "expected channel meter.",
    ),
    "likelihood beside a reading": (
        (
            "    answers: {inside: inside",
            "    likelihood: caller_sees\n    answers: {inside: inside",
        ),
        '159: observations.meters_pump_winding.likelihood: got a likelihood beside "reading"; '
        "expected none, it follows from the reading.",
    ),
    "reading with other answers": (
        ("outside: outside the range}", "outside: outside, unclear: unclear}"),
        '159: observations.meters_pump_winding.answers: got unknown answer "unclear"; '
        'expected one of "inside", "outside".',
    ),
    "reading without a state": (
        ("inside: {good: 0.98, bad: 0.1}", "inside: {good: 0.98, worse: 0.1}"),
        '158: observations.meters_pump_winding.reading.inside: got no state "bad"; '
        "expected one entry for every state.",
    ),
    "span that does not hold the range": (
        ("span: [0, 2000]", "span: [6, 2000]"),
        "158: observations.meters_pump_winding.reading.span: got span 6 to 2000 and accept "
        "5 to 25; expected a span that holds the range to accept and more.",
    ),
}

CASES = {
    **{f"network: {name}": case for name, case in COVERAGE_CASES.items()},
    **{f"observation: {name}": case for name, case in OBSERVATION_CASES.items()},
}


@pytest.mark.parametrize("case", CASES)
def test_slip_is_told_with_line_and_entry(case, tmp_path):
    change, expected = CASES[case]

    problems = problems_after(tmp_path, [change])

    assert f"small_washer.yaml:{expected}" in problems
