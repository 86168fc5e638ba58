"""Slow and obvious: evidence over several epochs, by enumerating activations.

The machine is a set of failed modes, an activation of every (mode, sign) and of every leak, drawn
once for all; a repair takes modes away with its success rate and nothing else changes. Small
networks only.
"""

from collections.abc import Iterator
from itertools import product

import numpy as np

from tests.oracle import all_sets, prior_joint, shown_states
from triage.inference.compiled import CompiledNetwork
from triage.inference.evidence import Evidence, Finding, finding_likelihood
from triage.inference.prior import Prior
from triage.network.values import FaultNetwork

Activations = dict[tuple[str, str], int]


def survivors_joint(
    compiled: CompiledNetwork, prior: Prior, evidence: Evidence
) -> dict[frozenset[str], float]:
    """P(modes still failed now, evidence) for every set of survivors."""
    network = compiled.network
    epochs = evidence.epochs()
    result: dict[frozenset[str], float] = {}
    for failed in all_sets(compiled):
        ids = frozenset(compiled.mode_ids[mode] for mode in failed)
        weight = float(prior_joint(compiled, prior, failed).sum())
        for fates, fate_weight in _fates(network, epochs, ids):
            for activations, chance in _activations(network, evidence, ids):
                likelihood = 1.0
                for (findings, _), present in zip(epochs, fates, strict=True):
                    likelihood *= _likelihood(network, findings, present, activations)
                key = fates[-1]
                result[key] = result.get(key, 0.0) + weight * fate_weight * chance * likelihood
    return result


def _fates(
    network: FaultNetwork, epochs: tuple, failed: frozenset[str]
) -> Iterator[tuple[list[frozenset[str]], float]]:
    """Surviving modes of each epoch, for each outcome of the repairs."""
    repairs = [network.repairs[repair] for _, repair in epochs if repair is not None]
    for outcomes in product([True, False], repeat=len(repairs)):
        present, history, weight = failed, [failed], 1.0
        for action, works in zip(repairs, outcomes, strict=True):
            concerned = present & set(action.cures)
            if concerned:
                weight *= action.success if works else 1.0 - action.success
                present = present - concerned if works else present
            elif not works:
                weight = 0.0  # nothing to cure: count this branch once
            history.append(present)
        if weight > 0.0:
            yield history, weight


def _needed_signs(network: FaultNetwork, evidence: Evidence) -> list[str]:
    needed: list[str] = []
    stack = [network.observations[finding.observation].sign for finding in evidence.findings]
    while stack:
        name = stack.pop()
        if name is not None and name not in needed:
            needed.append(name)
            stack.extend(mask.masker for mask in network.signs[name].masks)
    return needed


def _activations(
    network: FaultNetwork, evidence: Evidence, failed: frozenset[str]
) -> Iterator[tuple[Activations, float]]:
    links = {}
    for name in _needed_signs(network, evidence):
        links[name, "leak"] = network.signs[name].leak
        for mode, link in network.signs[name].causes.items():
            if mode in failed:
                links[name, mode] = link
    keys = list(links)
    for states in product(*(range(len(links[key])) for key in keys)):
        chance = float(
            np.prod([links[key][state] for key, state in zip(keys, states, strict=True)])
        )
        if chance > 0.0:
            yield dict(zip(keys, states, strict=True)), chance


def _likelihood(
    network: FaultNetwork,
    findings: tuple[Finding, ...],
    present: frozenset[str],
    activations: Activations,
) -> float:
    names = list(dict.fromkeys(name for name, _ in activations))
    seen = {
        name: network.signs[name].states[
            max(
                state
                for (sign, mode), state in activations.items()
                if sign == name and (mode == "leak" or mode in present)
            )
        ]
        for name in names
    }
    shown = shown_states(network, seen)
    result = 1.0
    for finding in findings:
        observation = network.observations[finding.observation]
        column = finding_likelihood(observation, finding.answer)
        assert observation.sign is not None
        assert column is not None
        result *= column[network.signs[observation.sign].states.index(shown[observation.sign])]
    return result
