"""Random small troubleshooting problems, to measure policies against the proved optimum.

The recipe: prior of the faults exponential and normalised; repairs cost 20 to 200, a check run of 5
with each; tests cost 3 to 30; giving up costs 200 to 500; each test covers each fault with
probability 0.4, sees it with 0.80 to 0.98, and raises a false alarm with 0.02 to 0.10. With several
faults they are independent, priors adding up to 0.25, given one to ``faults_max``. All numbers are
invented for measuring.
"""

from itertools import combinations

import numpy as np

from triage.planning.problem.arrays import SOLVED, TroubleshootingProblem

COVERED = 0.4
PRIOR_SUM = 0.25
CHECK_RUN_COST = 5.0


def random_problem(
    rng: np.random.Generator, *, repairs: int, tests: int, faults_max: int
) -> TroubleshootingProblem:
    """Problem with one fault per repair and up to ``faults_max`` faults at once."""
    sets = [
        chosen for size in range(1, faults_max + 1) for chosen in combinations(range(repairs), size)
    ]
    place = {chosen: row for row, chosen in enumerate(sets)}
    prior = rng.exponential(size=repairs)
    prior = prior / prior.sum() * (1.0 if faults_max == 1 else PRIOR_SUM)
    odds = prior if faults_max == 1 else prior / (1.0 - prior)
    weights = np.array([np.prod(odds[list(chosen)]) for chosen in sets])
    needs = np.full((len(sets), faults_max), repairs)
    after = np.empty((repairs, len(sets)), dtype=np.int64)
    for row, chosen in enumerate(sets):
        needs[row, : len(chosen)] = chosen
        for repair in range(repairs):
            left = tuple(fault for fault in chosen if fault != repair)
            after[repair, row] = place[left] if left else SOLVED
    covers = rng.random((tests, repairs)) < COVERED
    sees = np.where(covers, rng.uniform(0.80, 0.98, (tests, repairs)), 0.0)
    alarm = rng.uniform(0.02, 0.10, tests)
    silent = np.array(
        [[(1 - alarm[t]) * np.prod(1 - sees[t, list(s)]) for s in sets] for t in range(tests)]
    )  # (T, R)
    return TroubleshootingProblem(
        weights=weights / weights.sum(),
        needs=needs[:, :, None],
        after=after,
        repair_cost=rng.uniform(20.0, 200.0, repairs) + CHECK_RUN_COST,
        test_cost=rng.uniform(3.0, 30.0, tests),
        sign_of_test=np.arange(tests),
        local=np.stack([silent, 1.0 - silent], axis=2),
        answers=np.broadcast_to(np.eye(2), (tests, 2, 2)).copy(),
        stop_cost=float(rng.uniform(200.0, 500.0)),
    )
