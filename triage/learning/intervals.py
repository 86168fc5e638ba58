"""90 % intervals of learned figures, from what they are worth."""

TAIL = 0.05  # on each side


def beta_interval(hits: float, misses: float) -> tuple[float, float]:
    """90 % interval of a Beta distribution, widened to its mean where that lies outside."""
    from scipy.special import betaincinv

    hits, misses = max(hits, 1e-9), max(misses, 1e-9)
    mean = hits / (hits + misses)
    low, high = (float(betaincinv(hits, misses, level)) for level in (TAIL, 1.0 - TAIL))
    return min(low, mean), max(high, mean)


def gamma_interval(mean: float, shape: float) -> tuple[float, float]:
    """90 % interval of a Gamma distribution."""
    from scipy.special import gammaincinv

    low, high = (mean * float(gammaincinv(shape, level)) / shape for level in (TAIL, 1.0 - TAIL))
    return low, high
