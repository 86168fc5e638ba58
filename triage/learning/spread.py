"""The E-step on several processes or machines, by dask.distributed (extra ``cluster``).

Shards go out once; in each iteration the numbers go out and sums come back, added in the order of
the shards, so the result is the same to the last bit as in one process. A program that starts
processes must stand under ``if __name__ == "__main__"``.
"""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from typing import TYPE_CHECKING

from triage.learning.expectation import EStep, Expected, e_step, total
from triage.learning.layout import Layout
from triage.learning.parameters import Parameters
from triage.learning.patterns import Shard

if TYPE_CHECKING:
    from distributed import Client


def spread(client: "Client", layout: Layout, shards: Sequence[Shard]) -> EStep:
    """E-step over shards on the workers of a client."""
    shared = client.scatter(layout, broadcast=True, hash=False)
    sent = [client.scatter(shard, hash=False) for shard in shards]

    def step(parameters: Parameters) -> Expected:
        parts = [client.submit(e_step, shared, shard, parameters, pure=False) for shard in sent]
        return total(client.gather(parts))

    return step


@contextmanager
def local_processes(count: int) -> "Iterator[Client]":
    """Processes on this machine, one thread each (of BLAS too), without a dashboard."""
    from distributed import Client, LocalCluster

    with (
        LocalCluster(
            n_workers=count, threads_per_worker=1, processes=True, dashboard_address=None
        ) as cluster,
        Client(cluster) as client,
    ):
        yield client
