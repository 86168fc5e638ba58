"""Single numbers of a network: what each is, and the network with one of them set by the owner.

A number has a **key**: ``share:MODE``, ``leak:SIGN:STATE``, ``link:SIGN:MODE:STATE``,
``channel:OBSERVATION:STATE:ANSWER``, ``minutes:ID``, ``part:PART:low`` and ``part:PART:high``. What
shares a sum with it gives way in its old proportions.
"""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

from triage.errors import UnknownChangeError
from triage.network.values import (
    Component,
    FaultNetwork,
    Grade,
    NetworkIndex,
    Observation,
    Provenance,
    Sign,
)

KINDS: Mapping[str, str] = {
    "share": "Share of a cause",
    "link": "How often a cause shows as a sign",
    "leak": "How often a sign shows without a known cause",
    "channel": "How often an answer is given",
    "minutes": "Minutes of a test or repair",
    "part": "Cost of a part",
}
EDIT_SOURCE = "owner"
MINOR_UNITS = 100


@dataclass(frozen=True, slots=True)
class Number:
    """A number of a network: key, group and title for people, value, and whether it is a chance."""

    key: str
    group: str
    title: str
    value: float
    is_chance: bool
    source: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Edit:
    """A number set by the owner, why, and where it comes from."""

    key: str
    value: float
    reason: str
    source: str
    grade: str
    equivalent_sample_size: float | None = None


def numbers(network: FaultNetwork, kind: str) -> tuple[Number, ...]:
    """Every number of a kind, in the order of the network."""
    walk = {
        "share": _shares,
        "link": _links,
        "leak": _leaks,
        "channel": _channels,
        "minutes": _minutes,
        "part": _parts,
    }[kind]
    return tuple(walk(network))


def number(network: FaultNetwork, key: str) -> Number:
    """Number of a key, or ``UnknownChangeError``."""
    kind = key.partition(":")[0]
    known = {one.key: one for one in numbers(network, kind)} if kind in KINDS else {}
    if key not in known:
        raise UnknownChangeError(key, list(known) or list(KINDS))
    return known[key]


def edited(network: FaultNetwork, edit: Edit) -> FaultNetwork:
    """The network with one number set; it is not checked here.

    Raises
    ------
    UnknownChangeError
        The network has no number of that key.
    """
    number(network, edit.key)
    kind, *path = edit.key.split(":")
    own = Provenance(
        source=EDIT_SOURCE,
        grade=Grade(edit.grade),
        equivalent_sample_size=edit.equivalent_sample_size
        if edit.grade == Grade.JUDGED.value
        else None,
    )
    said = network.sources.get(EDIT_SOURCE, "")
    told = edit.source if edit.source in said else "; ".join(filter(None, [said, edit.source]))
    marked = replace(network, sources={**network.sources, EDIT_SOURCE: told})
    change = {
        "share": _with_share,
        "link": _with_link,
        "leak": _with_link,
        "channel": _with_channel,
        "minutes": _with_minutes,
        "part": _with_part,
    }[kind]
    return change(marked, path, edit.value, own)


def _shares(network: FaultNetwork) -> Iterator[Number]:
    index = NetworkIndex(network)
    for mode in index.modes.values():
        component = index.component_of[mode.id]
        yield Number(
            f"share:{mode.id}",
            component.title,
            index.mode_title(mode.id),
            mode.share,
            True,
            mode.provenance.source,
        )


def _links(network: FaultNetwork) -> Iterator[Number]:
    index = NetworkIndex(network)
    for sign in network.signs.values():
        for mode, chances in sign.causes.items():
            for state, chance in list(zip(sign.states, chances, strict=True))[1:]:
                if state != "untestable":
                    yield Number(
                        f"link:{sign.id}:{mode}:{state}",
                        sign.title,
                        f"{sign.title} ({state.replace('_', ' ')}): {index.mode_title(mode)}",
                        chance,
                        True,
                        sign.provenance.source,
                    )


def _leaks(network: FaultNetwork) -> Iterator[Number]:
    for sign in network.signs.values():
        if sign.rows:
            continue
        for state, chance in list(zip(sign.states, sign.leak, strict=True))[1:]:
            if state != "untestable":
                yield Number(
                    f"leak:{sign.id}:{state}",
                    "Signs",
                    f"{sign.title} ({state.replace('_', ' ')})",
                    chance,
                    True,
                    sign.provenance.source,
                )


def _channels(network: FaultNetwork) -> Iterator[Number]:
    for entry in network.observations.values():
        if entry.reading is not None:
            continue  # follows from the error of the meter
        for state, row in zip(_states(network, entry), entry.likelihood, strict=True):
            for answer, chance in zip(entry.answers, row, strict=True):
                yield Number(
                    f"channel:{entry.id}:{state}:{answer}",
                    entry.title,
                    f"{entry.title}, when {state.replace('_', ' ')}: "
                    f"{entry.answers[answer].lower()}",
                    chance,
                    True,
                    entry.provenance.source,
                )


def _minutes(network: FaultNetwork) -> Iterator[Number]:
    for group, entries in (("Tests", network.observations), ("Repairs", network.repairs)):
        for entry in entries.values():
            source = entry.provenance.source
            yield Number(f"minutes:{entry.id}", group, entry.title, entry.minutes, False, source)


def _parts(network: FaultNetwork) -> Iterator[Number]:
    for part in network.parts.values():
        for end, cost in zip(("low", "high"), part.cost, strict=True):
            title = f"{part.title}, {end} end"
            source = part.provenance.source
            yield Number(f"part:{part.id}:{end}", "Parts", title, cost / MINOR_UNITS, False, source)


def _states(network: FaultNetwork, entry: Observation) -> tuple[str, ...]:
    if entry.sign is not None:
        return network.signs[entry.sign].states
    return tuple(network.contexts[entry.target].values)


def _with_share(
    network: FaultNetwork, path: list[str], value: float, own: Provenance
) -> FaultNetwork:
    before = NetworkIndex(network).mode(path[0]).share
    rest = (1.0 - value) / (1.0 - before)

    def changed(component: Component) -> Component:
        modes = tuple(
            replace(mode, share=value, provenance=own)
            if mode.id == path[0]
            else replace(mode, share=mode.share * rest)
            for mode in component.modes
        )
        return replace(component, modes=modes)

    scaled = {name: changed(one) for name, one in network.components.items()}
    ratio = {path[0]: value / before}
    pairs = tuple(
        replace(
            pair, probability=pair.probability * min(ratio.get(mode, rest) for mode in pair.modes)
        )
        for pair in network.pairs
    )
    return replace(network, components=scaled, pairs=pairs)


def _with_link(
    network: FaultNetwork, path: list[str], value: float, own: Provenance
) -> FaultNetwork:
    sign = network.signs[path[0]]
    place = sign.states.index(path[-1])
    if len(path) == 2:
        new = replace(sign, leak=_moved(sign.leak, place, value), provenance=own)
    else:
        row = _moved(sign.causes[path[1]], place, value)
        new = replace(sign, causes={**sign.causes, path[1]: row}, provenance=own)
    signs: dict[str, Sign] = {**network.signs, sign.id: new}
    return replace(network, signs=signs)


def _with_channel(
    network: FaultNetwork, path: list[str], value: float, own: Provenance
) -> FaultNetwork:
    entry = network.observations[path[0]]
    row = _states(network, entry).index(path[1])
    rows = list(entry.likelihood)
    rows[row] = _moved(rows[row], list(entry.answers).index(path[2]), value)
    new = replace(entry, likelihood=tuple(rows), provenance=own)
    return replace(network, observations={**network.observations, entry.id: new})


def _with_minutes(
    network: FaultNetwork, path: list[str], value: float, own: Provenance
) -> FaultNetwork:
    name = path[0]
    if name in network.repairs:
        repair = replace(network.repairs[name], minutes=value, provenance=own)
        return replace(network, repairs={**network.repairs, name: repair})
    look = replace(network.observations[name], minutes=value, provenance=own)
    return replace(network, observations={**network.observations, name: look})


def _with_part(
    network: FaultNetwork, path: list[str], value: float, own: Provenance
) -> FaultNetwork:
    part = network.parts[path[0]]
    minor = round(value * MINOR_UNITS)
    low, high = part.cost
    cost = (minor, high) if path[1] == "low" else (low, minor)
    new = replace(part, cost=cost, provenance=own)
    return replace(network, parts={**network.parts, part.id: new})


def _moved(row: tuple[float, ...], place: int, value: float) -> tuple[float, ...]:
    """Distribution with one entry set, the others in their old proportions."""
    others = 1.0 - row[place]
    scale = (1.0 - value) / others if others > 0.0 else 0.0
    moved = [value if k == place else chance * scale for k, chance in enumerate(row)]
    return tuple(chance / sum(moved) for chance in moved)
