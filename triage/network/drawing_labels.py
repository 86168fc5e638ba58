"""What the nodes of a picture say: failure modes, signs, observations, each with its tooltip."""

from math import sqrt

from triage.network.drawing_columns import Block, Mark, wrapped
from triage.network.drawing_links import all_links, percent, words
from triage.network.values import (
    Channel,
    Component,
    ComponentKind,
    FailureMode,
    FaultNetwork,
    Mask,
    NetworkIndex,
    Observation,
    Sign,
)

KIND_TITLES = {
    ComponentKind.USE: "Use",
    ComponentKind.INSTALLATION: "Installation",
    ComponentKind.EQUIPMENT: "Equipment",
    ComponentKind.NOTHING_FAILED: "Nothing failed",
}
CHANNEL_LETTERS = {
    Channel.CALLER: "C",
    Channel.GUIDED_CHECK: "G",
    Channel.ON_SITE_TEST: "T",
    Channel.METER: "M",
}
CHANNEL_TITLES = {
    Channel.CALLER: "asked of the caller",
    Channel.GUIDED_CHECK: "guided check",
    Channel.ON_SITE_TEST: "on-site test",
    Channel.METER: "meter",
}
CHANNEL_LEGEND = "C asked of the caller, G guided check, T test on site, M meter."
DOT_LEGEND = (
    "Percent and size of the dot of a cause: share of calls.   "
    "Hollow dot: another sign can hide this one."
)
CAUSE_LETTERS = 44  # longest line of a cause
SIGN_LETTERS = 58  # longest line of a sign
OBSERVATION_RADIUS = 2.0


def mode_block(index: NetworkIndex, mode: FailureMode, colour: str) -> Block:
    """Failure mode with its share of calls."""
    return Block(
        node=mode.id,
        lines=wrapped(f"{mode.title}, {percent(mode.share)}", CAUSE_LETTERS),
        tooltip=_mode_tooltip(index, mode),
        radius=_radius(mode.share),
        colour=colour,
    )


def sign_block(index: NetworkIndex, sign: Sign) -> Block:
    """Sign with a letter for each channel through which it is looked at.

    Its dot is hollow if another sign can hide it.
    """
    return Block(
        node=sign.id,
        lines=wrapped(sign.title, SIGN_LETTERS),
        marks=_channel_marks(index, sign),
        tooltip=_sign_tooltip(index.network, sign),
        is_hollow=bool(sign.masks),
    )


def observation_block(observation: Observation) -> Block:
    """Observation with the letter of its channel."""
    text = f"{CHANNEL_LETTERS[observation.channel]}  {observation.title}"
    return Block(
        node=observation.id,
        lines=(f"{text}, {observation.minutes:g} min",),
        tooltip=observation.wording,
        radius=OBSERVATION_RADIUS,
    )


def component_lines(component: Component) -> tuple[str, ...]:
    """Name of a component, above its failure modes."""
    return wrapped(component.title, CAUSE_LETTERS)


def mode_remarks(index: NetworkIndex, mode: FailureMode) -> tuple[str, ...]:
    """What the share of a failure mode depends on, and what it comes together with."""
    contexts = ", ".join(index.network.contexts[name].title for name in mode.multipliers)
    partners = [
        index.mode_title(other)
        for pair in index.network.pairs
        if mode.id in pair.modes
        for other in pair.modes
        if other != mode.id
    ]
    remarks = [
        *wrapped(f"depends on: {contexts}" if contexts else "", CAUSE_LETTERS),
        *(line for title in partners for line in wrapped(f"comes with: {title}", CAUSE_LETTERS)),
    ]
    return tuple(remarks)


def mask_text(network: FaultNetwork, mask: Mask) -> str:
    """When a sign is hidden: the sign that hides it, and its states."""
    return f"“{network.signs[mask.masker].title}” is {' or '.join(map(words, mask.states))}"


def _radius(share: float) -> float:
    """Radius in pixels that makes the area of a dot follow the share; 10 % of calls give 7."""
    return max(2.0, min(7.0 * sqrt(share / 0.10), 9.0))


def counts_text(network: FaultNetwork) -> str:
    """How much the network holds, in one sentence."""
    modes = sum(len(component.modes) for component in network.components.values())
    return (
        f"Version {network.version}: {modes} causes, {len(network.signs)} signs, "
        f"{len(all_links(network))} links, {len(network.observations)} ways to look."
    )


def _channel_marks(index: NetworkIndex, sign: Sign) -> list[Mark]:
    looks = index.observations_of.get(sign.id, ())
    titles = {
        channel: [look.title for look in looks if look.channel is channel] for channel in Channel
    }
    return [
        Mark(letter=CHANNEL_LETTERS[channel], slot=slot, tooltip="\n".join(titles[channel]))
        for slot, channel in enumerate(Channel)
        if titles[channel]
    ]


def _mode_tooltip(index: NetworkIndex, mode: FailureMode) -> str:
    repairs = ", ".join(repair.title for repair in index.repairs_of[mode.id])
    contexts = ", ".join(index.network.contexts[name].title for name in mode.multipliers)
    lines = [
        f"{index.mode_title(mode.id)} ({mode.id})",
        f"leads {percent(mode.share)} of calls",
        f"depends on: {contexts}" if contexts else "",
        f"repaired by: {repairs}" if repairs else "",
    ]
    return "\n".join(line for line in lines if line)


def _sign_tooltip(network: FaultNetwork, sign: Sign) -> str:
    lines = [
        f"{sign.title} ({sign.id})",
        f"states: {', '.join(map(words, sign.states))}",
        f"causes: {len(sign.parents)}",
        *(f"hidden while {mask_text(network, mask)}" for mask in sign.masks),
    ]
    return "\n".join(lines)
