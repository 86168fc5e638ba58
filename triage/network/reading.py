"""What a meter reading says about the state of a sign.

The true value x lies in the range to accept with probability ``inside[state]`` and is uniform
there; otherwise it is uniform in the rest of the meter's span. The meter shows y = x + N(0, sd).
Integrals of the normal distribution function Phi are closed: the integral of Phi(z) is
G(z) = z Phi(z) + phi(z).
"""

import math

from triage.network.values import Reading

Interval = tuple[float, float]


def answer_likelihood(reading: Reading) -> tuple[tuple[float, float], ...]:
    """Probability that the meter shows a value inside and outside the range to accept.

    Parameters
    ----------
    reading : Reading
        ``V`` states in ``inside``; the span is wider than the range to accept.

    Returns
    -------
    tuple of tuple of float
        Shape ``(V, 2)``: inside, outside; rows sum to 1. A value shown beyond the span counts as
        outside.
    """
    accept = reading.accept
    if_inside = _shown_within(accept, (accept,), reading.sd)
    if_outside = _shown_within(accept, _rest(reading), reading.sd)
    shown = (p * if_inside + (1 - p) * if_outside for p in reading.inside.values())
    return tuple((inside, 1 - inside) for inside in shown)


def reading_likelihood(reading: Reading, value: float) -> tuple[float, ...]:
    """Density of the value shown, for each state.

    Parameters
    ----------
    reading : Reading
        ``V`` states in ``inside``.
    value : float
        What the meter shows, in ``reading.unit``. A value beyond an end of the span (overload, open
        circuit) is taken as the value at that end.

    Returns
    -------
    tuple of float
        Shape ``(V,)``, per unit of the reading, in the order of ``reading.inside``.
    """
    low, high = reading.span
    shown = min(max(value, low), high)
    if_inside = _density(shown, (reading.accept,), reading.sd)
    if_outside = _density(shown, _rest(reading), reading.sd)
    return tuple(p * if_inside + (1 - p) * if_outside for p in reading.inside.values())


def _rest(reading: Reading) -> tuple[Interval, ...]:
    """Span without the range to accept."""
    (low, high), (first, last) = reading.accept, reading.span
    return tuple(part for part in ((first, low), (high, last)) if part[0] < part[1])


def _shown_within(shown: Interval, true: tuple[Interval, ...], sd: float) -> float:
    """P(y in ``shown`` | x uniform in ``true``)."""
    low, high = shown
    total = math.fsum(
        sd * sign * (_phi_integral((end - a) / sd) - _phi_integral((end - b) / sd))
        for a, b in true
        for end, sign in ((high, 1), (low, -1))
    )
    return total / _width(true)


def _density(value: float, true: tuple[Interval, ...], sd: float) -> float:
    """Density of y at ``value``, x uniform in ``true``."""
    return math.fsum(_phi_between((value - b) / sd, (value - a) / sd) for a, b in true) / _width(
        true
    )


def _width(parts: tuple[Interval, ...]) -> float:
    return math.fsum(high - low for low, high in parts)


def _phi(z: float) -> float:
    """Phi(z); ``erfc`` keeps the digits of the lower tail."""
    return math.erfc(-z / math.sqrt(2)) / 2


def _phi_between(low: float, high: float) -> float:
    """Phi(high) - Phi(low), from the tail in which both are small."""
    return _phi(-low) - _phi(-high) if low > 0 else _phi(high) - _phi(low)


def _phi_integral(z: float) -> float:
    """G(z), the integral of Phi from minus infinity to z."""
    return z * _phi(z) + math.exp(-z * z / 2) / math.sqrt(2 * math.pi)
