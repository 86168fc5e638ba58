"""Slow and obvious: posterior and gain by enumerating failed modes and sign states.

Nothing here is shared with the engine but the solved base odds.
"""

from itertools import combinations, product

import numpy as np

from triage.inference.compiled import CompiledNetwork
from triage.inference.evidence import Evidence, Finding, RepairDone, finding_likelihood
from triage.inference.prior import Prior
from triage.network.values import Combination, FaultNetwork


def all_sets(compiled: CompiledNetwork, max_failed: int | None = None) -> list[frozenset[int]]:
    """Every hypothesis, up to ``max_failed`` failed modes."""
    free = [mode for mode in range(compiled.mode_count) if not compiled.is_exclusive[mode]]
    sets = [frozenset({mode}) for mode in range(compiled.mode_count) if compiled.is_exclusive[mode]]
    for size in range(1, (max_failed or len(free)) + 1):
        for chosen in combinations(free, size):
            if len({compiled.component_of_mode[mode] for mode in chosen}) == size:
                sets.append(frozenset(chosen))
    return sets


def prior_joint(compiled: CompiledNetwork, prior: Prior, failed: frozenset[int]) -> np.ndarray:
    """P(context combination, set), shape (C,)."""
    weight = prior.context / prior.normaliser
    for mode in failed:
        weight = weight * prior.odds[:, mode]
    for first, second, factor in prior.pairs:
        if first in failed and second in failed:
            weight = weight * factor
    return weight


def state_distribution(network: FaultNetwork, sign_id: str, failed_ids: set[str]) -> np.ndarray:
    """P(state | failed modes), by explicit maximum over independent activations."""
    sign = network.signs[sign_id]
    if sign.combination is Combination.TABLE:
        row = next(row for row in sign.rows if set(row.when) <= failed_ids)
        return np.array(row.then)
    result = np.zeros(len(sign.states))
    active = [sign.leak, *(link for mode, link in sign.causes.items() if mode in failed_ids)]
    for states in product(range(len(sign.states)), repeat=len(active)):
        result[max(states)] += np.prod(
            [link[state] for link, state in zip(active, states, strict=True)]
        )
    return result


def shown_states(network: FaultNetwork, seen: dict[str, str]) -> dict[str, str]:
    """What each sign shows, masks applied."""
    shown: dict[str, str] = {}
    while len(shown) < len(seen):
        for sign_id, state in seen.items():
            masks = network.signs[sign_id].masks
            if sign_id in shown or any(mask.masker not in shown for mask in masks):
                continue
            acting = [mask.shows for mask in masks if shown[mask.masker] in mask.states]
            shown[sign_id] = acting[0] if acting else state
    return shown


def _probability_of_findings(
    network: FaultNetwork, failed_ids: set[str], findings: tuple[Finding, ...]
) -> float:
    """P(findings on signs | failed modes), by enumerating every joint state of the signs needed."""
    needed: list[str] = []
    stack = [network.observations[finding.observation].sign for finding in findings]
    while stack:
        sign_id = stack.pop()
        if sign_id is not None and sign_id not in needed:
            needed.append(sign_id)
            stack.extend(mask.masker for mask in network.signs[sign_id].masks)
    distributions = {name: state_distribution(network, name, failed_ids) for name in needed}
    total = 0.0
    for states in product(*(network.signs[name].states for name in needed)):
        seen = dict(zip(needed, states, strict=True))
        weight = np.prod(
            [distributions[n][network.signs[n].states.index(s)] for n, s in seen.items()]
        )
        if weight == 0.0:
            continue
        shown = shown_states(network, seen)
        for finding in findings:
            observation = network.observations[finding.observation]
            column = finding_likelihood(observation, finding.answer)
            if observation.sign is not None and column is not None:
                position = network.signs[observation.sign].states.index(shown[observation.sign])
                weight *= column[position]
        total += weight
    return float(total)


def joint_table(
    compiled: CompiledNetwork, prior: Prior, evidence: Evidence, max_failed: int | None = None
) -> dict[frozenset[int], float]:
    """P(set, evidence) for every set; one epoch only."""
    network = compiled.network
    assert not any(isinstance(event, RepairDone) for event in evidence.events)
    findings = evidence.epochs()[0][0]
    context_weight = np.ones(len(prior.context))
    for finding in findings:
        observation = network.observations[finding.observation]
        column = finding_likelihood(observation, finding.answer)
        if observation.context is not None and column is not None:
            place = list(network.contexts).index(observation.context)
            context_weight = context_weight * column[compiled.context_values[:, place]]
    return {
        failed: float(context_weight @ prior_joint(compiled, prior, failed))
        * _probability_of_findings(network, {compiled.mode_ids[m] for m in failed}, findings)
        for failed in all_sets(compiled, max_failed)
    }


def information_gain(
    compiled: CompiledNetwork,
    prior: Prior,
    evidence: Evidence,
    observation: str,
    max_failed: int | None = None,
) -> float:
    """Mutual information of hypothesis and answer in bits, from joint tables."""
    tables = []
    for answer in compiled.network.observations[observation].answers:
        asked = evidence.adding(Finding(observation, answer, by="second look"))
        tables.append(list(joint_table(compiled, prior, asked, max_failed).values()))
    joint = np.array(tables)
    joint = joint / joint.sum()
    outer = joint.sum(axis=1, keepdims=True) * joint.sum(axis=0, keepdims=True)
    used = joint > 0
    return float((joint[used] * np.log2(joint[used] / outer[used])).sum())
