"""A proposed version of a network: what would change, by how much, and what stands behind it.

Each number that jobs speak about is one **change**, with a key, the figure before and after, a 90 %
interval and the jobs behind it. The owner may apply all changes or some; a version never changes
once it is made.

Keys are ``share:MODE``, ``multiplier:MODE:CONTEXT:VALUE``, ``context:CONTEXT``, ``leak:SIGN``,
``link:SIGN:MODE``, ``row:SIGN:NUMBER``, ``channel:OBSERVATION:STATE`` and ``minutes:ID``.
"""

from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, field, replace
from datetime import date
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.errors import UnknownChangeError
from triage.learning.careless import CarelessShare
from triage.learning.changes import Change, changes_of
from triage.learning.estimation import Held, Learned
from triage.learning.minutes import MinutesEstimate
from triage.learning.parameters import Parameters, network_with, normalised, parameters_of
from triage.network.values import FaultNetwork, Grade, Provenance

FloatArray = NDArray[np.float64]

SOURCE = "own_closed_jobs"


@dataclass(frozen=True)
class ProposedVersion:
    """What closed jobs propose for a network.

    ``base`` is the network from before any job; ``current_version`` is the version in use, so the
    proposal has the next number. ``changes`` are the rows of the difference table, ``held`` what
    no job can change; ``careless`` the shares of careless answers, which the rows of the questions
    have in them.
    """

    base: FaultNetwork
    current_version: int
    learned: Parameters
    changes: tuple[Change, ...]
    held: tuple[Held, ...]
    jobs: int
    first_day: date
    last_day: date
    left_out: Mapping[str, int] = field(default_factory=dict)
    careless: tuple[CarelessShare, ...] = ()

    @property
    def source(self) -> str:
        """Where the new numbers come from, as provenance says it."""
        lent = ", and jobs of other kinds" if any(c.borrowed for c in self.changes) else ""
        return f"own closed jobs, {self.first_day}..{self.last_day}, {self.jobs} jobs{lent}"

    @cached_property
    def network(self) -> FaultNetwork:
        """The version with every change."""
        return self.applied([change.key for change in self.changes])

    def applied(self, keys: Collection[str]) -> FaultNetwork:
        """The version with some of the changes.

        Shares sum to 1: those without an approved change share out what the others leave, in
        their old proportions.

        Raises
        ------
        UnknownChangeError
            A key is not one of ``changes``.
        """
        by_key = {change.key: change for change in self.changes}
        for key in keys:
            if key not in by_key:
                raise UnknownChangeError(key, list(by_key))
        chosen = [change for change in self.changes if change.key in keys]
        network = network_with(self.base, _with_changes(self.base, chosen))
        network = _with_minutes(network, chosen)
        return _with_provenance(network, chosen, self.source, self.current_version + 1)


def propose(
    learned: Learned,
    minutes: Sequence[MinutesEstimate],
    days: tuple[date, date],
    current_version: int | None = None,
) -> ProposedVersion:
    """Proposed version from what was learned.

    Parameters
    ----------
    learned : Learned
    minutes : sequence of MinutesEstimate
        Of ``learned_minutes``.
    days : tuple of date
        First and last day of closing of the jobs.
    current_version : int, optional
        Version in use, if it is not that of the starting network.
    """
    network = learned.layout.network
    return ProposedVersion(
        base=network,
        current_version=network.version if current_version is None else current_version,
        learned=learned.parameters,
        changes=changes_of(learned, minutes),
        held=learned.held,
        jobs=learned.jobs,
        first_day=days[0],
        last_day=days[1],
        left_out=dict(learned.left_out),
        careless=learned.careless,
    )


def _with_changes(base: FaultNetwork, chosen: Sequence[Change]) -> Parameters:
    start = parameters_of(base)
    shares = start.shares.copy()
    contexts, links, channels = list(start.contexts), list(start.links), list(start.channels)
    multipliers = dict(start.multipliers)
    approved = []
    for change in chosen:
        place, row = change.place
        if change.kind == "share":
            shares[place] = change.after
            approved.append(place)
        elif change.kind == "multiplier":
            _, mode, context, value = change.key.split(":")
            multipliers[mode, context, value] = change.after
        elif change.kind == "context":
            contexts[place] = normalised(np.array(change.values))
        elif change.kind in ("leak", "link", "row"):
            links[place] = _with_row(links[place], row, change)
        elif change.kind == "channel":
            channels[place] = _with_row(channels[place], row, change)
    rest = [place for place in range(len(shares)) if place not in approved]
    if approved and rest:
        shares[rest] *= (1.0 - shares[approved].sum()) / shares[rest].sum()
    return Parameters(shares, multipliers, tuple(contexts), tuple(links), tuple(channels))


def _with_row(rows: FloatArray, row: int, change: Change) -> FloatArray:
    result = rows.copy()
    result[row] = change.values
    return result


def _with_minutes(network: FaultNetwork, chosen: Sequence[Change]) -> FaultNetwork:
    minutes = {c.key.removeprefix("minutes:"): c.after for c in chosen if c.kind == "minutes"}
    return replace(
        network,
        observations={
            name: replace(entry, minutes=minutes.get(name, entry.minutes))
            for name, entry in network.observations.items()
        },
        repairs={
            name: replace(entry, minutes=minutes.get(name, entry.minutes))
            for name, entry in network.repairs.items()
        },
    )


def _with_provenance(
    network: FaultNetwork, chosen: Sequence[Change], source: str, version: int
) -> FaultNetwork:
    """The network with its next version, and the new source on whatever has a changed number."""
    if not chosen:
        return replace(network, version=version)
    own = Provenance(source=SOURCE, grade=Grade.MEASURED)
    parts = [change.key.split(":") for change in chosen]
    modes = {part[1] for part in parts if part[0] in ("share", "multiplier")}
    contexts = {part[1] for part in parts if part[0] == "context"}
    signs = {part[1] for part in parts if part[0] in ("leak", "link", "row")}
    looks = {part[1] for part in parts if part[0] in ("channel", "minutes")}
    return replace(
        network,
        version=version,
        sources={**network.sources, SOURCE: source},
        contexts={
            name: replace(entry, provenance=own if name in contexts else entry.provenance)
            for name, entry in network.contexts.items()
        },
        components={
            name: replace(
                entry,
                modes=tuple(
                    replace(mode, provenance=own if mode.id in modes else mode.provenance)
                    for mode in entry.modes
                ),
            )
            for name, entry in network.components.items()
        },
        signs={
            name: replace(entry, provenance=own if name in signs else entry.provenance)
            for name, entry in network.signs.items()
        },
        observations={
            name: replace(entry, provenance=own if name in looks else entry.provenance)
            for name, entry in network.observations.items()
        },
        repairs={
            name: replace(entry, provenance=own if name in looks else entry.provenance)
            for name, entry in network.repairs.items()
        },
    )
