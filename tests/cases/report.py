"""Write ``docs/worked-cases.md``: how the worked cases rank, and what the networks expect of them.

``python -m tests.cases.report`` simulates and writes everything, about half a minute a network;
``python -m tests.cases.report NETWORK`` simulates only that one and keeps the rest of
``expected.yaml``. Run it after a change of a network or of a case.
"""

import argparse
from collections.abc import Mapping, Sequence
from dataclasses import asdict

import yaml

from tests.cases.casebook import FOLDER, case_networks
from tests.cases.expect import CONFIDENCE, Expected, expected, hits_expected
from tests.cases.measure import Outcome, Placing, measured
from tests.project.tree import ROOT
from triage.network.catalogue import load_network
from triage.network.values import NetworkIndex

PAGE = ROOT / "docs" / "worked-cases.md"
EXPECTED = FOLDER / "expected.yaml"

INTRODUCTION = """# Worked cases

Calls written out from the first words to what was wrong, and what the program makes of them. This
page is written by `python -m tests.cases.report`; [how the cases are
made](../tests/cases/README.md) says more.

What had failed was drawn by share with a fixed seed, and so were the age of the machine, its other
circumstances, and which answers go wrong, about one in ten. The rest was written by hand **before
any ranking of the cases was seen**: the caller's words, six to eight answers on the phone, three to
six tests. No case and no number was changed afterwards because of how a case ranks. They are not
closed jobs: they show that program and data hang together, not how often it is right in the field.

A cause is **found from the phone** if it is among the first three after the call, and **found after
the tests** if it is first then. Where two things had failed, one of them must be among the first
three after the call, and both among the first four after the tests.

**Expected** is what the network itself expects: the same things failed, the same opening words, the
same questions and tests; circumstances, signs and answers are drawn from the network, {draws} times
a case. Beside the mean stands the range that holds {confidence:.0%} of binomial counts with that
mean. A count below the range would mean that the network thinks better of itself than it should. A
count above the mean is no merit: whoever writes cases tends to write clear ones.

"""


def read_expected() -> dict[str, Expected]:
    """Simulated rates as last written, by network."""
    if not EXPECTED.exists():
        return {}
    found = yaml.safe_load(EXPECTED.read_text("utf-8"))
    return {name: Expected(**rates) for name, rates in found.items()}


def page(outcomes: Mapping[str, Sequence[Outcome]], rates: Mapping[str, Expected]) -> str:
    """Whole page."""
    parts = [
        INTRODUCTION.format(draws=pooled(rates).draws, confidence=CONFIDENCE),
        _summary(outcomes, rates),
    ]
    parts += [network_section(name, found) for name, found in outcomes.items()]
    return "\n".join(parts)


def _summary(outcomes: Mapping[str, Sequence[Outcome]], rates: Mapping[str, Expected]) -> str:
    lines = [
        "| appliance | cases | from the phone | expected | after the tests | expected |",
        "|---|---|---|---|---|---|",
        *(_row(load_network(name).title, outcomes[name], rates[name]) for name in outcomes),
        _row("All", [case for found in outcomes.values() for case in found], pooled(rates)),
    ]
    return "\n".join(lines) + "\n"


def pooled(rates: Mapping[str, Expected]) -> Expected:
    """Mean over the cases of every network."""
    cases = sum(found.cases for found in rates.values())
    return Expected(
        cases=cases,
        draws=max(found.draws for found in rates.values()),
        phone=sum(found.phone * found.cases for found in rates.values()) / cases,
        tests=sum(found.tests * found.cases for found in rates.values()) / cases,
    )


def _row(title: str, found: Sequence[Outcome], rate: Expected) -> str:
    phone = sum(outcome.phone.is_found_from_phone for outcome in found)
    tests = sum(outcome.tests.is_found_after_tests for outcome in found)
    cases = len(found)
    return (
        f"| {title} | {cases} | {phone}, {phone / cases:.0%} | {_expectation(rate.phone, cases)} "
        f"| {tests}, {tests / cases:.0%} | {_expectation(rate.tests, cases)} |"
    )


def _expectation(rate: float, cases: int) -> str:
    low, high = hits_expected(rate, cases)
    return f"{rate:.0%}, {low} to {high} cases"


def network_section(name: str, outcomes: Sequence[Outcome]) -> str:
    """Table and misses of one network."""
    index = NetworkIndex(load_network(name))
    lines = [
        f"## {index.network.title}\n",
        "| case | what had failed | story | after the phone | after the tests |",
        "|---|---|---|---|---|",
    ]
    for outcome in outcomes:
        truth = "; ".join(index.mode_title(mode) for mode in outcome.case.truth)
        phone = _placed(outcome.phone, outcome.phone.is_found_from_phone)
        tests = _placed(outcome.tests, outcome.tests.is_found_after_tests)
        lines.append(f"| {outcome.case.id} | {truth} | {outcome.case.story} | {phone} | {tests} |")
    misses = [line for outcome in outcomes for line in _misses(index, outcome)]
    return "\n".join([*lines, "", "Misses:\n", *(misses or ["- none"]), ""])


def _placed(placing: Placing, is_found: bool) -> str:
    places = ", ".join(
        f"{rank}. ({chance:.0%})"
        for rank, chance in zip(placing.ranks, placing.probabilities, strict=True)
    )
    return places if is_found else f"**{places}**"


def _misses(index: NetworkIndex, outcome: Outcome) -> list[str]:
    """One line for each thing that went wrong in a case."""
    lines = []
    if not outcome.phone.is_found_from_phone:
        lines.append(f"after the phone {_leading(index, outcome.leaders_from_phone)}")
    if not outcome.tests.is_found_after_tests:
        lines.append(f"after the tests {_leading(index, outcome.leaders_after_tests)}")
    if not outcome.is_heard:
        lines.append(f'nothing the caller meant is heard in "{outcome.case.caller_words}"')
    return [f"- {outcome.case.id}: {line}" for line in lines]


def _leading(index: NetworkIndex, leaders: Sequence[tuple[str, float]]) -> str:
    return "led " + ", ".join(f"{index.mode_title(mode)} ({p:.0%})" for mode, p in leaders)


def main() -> None:
    """Simulate, measure, and write the page."""
    parser = argparse.ArgumentParser(description="Write docs/worked-cases.md.")
    parser.add_argument("networks", nargs="*", help="networks to simulate anew; all if none")
    chosen = parser.parse_args().networks or case_networks()
    rates = read_expected() | {name: expected(name) for name in chosen}
    written = {name: asdict(rates[name]) for name in case_networks()}
    EXPECTED.write_text(yaml.safe_dump(written, sort_keys=False), encoding="utf-8")
    outcomes = {name: measured(name) for name in case_networks()}
    PAGE.write_text(page(outcomes, read_expected()), encoding="utf-8")


if __name__ == "__main__":
    main()
