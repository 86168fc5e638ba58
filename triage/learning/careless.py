"""Callers who answer without looking: one share for all questions of a channel.

    P(answer | state) = (1 - c) looked(answer | state) + c unlooked(answer)

``looked`` is the table of one question, learned around the network's; ``unlooked`` is what people
say who do not know the state: the mean of the network's rows over the states; ``c`` is one share
for all questions of a channel, since the same people answer them all. Whether somebody looked is
hidden, so this is a mixture, and tables and share climb together by EM [DempsterLairdRubin1977]_
on the expected answers of the E-step.

One share learned from every answer says what hundreds of single tables would each have to learn.

Axes: ``R`` rows, each a state of a question, ``A`` answers, padded.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.learning.intervals import beta_interval
from triage.network.values import Channel

FloatArray = NDArray[np.float64]

CHANNELS = (Channel.CALLER, Channel.GUIDED_CHECK)  # somebody answers who may not have looked
ROUNDS_MAX = 200
SMALL = 1e-9  # a smaller change of the share ends the rounds


@dataclass(frozen=True, slots=True)
class CarelessShare:
    """What jobs tell of a channel: the share of careless answers, its 90 % interval and worth.

    ``answers`` is the number of answers, ``worth`` the number of answers known to be careless or
    not that would tell as much, the belief's own among them.
    """

    channel: Channel
    before: float
    after: float
    low: float
    high: float
    answers: float
    worth: float


def unlooked(table: FloatArray) -> FloatArray:
    """What is answered by who does not know the state, ``(A,)``, from a table ``(V, A)``."""
    return np.asarray(table.mean(axis=0))


def mixed(looked: FloatArray, stated: FloatArray, share: float) -> FloatArray:
    """Table of a question ``(V, A)``, of which a share is answered without looking."""
    return np.asarray((1.0 - share) * looked + share * unlooked(stated))


def unmixed(table: FloatArray, stated: FloatArray, share: float) -> FloatArray:
    """The inverse of ``mixed``: the table of those who looked."""
    return np.maximum((table - share * unlooked(stated)) / (1.0 - share), 0.0)


@dataclass(slots=True, eq=False)
class Mixture:
    """The questions of one channel, their tables and the share of careless answers.

    ``stated`` and ``looked`` tables (V, A) of each question, ``jobs`` (V,) what the stated rows are
    worth; ``pseudo`` (2,) believed numbers of careless answers and of others.
    """

    stated: Sequence[FloatArray]
    looked: Sequence[FloatArray]
    jobs: Sequence[FloatArray]
    pseudo: FloatArray
    share: float

    def climb(self, counts: Sequence[FloatArray]) -> None:
        """Tables and share that make expected answers (V, A) of each question most probable."""
        stated, looked, count = (_stacked(rows) for rows in (self.stated, self.looked, counts))
        blank = self._blank()
        jobs = np.concatenate(self.jobs)[:, None]
        answers = self.pseudo.sum() + count.sum()
        for _ in range(ROUNDS_MAX):
            careless = count * _careless_part(looked, blank, self.share)
            rest = count - careless
            looked = (jobs * stated + rest) / (jobs + rest.sum(axis=1, keepdims=True))
            before, self.share = self.share, (self.pseudo[0] + careless.sum()) / answers
            if abs(self.share - before) < SMALL:
                break
        ends = np.cumsum([len(rows) for rows in self.stated])[:-1]
        self.looked = [
            rows[:, : before.shape[1]]
            for rows, before in zip(np.split(looked, ends), self.stated, strict=True)
        ]

    @property
    def tables(self) -> list[FloatArray]:
        """P(answer | state) of each question, whoever answers."""
        pairs = zip(self.looked, self.stated, strict=True)
        return [mixed(looked, stated, self.share) for looked, stated in pairs]

    def told(self, channel: Channel, counts: Sequence[FloatArray], before: float) -> CarelessShare:
        """What expected answers tell of a share that was believed to be ``before``.

        An answer of which it is hidden whether it is careless, with chance ``z``, tells less than
        one of which it is known, by ``z (1 - z)`` of ``c (1 - c)`` [Louis1982]_.
        """
        looked, count = _stacked(self.looked), _stacked(counts)
        chance = _careless_part(looked, self._blank(), self.share)
        spread = self.share * (1.0 - self.share)
        missing = float((count * chance * (1.0 - chance)).sum()) / spread
        answers, believed = float(count.sum()), float(self.pseudo.sum())
        worth = believed + max(0.0, answers - missing)
        low, high = beta_interval(worth * self.share, worth * (1.0 - self.share))
        return CarelessShare(
            channel=channel,
            before=before,
            after=float(self.share),
            low=low,
            high=high,
            answers=answers,
            worth=worth,
        )

    def _blank(self) -> FloatArray:
        """What is answered without looking, in each row, ``(R, A)``."""
        return _stacked([np.broadcast_to(unlooked(rows), rows.shape) for rows in self.stated])


def log_prior_of_share(share: float, pseudo: FloatArray) -> float:
    """Log density of a share, up to a constant."""
    return float(pseudo @ np.log([share, 1.0 - share]))


def _careless_part(looked: FloatArray, blank: FloatArray, share: float) -> FloatArray:
    """P(careless | answer, state), shape ``(R, A)``."""
    careless = share * blank
    total = careless + (1.0 - share) * looked
    return np.divide(careless, total, out=np.zeros_like(total), where=total > 0.0)


def _stacked(tables: Sequence[FloatArray]) -> FloatArray:
    """Rows of all tables one below the other, padded with zeros to the longest."""
    width = max(rows.shape[1] for rows in tables)
    return np.concatenate([np.pad(rows, ((0, 0), (0, width - rows.shape[1]))) for rows in tables])
