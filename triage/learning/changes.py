"""Rows of the difference table: each number that jobs speak about, before and after.

The figure of a distribution over states is P(not the first, normal state); that of a channel row is
P(the answer that was most probable before). The 90 % interval is that of the Beta (for multipliers
Gamma, for minutes Student) distribution with the weight that ``information`` finds for the figure:
the prior's and the jobs', less what these leave open about hidden states and uncertain causes.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from triage.learning.estimation import Learned
from triage.learning.information import Worth, worth_of
from triage.learning.intervals import beta_interval, gamma_interval
from triage.learning.minutes import MinutesEstimate
from triage.learning.parameters import parameters_of
from triage.learning.uncertain import counted_cases
from triage.network.values import Sign

FloatArray = NDArray[np.float64]

JOBS_BEHIND_MIN = 1e-9  # rounding; a number that no job speaks about is not listed
THIN_JOBS = 10.0  # fewer than these behind a change call for a warning


@dataclass(frozen=True, slots=True, kw_only=True)
class Change:
    """One row of the difference table.

    ``place`` are positions in ``Parameters``; ``values`` the whole distribution after the change.
    ``jobs`` is the (expected) number of the kind's own jobs behind it, ``borrowed`` what jobs of
    other kinds lend, ``prior_jobs`` what the figure before is worth beside them; ``is_thin`` warns
    of fewer than ``THIN_JOBS`` own and borrowed. ``is_common`` marks a question that is held, so
    that only the share of careless answers moves it, as it does all the others.
    """

    key: str
    kind: str
    title: str
    before: float
    after: float
    low: float
    high: float
    jobs: float
    prior_jobs: float
    why: str
    borrowed: float = 0.0
    is_common: bool = False
    values: tuple[float, ...] = ()
    place: tuple[int, int] = (0, 0)

    @property
    def is_thin(self) -> bool:
        """Whether few jobs stand behind the change."""
        return self.jobs + self.borrowed < THIN_JOBS


def changes_of(learned: Learned, minutes: Sequence[MinutesEstimate]) -> tuple[Change, ...]:
    """Every number that any job speaks about, in the order of the network."""
    worth = worth_of(learned)
    found = [
        *_shares(learned, worth),
        *_multipliers(learned, worth),
        *_contexts(learned, worth),
        *_signs(learned, worth),
        *_channels(learned, worth),
        *(_minutes(learned, entry) for entry in minutes),
    ]
    return tuple(c for c in found if c.jobs + c.borrowed >= JOBS_BEHIND_MIN)


def _shares(learned: Learned, worth: Worth) -> Iterator[Change]:
    belief, compiled = learned.belief, learned.layout.compiled
    cases = (learned.expected.prior @ learned.layout.parts).sum(axis=0)
    for place, mode in enumerate(compiled.mode_ids):
        after = float(learned.parameters.shares[place])
        weight = float(worth.shares[place])
        low, high = beta_interval(weight * after, weight * (1.0 - after))
        before = float(belief.mean.shares[place])
        yield Change(
            key=f"share:{mode}",
            kind="share",
            title=compiled.index.mode_title(mode),
            before=before,
            after=after,
            low=low,
            high=high,
            jobs=float(cases[place]),
            prior_jobs=belief.share_jobs,
            why=f"leading cause of {cases[place]:.1f} of {learned.job_weight:.0f} jobs; "
            f"the network says {before:.1%}, worth {belief.share_jobs:.0f} jobs",
            place=(place, 0),
        )


def _multipliers(learned: Learned, worth: Worth) -> Iterator[Change]:
    belief, compiled = learned.belief, learned.layout.compiled
    stated, counted = parameters_of(compiled.network).multipliers, counted_cases(learned)
    for key, after in learned.parameters.multipliers.items():
        mode, context, value = key
        before, cases = stated[key], counted[key]
        lent = belief.lent_cases.get(key, 0.0)
        prior = belief.multiplier_cases[key] - lent
        also = f" and {lent:.1f} borrowed" if lent else ""
        entry = compiled.network.contexts[context]
        low, high = gamma_interval(after, worth.multipliers[key])
        yield Change(
            key=f"multiplier:{mode}:{context}:{value}",
            kind="multiplier",
            title=f"{compiled.index.mode_title(mode)}, {entry.title}: {entry.values[value]}",
            before=before,
            after=after,
            low=low,
            high=high,
            jobs=cases,
            prior_jobs=prior,
            why=f"{cases:.1f} cases{also}; the network says {before:.2f} times as often, worth "
            f"{prior:.0f} cases",
            borrowed=lent,
        )


def _contexts(learned: Learned, worth: Worth) -> Iterator[Change]:
    belief, compiled = learned.belief, learned.layout.compiled
    per_combination = learned.expected.prior.sum(axis=1)
    for place, (name, entry) in enumerate(compiled.network.contexts.items()):
        before, after = belief.mean.contexts[place], learned.parameters.contexts[place]
        shown = int(np.argmax(before))
        met = per_combination[compiled.context_values[:, place] == shown].sum()
        yield _distribution_change(
            key=f"context:{name}",
            kind="context",
            title=entry.title,
            rows=(before, after),
            shown=shown,
            weights=(belief.context_jobs, learned.job_weight),
            seen=float(met),
            worth=float(worth.contexts[place]),
            what=f"{list(entry.values.values())[shown]} in",
            place=(place, 0),
        )


def _signs(learned: Learned, worth: Worth) -> Iterator[Change]:
    compiled, belief = learned.layout.compiled, learned.belief
    stated = parameters_of(learned.layout.network).links
    for place, sign in enumerate(compiled.network.signs.values()):
        for row, counts in enumerate(learned.expected.links[place]):
            jobs = float(counts.sum())
            kind, key, cause = _row_name(learned, sign, row)
            lent = belief.lent[place][row]
            yield _distribution_change(
                key=key,
                kind=kind,
                title=f"{sign.title}: {cause}",
                rows=(stated[place][row], learned.parameters.links[place][row]),
                shown=None,
                weights=(float(belief.links_jobs[place][row] - lent.sum()), jobs),
                seen=float(counts[1:].sum()),
                worth=float(worth.links[place][row]),
                lent=(float(lent.sum()), float(lent[1:].sum())),
                what="shown by that cause in",
                place=(place, row),
            )


def _row_name(learned: Learned, sign: Sign, row: int) -> tuple[str, str, str]:
    """Kind, key and cause of a row of a sign."""
    index = learned.layout.compiled.index
    if sign.rows:
        causes = [index.mode_title(mode) for mode in sign.rows[row].when]
        return "row", f"row:{sign.id}:{row}", " and ".join(causes) or "anything else"
    if row == 0:
        return "leak", f"leak:{sign.id}", "no known cause"
    mode = list(sign.causes)[row - 1]
    return "link", f"link:{sign.id}:{mode}", index.mode_title(mode)


def _channels(learned: Learned, worth: Worth) -> Iterator[Change]:
    compiled, belief = learned.layout.compiled, learned.belief
    asked = belief.asked
    for place, entry in enumerate(compiled.observations):
        is_held, is_asked = not belief.is_learnable[place], place in asked
        if entry.sign is None or (is_held and not is_asked):
            continue
        careless = learned.parameters.careless.get(entry.channel, 0.0)
        also = f"; {careless:.0%} of all are given without looking" if is_asked else ""
        also += ", and nothing else checks it" if is_held else ""
        states = compiled.network.signs[entry.sign].states
        for row, state in enumerate(states):
            before = belief.mean.channels[place][row]
            shown = int(np.argmax(before))
            answer = _inside(list(entry.answers.values())[shown])
            yield _distribution_change(
                key=f"channel:{entry.id}:{state}",
                kind="channel",
                title=f'{entry.title}, when "{state}"',
                rows=(before, learned.parameters.channels[place][row]),
                shown=shown,
                weights=(
                    float(belief.channels_jobs[place][row]),
                    float(learned.expected.channels[place][row].sum()),
                ),
                seen=float(learned.expected.channels[place][row][shown]),
                worth=float(worth.channels[place][row]),
                what=f'answered "{answer}" in',
                also=also,
                is_common=is_held,
                place=(place, row),
            )


def _inside(text: str) -> str:
    """Text as it stands inside a sentence; what begins with two capitals keeps them."""
    return text if text[1:2].isupper() else text[:1].lower() + text[1:]


def _distribution_change(
    *,
    key: str,
    kind: str,
    title: str,
    rows: tuple[FloatArray, FloatArray],
    shown: int | None,
    weights: tuple[float, float],
    seen: float,
    worth: float,
    what: str,
    place: tuple[int, int],
    also: str = "",
    is_common: bool = False,
    lent: tuple[float, float] = (0.0, 0.0),
) -> Change:
    """Change of a distribution; ``shown`` is the state whose probability is its figure.

    ``weights`` are the jobs that the figure before is worth, and the kind's own, ``seen`` those of
    them that show it; ``worth`` what the figure after is; ``lent`` the jobs that other kinds lend,
    and those of them that show it.
    """
    before, after = (float(1.0 - row[0] if shown is None else row[shown]) for row in rows)
    prior_jobs, jobs = weights
    borrowed, hits = lent
    low, high = beta_interval(worth * after, worth * (1.0 - after))
    rate = seen / jobs if jobs > 0.0 else 0.0
    others = f" and {hits / borrowed:.0%} of {borrowed:.1f} borrowed" if borrowed else ""
    return Change(
        key=key,
        kind=kind,
        title=title,
        before=before,
        after=after,
        low=low,
        high=high,
        jobs=jobs,
        prior_jobs=prior_jobs,
        why=f"{what} {rate:.0%} of {jobs:.1f} jobs{others}; the network says {before:.1%}, "
        f"worth {prior_jobs:.0f} jobs{also}",
        borrowed=borrowed,
        is_common=is_common,
        values=tuple(rows[1].tolist()),
        place=place,
    )


def _minutes(learned: Learned, entry: MinutesEstimate) -> Change:
    network = learned.layout.network
    known = network.repairs.get(entry.id) or network.observations[entry.id]
    return Change(
        key=f"minutes:{entry.id}",
        kind="minutes",
        title=known.title,
        before=entry.before,
        after=entry.after,
        low=entry.low,
        high=entry.high,
        jobs=float(entry.jobs),
        prior_jobs=entry.prior_jobs,
        why=f"timed in {entry.jobs} jobs; the network says {entry.before:.0f} minutes, worth "
        f"{entry.prior_jobs:.0f} jobs",
    )
