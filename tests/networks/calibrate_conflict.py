"""Threshold of the conflict measure, by simulation.

``python -m tests.networks.calibrate_conflict`` draws calls from each shipped network itself and
prints the conflict that one call in a hundred exceeds although the network is right. That is the
value of ``conflict_threshold_bits`` in the network file, rounded to a tenth of a bit. Takes about
two and a half minutes a network.
"""

import argparse

import numpy as np

from tests.networks.simulate import CallSimulator
from triage.inference.engine import Engine
from triage.inference.explanation import conflict
from triage.network.catalogue import load_network, network_names

CALLS = 10_000
SEED = 20260101
QUANTILE = 0.99


def simulated_conflicts(
    simulator: CallSimulator, rng: np.random.Generator, calls: int, machines_count: int = 1
) -> np.ndarray:
    """Conflict of simulated calls, bits, shape ``(calls,)``."""
    engine = simulator.engine
    return np.array(
        [conflict(engine, simulator.call(rng, machines_count)).bits for _ in range(calls)]
    )


def main() -> None:
    """Print the threshold of each network named, or of all that are shipped."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("networks", nargs="*", default=network_names())
    parser.add_argument("--calls", type=int, default=CALLS)
    parser.add_argument("--seed", type=int, default=SEED)
    chosen = parser.parse_args()
    for name in chosen.networks:
        simulator = CallSimulator(Engine(load_network(name)))
        bits = np.sort(
            simulated_conflicts(simulator, np.random.default_rng(chosen.seed), chosen.calls)
        )
        stated = simulator.network.conflict_threshold_bits
        exceeded = float((bits > stated).mean())
        quantiles = np.quantile(bits, [0.5, 0.9, 0.95, QUANTILE, 0.999])
        print(f"{name}: {chosen.calls} calls, seed {chosen.seed}")
        print("  quantiles 50, 90, 95, 99, 99.9 percent, bits:", *np.round(quantiles, 3))
        print(
            f"  threshold {quantiles[3]:.1f}; the file states {stated}, exceeded by {exceeded:.2%}"
        )


if __name__ == "__main__":
    main()
