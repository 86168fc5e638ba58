"""Observations on the page of an appliance: one table a channel."""

from triage.network.datasheet.markdown import broken, code, quoted, section, table
from triage.network.drawing_labels import CHANNEL_TITLES
from triage.network.drawing_links import percent, words
from triage.network.values import Channel, FaultNetwork, NetworkIndex, Observation, Reading

HEADINGS = [
    "what",
    "wording",
    "answers",
    "good machine",
    "minutes",
    "needs",
    "cautions",
    "how sure",
    "said unasked",
    "callers say",
    "source",
]


def observations_section(network: FaultNetwork) -> list[str]:
    """Observations with wording, answers, acceptance, minutes, cautions and reliability."""
    lines = [
        "*How sure* says how often somebody who looks gives the most usual answer, for each state "
        "of the sign. *Said unasked* says how often a caller brings it up. The cautions stand in "
        "full [below](#cautions).",
        "",
    ]
    for channel in Channel:
        found = [look for look in network.observations.values() if look.channel is channel]
        if found:
            title = CHANNEL_TITLES[channel]
            lines += [f"### {title[0].upper()}{title[1:]}: {len(found)}", ""]
            lines += [*table(HEADINGS, (_row(network, look) for look in found)), ""]
    tell_us = (
        "a question that callers do not understand, an answer that they often get wrong, words of "
        "callers that are missing, a test that you do differently, a limit that would condemn a "
        "good part, a caution that is missing."
    )
    return section("Ways to look", lines[:-1], tell_us)


def cautions_section(network: FaultNetwork) -> list[str]:
    """Cautions in full, each with its name."""
    rows = ([code(name), text] for name, text in network.cautions.items())
    return section("Cautions", table(["name", "caution"], rows), "a danger that is not named.")


def verification_text(index: NetworkIndex) -> str:
    """Which observation shows whether a repair worked."""
    name = index.network.verification
    return f"A repair is checked by: {index.observation(name).title} {code(name)}." if name else ""


def _row(network: FaultNetwork, look: Observation) -> list[str]:
    target = network.signs[look.sign] if look.sign else network.contexts[look.target]
    return [
        broken([f"**{look.title}**", code(look.id), f"looks at: {target.title}"]),
        look.wording,
        broken(look.answers.values()) if look.reading is None else _range(look.reading),
        look.acceptance,
        f"{look.minutes:g}",
        broken(network.preconditions[name] for name in look.preconditions),
        broken(code(name) for name in look.cautions),
        broken(_sureness(network, look)),
        broken(_unasked(network, look)),
        quoted(look.phrases),
        code(look.provenance.source),
    ]


def _states(network: FaultNetwork, look: Observation) -> list[str]:
    if look.sign:
        return [words(state) for state in network.signs[look.sign].states]
    return list(network.contexts[look.target].values.values())


def _sureness(network: FaultNetwork, look: Observation) -> list[str]:
    if look.reading is not None:
        inside = (
            f"{words(state)}: {percent(chance)} inside"
            for state, chance in look.reading.inside.items()
        )
        return [*inside, f"meter off by {look.reading.sd:g} {look.reading.unit} (one sd)"]
    labels = list(look.answers.values())
    lines = []
    for state, chances in zip(_states(network, look), look.likelihood, strict=True):
        likeliest = max(range(len(labels)), key=lambda place: chances[place])
        lines.append(f"{state}: “{labels[likeliest]}” {percent(chances[likeliest])}")
    return lines


def _unasked(network: FaultNetwork, look: Observation) -> list[str]:
    if look.volunteered is None:
        return []
    each = zip(_states(network, look), look.volunteered, strict=True)
    return [f"{state}: {percent(chance)}" for state, chance in each]


def _range(reading: Reading) -> str:
    low, high = reading.accept
    return f"a reading; {low:g} to {high:g} {reading.unit} is good"
