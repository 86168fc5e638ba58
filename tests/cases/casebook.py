"""Worked cases as values: what stands in ``tests/cases/NETWORK.yaml``, read and checked.

Reading checks every finding against the network, so a case cannot name an observation or an answer
that does not exist. Nothing is ranked here.
"""

from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

from triage.inference.evidence import DONT_KNOW, Evidence, Finding, answers_accepted
from triage.network.catalogue import load_network
from triage.network.values import VOLUNTEERED, FaultNetwork, NetworkIndex

FOLDER = Path(__file__).parent
DRAWS = FOLDER / "draws"


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One call from the first words to what was wrong.

    ``phone`` and ``tests`` are findings in the order made; ``wrong`` names those that do not fit
    the machine; ``truth`` is what had failed.
    """

    id: str
    story: str
    caller_words: str
    truth: tuple[str, ...]
    phone: tuple[Finding, ...]
    tests: tuple[Finding, ...]
    wrong: tuple[str, ...]

    @property
    def after_phone(self) -> Evidence:
        """What is known at the end of the call."""
        return Evidence(self.phone)

    @property
    def after_tests(self) -> Evidence:
        """What is known when the tests are done."""
        return Evidence((*self.phone, *self.tests))

    @property
    def volunteered(self) -> frozenset[str]:
        """Observations that the caller answered unasked."""
        return frozenset(f.observation for f in self.phone if f.answer == VOLUNTEERED)


def case_networks() -> tuple[str, ...]:
    """Names of the networks that have worked cases, sorted."""
    drawn = {path.name for path in DRAWS.glob("*.yaml")}
    return tuple(sorted(path.stem for path in FOLDER.glob("*.yaml") if path.name in drawn))


def read_draw(name: str) -> dict[str, Any]:
    """What was drawn for a network before its cases were written."""
    found: dict[str, Any] = yaml.safe_load((DRAWS / f"{name}.yaml").read_text("utf-8"))
    return found


def read_cases(name: str) -> tuple[Case, ...]:
    """Cases of a network, in file order.

    Raises
    ------
    ValueError
        A case names a finding or a failure mode that the network does not have.
    """
    network = load_network(name)
    data = yaml.safe_load((FOLDER / f"{name}.yaml").read_text("utf-8"))
    return tuple(_case(network, entry) for entry in data["cases"])


def _case(network: FaultNetwork, entry: dict[str, object]) -> Case:
    def texts(key: str) -> list[str]:
        found = entry[key]
        assert isinstance(found, list)
        return [str(text) for text in found]

    unknown = set(texts("truth")) - set(NetworkIndex(network).modes)
    if unknown:
        raise ValueError(f"{network.id}, {entry['id']}: no failure mode {sorted(unknown)}")
    return Case(
        id=str(entry["id"]),
        story=str(entry["story"]),
        caller_words=str(entry["caller_words"]),
        truth=tuple(texts("truth")),
        phone=tuple(_finding(network, str(entry["id"]), text) for text in texts("phone")),
        tests=tuple(_finding(network, str(entry["id"]), text) for text in texts("tests")),
        wrong=tuple(texts("wrong")),
    )


def _finding(network: FaultNetwork, case: str, text: str) -> Finding:
    name, _, answer = text.partition("=")
    observation = NetworkIndex(network).observation(name)
    accepted = answers_accepted(observation)
    if answer not in accepted:
        place = f"{network.id}, {case}, {name}"
        raise ValueError(f"{place}: answer {answer!r}; expected one of {', '.join(accepted)}")
    return Finding(name, answer, "technician" if observation.channel.is_on_site else "caller")


def knows(finding: Finding) -> bool:
    """Whether a finding holds an answer at all."""
    return finding.answer != DONT_KNOW
