"""Every slip in one entry is told with its line, got and expected.

Each case changes one thing in ``networks_files/small_washer.yaml`` and states the whole message
after the name of the file.
"""

import pytest

from tests.triage.network.changed_files import problems_after

ENTRY_CASES = {
    "unknown key": (
        ("    kind: installation", "    kind: installation\n    colour: red"),
        '51: components.inlet_screens.colour: got unknown key "colour"; '
        'expected one of "title", "kind", "modes".',
    ),
    "mistyped key": (
        ("title: Drive belt", "titel: Drive belt"),
        '35: components.drive_belt.titel: got unknown key "titel"; '
        'expected one of "title", "kind", "modes". Did you mean "title"?',
    ),
    "unknown key deep inside": (
        ("unit: ohm, accept", "unit: ohm, scale: 3, accept"),
        '158: observations.meters_pump_winding.reading.scale: got unknown key "scale"; '
        'expected one of "unit", "accept", "span", "sd", "inside".',
    ),
    "no whole number": (
        ("version: 3", "version: three"),
        '6: version: got "three"; expected a whole number.',
    ),
    "fraction for a whole number": (
        ("version: 3", "version: 3.5"),
        "6: version: got 3.5; expected a whole number.",
    ),
    "true for a number": (
        ("minutes: 2\n    pre", "minutes: true\n    pre"),
        "137: observations.tests_cold_valve.minutes: got true; expected a number.",
    ),
    "text for a number": (
        ("success: 0.8", "success: '0.8'"),
        '200: repairs.clean_screens.success: got "0.8"; expected a number.',
    ),
    "infinite number": (
        ("sd: 0.5", "sd: .inf"),
        "158: observations.meters_pump_winding.reading.sd: got inf; expected a finite number.",
    ),
    "number for text": (
        ("title: Drive belt", "title: 12"),
        "35: components.drive_belt.title: got 12; expected text.",
    ),
    "word outside a closed set": (
        ("by: caller", "by: caler"),
        '199: repairs.clean_screens.by: got "caler"; expected one of "technician", "caller" or '
        '"licensed_trade". Did you mean "caller"?',
    ),
    "wrong format": (("format: 1", "format: 2"), "2: format: got 2; expected 1."),
    "wrong kind of strength": (
        ("control.dead: often", "control.dead: [often]"),
        "76: signs.cold_flow.causes.control.dead: got a list of 1; expected a probability, "
        "the name of a level, or state: probability.",
    ),
    "nothing in a section": (
        ("preconditions:\n  powered: powered", "preconditions:"),
        "217: preconditions: got nothing; expected a mapping (key: value).",
    ),
    "probability above 1": (
        ("success: 0.8", "success: 1.8"),
        "200: repairs.clean_screens.success: got 1.8; expected at most 1.",
    ),
    "negative probability": (
        ("success: 0.8", "success: -0.8"),
        "200: repairs.clean_screens.success: got -0.8; expected at least 0.",
    ),
    "name twice in a list": (
        ("parts: [belt]", "parts: [belt, belt]"),
        '188: repairs.replace_belt.parts: got "belt" twice; expected it once.',
    ),
    "no snake_case": (
        ("  powered: powered", "  powered: powered\n  Taps: taps open"),
        '219: preconditions.Taps: got "Taps"; expected a snake_case name.',
    ),
    "key twice": (
        ("  belt: {title: Belt,", "  belt: {title: B, cost: [1, 2]}\n  belt: {title: Belt,"),
        '164: got key "belt" again; expected it once (first on line 163).',
    ),
    "no wording": (
        ('    wording: "Does it hum?"\n', ""),
        '109: observations.says_hum: got no "wording"; expected a value for "wording".',
    ),
    "blank wording": (
        ('"Does it hum?"', '" "'),
        "113: observations.says_hum.wording: got an empty text; expected text.",
    ),
    "cost with three decimals": (
        ("cost: [15, 40]", "cost: [15.123, 40]"),
        "163: parts.belt.cost[0]: got 15.123; expected at most two decimals.",
    ),
    "range the wrong way round": (
        ("accept: [5, 25]", "accept: [25, 5]"),
        "158: observations.meters_pump_winding.reading.accept: got 25 before 5; "
        "expected the lower end first.",
    ),
    "context that does not sum to 1": (
        ("title: direct drive, probability: 0.4", "title: direct drive, probability: 0.5"),
        "29: contexts.drive.values: got values that sum to 1.1; expected 1 within 1e-9.",
    ),
    "likelihood row that does not sum to 1": (
        ("dribble: {steady: 0.05,", "dribble: {steady: 0.06,"),
        "135: observations.tests_cold_valve.likelihood.dribble: "
        "got values that sum to 1.01; expected 1 within 1e-9.",
    ),
    "likelihood of zero": (
        ("belt: {yes: 0.9, no: 0.1}", "belt: {yes: 0.9999999, no: 0.1}"),
        "124: observations.says_drive.likelihood.belt.yes: got 0.9999999; "
        "expected a value in [1e-6, 1-1e-6]; zero and one freeze learning.",
    ),
}

NUMBER_CASES = {
    "shares that do not sum to 1": (
        ("control.dead: 0.1", "control.dead: 0.2"),
        "56: shares: got shares that sum to 1.1; expected 1 within 1e-9.",
    ),
    "distribution above 1": (
        ("{dribble: 0.8, none: 0.1}", "{dribble: 0.8, none: 0.3}"),
        "75: signs.cold_flow.causes.inlet_screens.clogged: got values that sum to 1.1; "
        'expected at most 1, the rest is "steady".',
    ),
    "whole distribution that does not sum to 1": (
        ("{works: 0.1, fails: 0.9}", "{works: 0.1, fails: 0.8}"),
        "81: signs.low_spin.causes.control.dead: got values that sum to 0.9; "
        "expected 1 within 1e-9.",
    ),
    "row that does not sum to 1": (
        ("{absent: 0.99, present: 0.01}", "{absent: 0.99, present: 0.02}"),
        "89: signs.hum.rows[2].then: got values that sum to 1.01; expected 1 within 1e-9.",
    ),
    "fewer failed modes than one": (
        ("{value: 1.07", "{value: 0.9"),
        "9: expected_failed_modes.value: got 0.9; "
        "expected at least 1, it is the mean given that something failed.",
    ),
    "no default source": (
        ("  pair: {source: invented, grade: judged, equivalent_sample_size: 10}\n", ""),
        "63: pairs[0]: got no source and no grade for its numbers; "
        'expected "source" and "grade" here or under "provenance: pair".',
    ),
    "half a source": (
        (", source: invented, grade: published}\n\nsigns", ", grade: published}\n\nsigns"),
        "67: multiplier_sets.belt_only: got no source for its numbers; "
        'expected "source" and "grade" here or under "provenance: multiplier".',
    ),
    "unknown source": (
        ("source: simulated, grade: measured}\nver", "source: simulatd, grade: measured}\nver"),
        '10: conflict_threshold_bits.source: got unknown source "simulatd"; '
        'expected one that is defined under "sources". Did you mean "simulated"?',
    ),
    "unknown default source": (
        ("  share: {source: invented", "  share: {source: inventd"),
        '16: provenance.share.source: got unknown source "inventd"; '
        'expected one that is defined under "sources". Did you mean "invented"?',
    ),
    "judged without a size": (
        (
            "  pair: {source: invented, grade: judged, equivalent_sample_size: 10}",
            "  pair: {source: invented, grade: judged}",
        ),
        '18: provenance.pair: got grade "judged" without equivalent_sample_size; '
        "expected how many closed jobs the guess is worth.",
    ),
}

NAME_CASES = {
    "context": (
        ("context: drive, values: {belt: 1.5}", "context: drives, values: {belt: 1.5}"),
        "42: components.drive_belt.modes.broken.multipliers[1].context: got unknown context "
        '"drives"; expected one that is defined under "contexts". Did you mean "drive"?',
    ),
    "context value": (
        ("values: {direct_drive: 0}", "values: {direct: 0}"),
        '67: multiplier_sets.belt_only.values.direct: got unknown value "direct"; '
        'expected one of "belt", "direct_drive". Did you mean "direct_drive"?',
    ),
    "multiplier set": (
        ("- belt_only", "- belts_only"),
        "41: components.drive_belt.modes.broken.multipliers[0]: got unknown multiplier set "
        '"belts_only"; expected one that is defined under "multiplier_sets". '
        'Did you mean "belt_only"?',
    ),
    "level": (
        ("control.dead: often", "control.dead: oftn"),
        '76: signs.cold_flow.causes.control.dead: got unknown level "oftn"; '
        'expected one that is defined under "levels". Did you mean "often"?',
    ),
    "state in a cause": (
        ("{dribble: 0.8, none: 0.1}", "{dribbles: 0.8, none: 0.1}"),
        "75: signs.cold_flow.causes.inlet_screens.clogged.dribbles: got unknown state "
        '"dribbles"; expected one of "steady", "dribble", "none". Did you mean "dribble"?',
    ),
    "mode in a row": (
        ("when: [drain_pump.burnt], then", "when: [drain_pump.brnt], then"),
        '88: signs.hum.rows[1].when[0]: got unknown failure mode "drain_pump.brnt"; expected one '
        'that is defined under "components" or "nothing_failed". Did you mean "drain_pump.burnt"?',
    ),
    "masker": (
        ("{sign: water_left, states", "{sign: water_lef, states"),
        '83: signs.low_spin.masked_by[0].sign: got unknown sign "water_lef"; '
        'expected one that is defined under "signs". Did you mean "water_left"?',
    ),
    "state of the masker": (
        ("states: [present], shows", "states: [presents], shows"),
        '83: signs.low_spin.masked_by[0].states[0]: got unknown state "presents"; '
        'expected one of "absent", "present". Did you mean "present"?',
    ),
    "answer set": (
        (
            "answers: yes_no\n    likelihood: caller_sees",
            "answers: yn\n    likelihood: caller_sees",
        ),
        '104: observations.says_water_left.answers: got unknown answer set "yn"; '
        'expected one that is defined under "answer_sets".',
    ),
    "reliability": (
        ("likelihood: caller_sees", "likelihood: caller_see"),
        '105: observations.says_water_left.likelihood: got unknown reliability "caller_see"; '
        'expected one that is defined under "reliabilities". Did you mean "caller_sees"?',
    ),
    "column of what is volunteered": (
        ("volunteered: volunteers_often", "volunteered: volunteers"),
        '116: observations.says_hum.volunteered: got unknown reliability "volunteers"; '
        'expected one that is defined under "reliabilities". Did you mean "volunteers_often"?',
    ),
    "precondition": (
        ("preconditions: [powered]", "preconditions: [power]"),
        '138: observations.tests_cold_valve.preconditions[0]: got unknown precondition "power"; '
        'expected one that is defined under "preconditions". Did you mean "powered"?',
    ),
    "caution": (
        ("cautions: [moving_basket]", "cautions: [basket]"),
        '139: observations.tests_cold_valve.cautions[0]: got unknown caution "basket"; '
        'expected one that is defined under "cautions". Did you mean "moving_basket"?',
    ),
    "part": (
        ("parts: [pump]", "parts: [pumps]"),
        '180: repairs.replace_pump.parts[0]: got unknown part "pumps"; '
        'expected one that is defined under "parts". Did you mean "pump"?',
    ),
    "verification": (
        ("verification: runs_full_cycle", "verification: runs_ful_cycle"),
        '11: verification: got unknown observation "runs_ful_cycle"; '
        'expected one that is defined under "observations". Did you mean "runs_full_cycle"?',
    ),
    "fragment": (
        ("include: [small_drain]", "include: [small_drian]"),
        '8: include: got unknown fragment "small_drian"; expected a file small_drian.yaml in '
        'fragments or networks/fragments. Did you mean "small_drain"?',
    ),
    "name of the file": (
        ("network: small_washer", "network: smal_washer"),
        '3: network: got "smal_washer"; expected "small_washer", the name of the file.',
    ),
}

CASES = {
    **{f"entry: {name}": case for name, case in ENTRY_CASES.items()},
    **{f"number: {name}": case for name, case in NUMBER_CASES.items()},
    **{f"unknown {name}": case for name, case in NAME_CASES.items()},
}


@pytest.mark.parametrize("case", CASES)
def test_slip_is_told_with_line_and_entry(case, tmp_path):
    change, expected = CASES[case]

    problems = problems_after(tmp_path, [change])

    assert f"small_washer.yaml:{expected}" in problems
