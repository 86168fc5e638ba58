"""Signs on the page of an appliance: causes and strengths in words, masks, ways to look."""

from collections.abc import Sequence

from triage.network.datasheet.markdown import code, section
from triage.network.drawing_labels import CHANNEL_TITLES, mask_text
from triage.network.drawing_links import (
    STRENGTH_WORDS,
    Link,
    links_of,
    percent,
    states_text,
    strength_word,
    words,
)
from triage.network.values import Combination, NetworkIndex, Sign, TableRow


def signs_section(index: NetworkIndex) -> list[str]:
    """Signs with everything that produces them, strongest cause first."""
    bounds = ", ".join(
        f"*{word}* from {100 * bound:.0f} %" if bound else f"*{word}* below"
        for word, bound in STRENGTH_WORDS.items()
    )
    lines = [
        "What the machine does, whoever looks at it. The percent beside a cause says how many of "
        f"100 machines with this cause alone do it: {bounds}. Where a sign has several states, "
        "each has its own percent.",
        "",
    ]
    for sign in index.network.signs.values():
        lines += [f"### {sign.title}", "", *_sign_lines(index, sign), ""]
    tell_us = (
        "a sign that is missing, a cause that shows a sign and is not named under it, a cause that "
        "never does, a word that should be one stronger or one weaker."
    )
    return section("Signs", lines[:-1], tell_us)


def _sign_lines(index: NetworkIndex, sign: Sign) -> list[str]:
    looks = (
        f"{look.title} ({CHANNEL_TITLES[look.channel]})"
        for look in index.observations_of.get(sign.id, ())
    )
    return [
        f"{code(sign.id)}, one of: {', '.join(map(words, sign.states))}. "
        f"Source {code(sign.provenance.source)}.",
        "",
        *(_rows(index, sign) if sign.combination is Combination.TABLE else _causes(index, sign)),
        *(
            f"- Hidden while {mask_text(index.network, mask)}: then it is {words(mask.shows)}"
            for mask in sign.masks
        ),
        f"- Looked at by: {'; '.join(looks)}",
    ]


def _causes(index: NetworkIndex, sign: Sign) -> list[str]:
    lines = []
    links = links_of(sign)
    for word in STRENGTH_WORDS:
        named = [link for link in links if strength_word(link.strength) == word]
        if named:
            lines.append(f"- *{word}*: {'; '.join(_cause(index, link) for link in named)}")
    return [*lines, f"- without any of them: {_chances(sign, sign.leak)}"]


def _cause(index: NetworkIndex, link: Link) -> str:
    return f"{index.mode_title(link.mode)} ({states_text(link)})"


def _rows(index: NetworkIndex, sign: Sign) -> list[str]:
    """Decision list: the first line that applies holds."""
    return [f"- {_condition(index, row)}: {_chances(sign, row.then)}" for row in sign.rows]


def _condition(index: NetworkIndex, row: TableRow) -> str:
    if not row.when:
        return "otherwise"
    return "with " + " and ".join(index.mode_title(mode) for mode in row.when)


def _chances(sign: Sign, chances: Sequence[float]) -> str:
    abnormal = [
        (state, chance)
        for state, chance in zip(sign.states[1:], chances[1:], strict=True)
        if chance > 0
    ]
    if len(abnormal) == 1 and len(sign.states) == 2:
        return percent(abnormal[0][1])
    return ", ".join(f"{words(state)} {percent(chance)}" for state, chance in abnormal) or "never"
