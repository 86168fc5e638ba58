"""A network whose check run after a repair is never wrong.

The planner counts a repair as done when the machine works, and so does the simulator: it ends a job
when nothing is left to put right. For the beliefs to be right, the check that tells so must be in
the network. Its sign shows exactly while something is left.
"""

from dataclasses import replace

from triage.network.values import (
    Channel,
    FaultNetwork,
    Grade,
    NetworkIndex,
    Observation,
    Provenance,
    Sign,
)

CHECK = "simulated_check"
WORKS, STILL_FAILS = "works", "still_fails"
PROVENANCE = Provenance(
    source="simulation", grade=Grade.JUDGED, equivalent_sample_size=1.0
)  # certain by definition


def with_perfect_check(network: FaultNetwork) -> FaultNetwork:
    """The network with a check that is never wrong in the place of its verification run."""
    sign = Sign(
        id=CHECK,
        title="the machine still fails",
        states=("no", "yes"),
        leak=(1.0, 0.0),
        causes=dict.fromkeys(NetworkIndex(network).modes, (0.0, 1.0)),
        provenance=PROVENANCE,
    )
    check = Observation(
        id=CHECK,
        sign=CHECK,
        channel=Channel.ON_SITE_TEST,
        title="Check run",
        wording="Run the machine and see whether it works.",
        answers={WORKS: "Works", STILL_FAILS: "Still fails"},
        likelihood=((1.0, 0.0), (0.0, 1.0)),
        minutes=1.0,  # counted with the repair
        provenance=PROVENANCE,
    )
    kept = {
        name: entry for name, entry in network.observations.items() if name != network.verification
    }
    return replace(
        network,
        signs={**network.signs, CHECK: sign},
        observations={**kept, CHECK: check},
        verification=CHECK,
    )
