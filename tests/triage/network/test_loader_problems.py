"""All problems of a file at once, over its fragments, each told once and where it arises."""

import pytest

from tests.triage.network.changed_files import FRAGMENT, problems_after


def test_sign_without_an_observation_is_told(tmp_path):
    problems = problems_after(tmp_path, [("    sign: hum\n", "    sign: water_left\n")])

    assert problems == (
        "small_washer.yaml:84: signs.hum: got no observation of it; expected at least one.",
    )


def test_mode_without_a_share_is_told_at_the_mode(tmp_path):
    problems = problems_after(tmp_path, [("drain_pump.jammed: 0.3", "drain_pump.jamed: 0.3")])

    assert problems == (
        "fragments/small_drain.yaml:22: components.drain_pump.modes.jammed: got no share of "
        '"drain_pump.jammed"; expected one under shares.',
        "small_washer.yaml:57: shares.drain_pump.jamed: got unknown failure mode "
        '"drain_pump.jamed"; expected one that is defined under "components" or '
        '"nothing_failed". Did you mean "drain_pump.jammed"?',
    )


def test_masks_in_a_longer_circle_are_told_once(tmp_path):
    mask = "    masked_by: [{{sign: {}, states: [present], shows: untestable}}]\n"
    problems = problems_after(
        tmp_path,
        [("    title: a hum\n", "    title: a hum\n" + mask.format("water_left"))],
        fragment_changes=[("    leak: 0.005\n", "    leak: 0.005\n" + mask.format("hum"))],
    )

    circles = [problem.split("circle: ")[1] for problem in problems if "circle" in problem]
    assert [circle.split(";")[0] for circle in circles] == ["water_left masks hum masks water_left"]


def test_id_defined_in_two_files_is_told_with_both_places(tmp_path):
    problems = problems_after(
        tmp_path, [("  moving_basket: ", '  unplug: "Again."\n  moving_basket: ')]
    )

    assert problems == (
        'small_washer.yaml:220: cautions.unplug: got "unplug" again; '
        "expected it once (first at fragments/small_drain.yaml:32).",
    )


def test_problems_in_an_included_file_are_told_there(tmp_path):
    problems = problems_after(
        tmp_path, fragment_changes=[("often: {value: 0.63}", "often: {value: 1.63}")]
    )

    assert problems == (
        "fragments/small_drain.yaml:10: levels.often.value: got 1.63; expected at most 1.",
    )


def test_every_problem_of_a_file_is_told_at_once(tmp_path):
    problems = problems_after(
        tmp_path,
        [
            ("version: 3", "version: x"),
            ("by: caller", "by: caler"),
            ("belt: {yes: 0.9, no: 0.1}", "belt: {yes: 1, no: 0}"),
            ("parts: [pump]", "parts: [pumps]"),
            ("verification: runs_full_cycle", "verification: runs"),
            ("  powered: powered", "  powered: powered\n  powered: again"),
        ],
        fragment_changes=[("      burnt: {title:", "      burnt: {titel:")],
    )

    lines = [problem.split(": ")[0] for problem in problems]
    assert lines == [
        "fragments/small_drain.yaml:23",
        "small_washer.yaml:6",
        "small_washer.yaml:11",
        "small_washer.yaml:124",
        "small_washer.yaml:124",
        "small_washer.yaml:180",
        "small_washer.yaml:199",
        "small_washer.yaml:219",
    ]


def test_several_slips_in_one_entry_are_told_at_once(tmp_path):
    problems = problems_after(
        tmp_path,
        [
            ('    wording: "Does it hum?"\n', "    phrases: [3]\n    preconditions: [pow]\n"),
            ("present: {yes: 0.8, no: 0.2}", "present: {yes: 0.8, no: 0.3}"),
        ],
    )

    assert [problem.split(": ")[1] for problem in problems] == [
        "observations.says_hum",
        "observations.says_hum.phrases[0]",
        "observations.says_hum.preconditions[0]",
        "observations.says_hum.likelihood.present",
    ]


def test_bad_cause_hides_neither_the_other_causes_nor_raises_more(tmp_path):
    problems = problems_after(
        tmp_path, [("{drive_belt.broken: 0.95,", "{drive_belt.broken: 1.95, fan.x: 0.2,")]
    )

    assert problems == (
        "small_washer.yaml:81: signs.low_spin.causes.drive_belt.broken: got 1.95; "
        "expected at most 1.",
        'small_washer.yaml:81: signs.low_spin.causes.fan.x: got unknown failure mode "fan.x"; '
        'expected one that is defined under "components" or "nothing_failed".',
    )


def test_mistyped_section_is_read_all_the_same(tmp_path):
    problems = problems_after(
        tmp_path, [("\nrepairs:\n", "\nrepair:\n"), ("parts: [pump]", "parts: [pumps]")]
    )

    assert [problem.split(":")[1] for problem in problems] == ["166", "180"]
    assert 'Did you mean "repairs"?' in problems[0]


def test_name_that_a_broken_file_may_define_is_no_problem(tmp_path):
    problems = problems_after(tmp_path, fragment_changes=[("sources:", "sources: [")])

    assert [problem.split(" (")[0] for problem in problems] == [
        "fragments/small_drain.yaml:6: got bad syntax"
    ]


def test_fragment_alone_may_name_what_others_define(tmp_path):
    problems = problems_after(
        tmp_path,
        fragment_changes=[
            ("drain_pump.burnt: 0.98", "drain_pump.burnt: rarely\n      elsewhere.broken: 0.5"),
            ("  often: {value: 0.63}", "  often: {value: 0.63, source: elsewhere}"),
        ],
        checked=FRAGMENT,
    )

    assert problems == ()


def test_fragment_alone_is_checked_for_what_it_holds(tmp_path):
    no_source = "got no source and no grade for its numbers"
    problems = problems_after(
        tmp_path,
        fragment_changes=[
            ("{present: often}", "{presnt: often}"),
            ("  strength: {source: invented, grade: published}\n", ""),
        ],
        checked=FRAGMENT,
    )

    assert [problem.split("; ")[0] for problem in problems] == [
        f"fragments/small_drain.yaml:9: levels.often: {no_source}",
        f"fragments/small_drain.yaml:10: levels.sometimes: {no_source}",
        f"fragments/small_drain.yaml:24: signs.water_left: {no_source}",
        "fragments/small_drain.yaml:29: signs.water_left.causes.drain_pump.jammed.presnt: "
        'got unknown state "presnt"',
    ]


def test_fragments_that_include_each_other_are_read_once(tmp_path):
    other = "format: 1\nfragment: other\ninclude: [small_drain]\n"
    (tmp_path / "fragments").mkdir()
    (tmp_path / "fragments" / "other.yaml").write_text(other)

    problems = problems_after(
        tmp_path,
        fragment_changes=[("sources:", "include: [other]\nsources:")],
        checked=FRAGMENT,
    )

    assert problems == ()


@pytest.mark.parametrize(
    ("changes", "problem"),
    [
        (
            [("network: small_washer\n", "")],
            'small_washer.yaml:1: got neither "network" nor "fragment"; expected one of them.',
        ),
        (
            [("network: small_washer\n", "network: small_washer\nfragment: small_washer\n")],
            'small_washer.yaml:1: got both "network" and "fragment"; expected one of them.',
        ),
    ],
)
def test_file_of_no_single_kind_is_told(changes, problem, tmp_path):
    problems = problems_after(tmp_path, changes)

    assert problem in problems


def test_included_file_must_be_a_fragment(tmp_path):
    problems = problems_after(
        tmp_path, fragment_changes=[("fragment: small_drain", "network: small_drain")]
    )

    assert (
        'fragments/small_drain.yaml:1: got no fragment; expected "fragment: small_drain".'
    ) in problems
