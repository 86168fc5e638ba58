r"""Why the ranking is what it is: weight of evidence and conflict.

**Weight of evidence** [Good1950]_ of a finding for a cause, in decibans,

.. math:: W = 10 \log_{10} \frac{O(\text{cause} \mid e, \text{finding})}{O(\text{cause} \mid e)}

is given twice: in the order entered (these add up to the whole change of the odds) and left out of
all the others. With several possible failures the two differ, and neither is additive by itself.

**Conflict** [JensenEtAl1991]_ of the findings, in bits,

.. math:: \log_2 \frac{\prod_i P(e_i)}{P(e)}

is negative when findings support each other; a large positive value says they hardly go together:
a misheard answer, two machines in one call, a failure the network does not know.
"""

from dataclasses import dataclass

import numpy as np

from triage.inference.engine import Engine
from triage.inference.evidence import Evidence, Finding

NATS_PER_BIT = float(np.log(2.0))


@dataclass(frozen=True, slots=True)
class FindingWeight:
    """Weight of one finding for one cause: ``decibans`` in order, ``alone_decibans`` left out."""

    finding: Finding
    mode: str
    decibans: float
    alone_decibans: float


@dataclass(frozen=True, slots=True)
class Conflict:
    """Conflict measure; ``least_likely`` is the finding that goes least with the others."""

    bits: float
    threshold_bits: float
    least_likely: Finding | None

    @property
    def is_suspicious(self) -> bool:
        """Whether the conflict exceeds what calls drawn from the network itself show."""
        return self.bits > self.threshold_bits


@dataclass(frozen=True, slots=True)
class OddsShift:
    """What a finding did to one cause: probabilities before and after."""

    mode: str
    before: float
    after: float


def decibans(odds_ratio: float) -> float:
    """Ten times the decimal logarithm of a ratio of odds."""
    return 10.0 * float(np.log10(odds_ratio))


def weights_of_evidence(engine: Engine, evidence: Evidence, mode: str) -> tuple[FindingWeight, ...]:
    """Weight of every live finding for a cause, in the order entered.

    Parameters
    ----------
    engine : Engine
    evidence : Evidence
        ``n`` live findings; ``2 n`` posteriors are computed.
    mode : str
        Failure mode.

    Returns
    -------
    tuple of FindingWeight
        Findings of the present epoch that carry evidence.

    Raises
    ------
    UnknownModeError
    """
    engine.compiled.index.mode(mode)
    live = evidence.epochs()[-1][0]
    earlier = tuple(event for event in evidence.events if event not in live)
    whole = _odds(engine, evidence, mode)
    weights = []
    before = _odds(engine, Evidence(earlier), mode)
    for place, finding in enumerate(live):
        after = _odds(engine, Evidence((*earlier, *live[: place + 1])), mode)
        alone = _odds(engine, evidence.without(finding), mode)
        weights.append(
            FindingWeight(finding, mode, decibans(after / before), decibans(whole / alone))
        )
        before = after
    return tuple(weights)


def conflict(engine: Engine, evidence: Evidence) -> Conflict:
    """Conflict between the live findings made before any repair.

    Returns
    -------
    Conflict
        ``least_likely`` is named only when the threshold of the network is exceeded.
    """
    findings = evidence.epochs()[0][0]
    threshold = engine.network.conflict_threshold_bits
    if len(findings) < 2:
        return Conflict(0.0, threshold, None)
    single = [_log_probability(engine, (finding,)) for finding in findings]
    together = _log_probability(engine, findings)
    bits = (sum(single) - together) / NATS_PER_BIT
    if bits <= threshold:
        return Conflict(bits, threshold, None)
    strain = []
    for place, finding in enumerate(findings):
        others = findings[:place] + findings[place + 1 :]
        given_others = together - _log_probability(engine, others)
        strain.append((single[place] - given_others, -place, finding))
    return Conflict(bits, threshold, max(strain, key=lambda entry: entry[:2])[2])


def odds_shifts(engine: Engine, before: Evidence, after: Evidence) -> tuple[OddsShift, ...]:
    """What changed between two bodies of evidence, largest change first.

    When one cause rises because it was seen, the others fall without having been looked at: the
    list shows what it took from them ("explaining away").
    """
    old = engine.belief(before).mode_probabilities
    new = engine.belief(after).mode_probabilities
    order = np.argsort(-np.abs(new - old), kind="stable")
    ids = engine.compiled.mode_ids
    return tuple(OddsShift(ids[k], float(old[k]), float(new[k])) for k in order)


def _odds(engine: Engine, evidence: Evidence, mode: str) -> float:
    place = engine.compiled.mode_position[mode]
    probability = float(engine.belief(evidence).mode_probabilities[place])
    return probability / (1.0 - probability)


def _log_probability(engine: Engine, findings: tuple[Finding, ...]) -> float:
    """log P(findings), nats, relative to the standing table."""
    nothing = engine.log_evidence(Evidence())
    return engine.log_evidence(Evidence(findings)) - nothing
