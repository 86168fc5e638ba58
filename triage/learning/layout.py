"""Which numbers meet which findings: the fixed structure that learning runs over.

A **unit** is a sign, or a cluster of signs joined by masks; given the hypothesis and the context,
units are independent. A unit sees a hypothesis only through which of its own parents failed: its
**configuration**. In contrast to inference, two parents of the same strength are not
interchangeable here, for each learns on its own.

Answers are small numbers, ``codes``, per observation: 0 not made or no evidence, then the answers
in their order, then "volunteered", then the bins of a meter reading (``RATIO_BINS``): of a reading
only the ratio of its densities inside and outside the range to accept matters.

Axes: ``H`` hypotheses, ``K`` members, ``S`` signs, ``P`` parents of a sign, ``U`` configurations of
a sign, ``O`` observations, ``F`` failure modes, ``C`` context combinations.
"""

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from triage.errors import UnknownAnswerError
from triage.inference.compiled import CompiledNetwork
from triage.inference.evidence import answers_accepted
from triage.inference.hypotheses import failed_sets
from triage.inference.masking import Cluster, clusters
from triage.network.reading import reading_likelihood
from triage.network.values import VOLUNTEERED, FaultNetwork, Observation, Reading, Sign

FloatArray = NDArray[np.float64]
IntArray = NDArray[np.int64]

RATIO_BINS = np.arange(-10.0, 10.5)  # log density ratio inside : outside, nats
MAX_FAILED = 2  # modes of a hypothesis nobody confirmed


@dataclass(frozen=True, slots=True, eq=False)
class SignLayout:
    """How one sign sees the hypotheses.

    ``parents`` (P,) mode positions. ``rows`` (U, W) are the parameter rows that act in each
    configuration: row 0 is the leak, row ``p`` parent ``p``, row ``P + 1`` pads; for a table sign
    W is 1 and rows are rows of the table. ``config`` (H,) is the configuration of each hypothesis.
    """

    position: int
    is_table: bool
    parents: IntArray
    rows: IntArray
    config: IntArray


@dataclass(frozen=True, slots=True, eq=False)
class Unit:
    """Signs that are summed together, and the observations that look at them.

    ``config`` (H,) configuration of the unit; ``sign_config`` (U, signs) that of each sign in it;
    ``looks_at`` (observations,) place of the sign of each observation; ``strides`` make one number
    of an answer pattern. ``cluster`` is None for a single sign.
    """

    signs: tuple[int, ...]
    observations: tuple[int, ...]
    looks_at: tuple[int, ...]
    config: IntArray
    sign_config: IntArray
    strides: IntArray
    patterns: int
    cluster: Cluster | None


class Layout:
    """Structure of learning on one network.

    Parameters
    ----------
    network : FaultNetwork
    max_failed : int
        Largest set of failed modes considered where nobody confirmed the cause.
    extra_sets : iterable of sets of mode ids
        Larger sets that were confirmed.
    """

    def __init__(
        self,
        network: FaultNetwork,
        *,
        max_failed: int = MAX_FAILED,
        extra_sets: Iterable[frozenset[str]] = (),
    ) -> None:
        self.network = network
        self.compiled = CompiledNetwork(network)
        self.members = self._members(max_failed, extra_sets)
        found = (self._set_of(row) for row in self.members)
        self.row_of = {modes: row for row, modes in enumerate(found)}

    def set_of(self, row: int) -> frozenset[str]:
        """Ids of the failed modes of a hypothesis."""
        ids = self.compiled.mode_ids
        return frozenset(ids[mode] for mode in self._set_of(self.members[row]))

    def row(self, modes: Iterable[str]) -> int | None:
        """Row of the hypothesis "exactly these failed", or None if it is not listed."""
        position = self.compiled.mode_position
        return self.row_of.get(frozenset(position[mode] for mode in modes))

    @cached_property
    def is_member(self) -> NDArray[np.bool_]:
        """Which failure modes each hypothesis has, shape ``(H, F)``."""
        modes = np.arange(self.compiled.mode_count)
        return np.asarray((self.members[:, :, None] == modes).any(axis=1))

    @cached_property
    def parts(self) -> FloatArray:
        """Part of each failure mode in each hypothesis, ``(H, F)``; rows sum to 1 or to 0."""
        part = self.is_member.astype(np.float64)
        return np.asarray(part / np.maximum(part.sum(axis=1, keepdims=True), 1.0))

    def combinations(self, context: str, value: str) -> NDArray[np.bool_]:
        """Which context combinations have this value of a circumstance, shape ``(C,)``."""
        compiled = self.compiled
        column = compiled.context_values[:, compiled.context_ids.index(context)]
        return np.asarray(column == list(compiled.network.contexts[context].values).index(value))

    @cached_property
    def signs(self) -> tuple[SignLayout, ...]:
        """How each sign sees the hypotheses."""
        signs = self.compiled.network.signs.values()
        return tuple(self._sign(place, sign) for place, sign in enumerate(signs))

    @cached_property
    def code_counts(self) -> tuple[int, ...]:
        """Number of codes of each observation."""
        return tuple(_code_count(entry) for entry in self.compiled.observations)

    @cached_property
    def context_observations(self) -> tuple[int, ...]:
        """Positions of the observations of contexts."""
        entries = enumerate(self.compiled.observations)
        return tuple(place for place, entry in entries if entry.context is not None)

    @cached_property
    def context_strides(self) -> IntArray:
        """What makes one number of the answers about contexts."""
        return _strides([self.code_counts[place] for place in self.context_observations])

    @cached_property
    def units(self) -> tuple[Unit, ...]:
        """Units that have observations, clusters last."""
        clustered = clusters(self.compiled)
        taken = {sign for cluster in clustered for sign in cluster.signs}
        alone = [self._unit((sign,), None) for sign in range(len(self.signs)) if sign not in taken]
        joint = [self._unit(cluster.signs, cluster) for cluster in clustered]
        return tuple(unit for unit in (*alone, *joint) if unit.observations)

    @cached_property
    def nothing_failed(self) -> NDArray[np.bool_]:
        """Shape ``(H,)``: the hypothesis is a way in which nothing failed."""
        padded = np.append(self.compiled.nothing_failed, False)
        return np.asarray(padded[self.members].any(axis=1))

    def code(self, observation: int, answer: str | float) -> int:
        """Code of an answer; 0 where it is no evidence.

        Raises
        ------
        UnknownAnswerError
            The observation has no such answer.
        """
        entry = self.compiled.observations[observation]
        answers = list(entry.answers)
        if isinstance(answer, float | int):
            if entry.reading is None:
                raise UnknownAnswerError(entry.id, str(answer), answers_accepted(entry))
            return len(answers) + 2 + ratio_bin(entry.reading, float(answer))
        if answer in answers:
            return 1 + answers.index(answer)
        if answer not in answers_accepted(entry):
            raise UnknownAnswerError(entry.id, answer, answers_accepted(entry))
        return len(answers) + 1 if answer == VOLUNTEERED and entry.volunteered else 0

    def _members(self, max_failed: int, extra_sets: Iterable[frozenset[str]]) -> IntArray:
        listed = failed_sets(self.compiled, max_failed)
        known = {self._set_of(row) for row in listed}
        position = self.compiled.mode_position
        wanted = {frozenset(position[mode] for mode in modes) for modes in extra_sets} - known
        extra = sorted(sorted(modes) for modes in wanted)
        width = max([listed.shape[1], *(len(modes) for modes in extra)])
        members = np.full((len(listed) + len(extra), width), self.compiled.mode_count)
        members[: len(listed), : listed.shape[1]] = listed
        for row, modes in enumerate(extra, start=len(listed)):
            members[row, : len(modes)] = modes
        return members

    def _set_of(self, row: IntArray) -> frozenset[int]:
        return frozenset(int(mode) for mode in row if mode < self.compiled.mode_count)

    def _sign(self, position: int, sign: Sign) -> SignLayout:
        compiled = self.compiled
        parents = np.array([compiled.mode_position[mode] for mode in sign.parents], dtype=np.int64)
        number = np.zeros(compiled.mode_count + 1, dtype=np.int64)
        number[parents] = np.arange(1, len(parents) + 1)
        seen = -np.sort(-number[self.members], axis=1)  # (H, K), parents first
        base = len(parents) + 1
        keys = seen @ base ** np.arange(seen.shape[1], dtype=np.int64)
        _, first, config = np.unique(keys, return_index=True, return_inverse=True)
        acting = np.where(seen[first] == 0, len(parents) + 1, seen[first])  # (U, K)
        leak = np.zeros((len(first), 1), dtype=np.int64)
        if not sign.rows:
            return SignLayout(position, False, parents, np.hstack([leak, acting]), config.ravel())
        chosen = self._table_rows(sign, self.members[first])
        rows, merged = np.unique(chosen, return_inverse=True)
        return SignLayout(position, True, parents, rows[:, None], merged.ravel()[config.ravel()])

    def _table_rows(self, sign: Sign, members: IntArray) -> IntArray:
        """First row of the decision list that matches each set."""
        chosen = np.full(len(members), -1, dtype=np.int64)
        for row, entry in enumerate(sign.rows):
            matches = chosen < 0
            for mode in entry.when:
                matches &= (members == self.compiled.mode_position[mode]).any(axis=1)
            chosen[matches] = row
        return chosen

    def _unit(self, signs: tuple[int, ...], cluster: Cluster | None) -> Unit:
        looked = [
            (observation, place)
            for place, sign in enumerate(signs)
            for observation in self.compiled.observations_of_sign[sign]
        ]
        observations = tuple(observation for observation, _ in looked)
        counts = [self.code_counts[observation] for observation in observations]
        configs = np.column_stack([self.signs[sign].config for sign in signs])  # (H, signs)
        sign_config, config = np.unique(configs, axis=0, return_inverse=True)
        return Unit(
            signs=signs,
            observations=observations,
            looks_at=tuple(place for _, place in looked),
            config=np.asarray(config, dtype=np.int64).ravel(),
            sign_config=sign_config,
            strides=_strides(counts),
            patterns=math.prod(counts),
            cluster=cluster,
        )


def ratio_bin(reading: Reading, value: float) -> int:
    """Bin of the log ratio of the densities of a reading, true value inside against outside."""
    sides = replace(reading, inside={"inside": 1.0, "outside": 0.0})
    inside, outside = reading_likelihood(sides, value)
    if inside <= 0.0 or outside <= 0.0:
        return 0 if inside <= 0.0 else len(RATIO_BINS) - 1
    ratio = math.log(inside / outside)
    return int(np.argmin(np.abs(RATIO_BINS - ratio)))


def _code_count(observation: Observation) -> int:
    bins = 0 if observation.reading is None else len(RATIO_BINS)
    return len(observation.answers) + 2 + bins


def _strides(counts: Sequence[int]) -> IntArray:
    strides, size = [], 1
    for count in counts:
        strides.append(size)
        size *= count
    return np.array(strides, dtype=np.int64)
