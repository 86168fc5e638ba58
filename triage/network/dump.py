"""Writes a fault network as one self-contained network file.

All names are resolved: strengths are numbers, reliabilities stand in each observation, nothing is
included. Numbers are written with as many digits as it takes to read the same number back, so that
``read_network`` of the text gives an equal network. What a ``FaultNetwork`` does not hold is not
written: levels, named tables, comments, and the sources of multipliers, minutes and the two numbers
at the head (the last are marked ``unrecorded``).
"""

from collections.abc import Iterable, Mapping
from typing import Any

from triage.network.file_format import MINOR_UNITS, UNRECORDED
from triage.network.values import (
    UNTESTABLE,
    Combination,
    Component,
    ComponentKind,
    Context,
    FailureMode,
    FaultNetwork,
    Observation,
    Pair,
    Part,
    Provenance,
    Reading,
    Repair,
    SafetyFlag,
    Sign,
)
from triage.network.yaml_marks import write_yaml

Data = dict[str, Any]


def dump_network(network: FaultNetwork) -> str:
    """Text of the network file that holds all of ``network``.

    Parameters
    ----------
    network : FaultNetwork
        As read from a file.

    Returns
    -------
    str
        YAML, to be kept in a file named after ``network.id``.
    """
    sections = {
        "sources": dict(network.sources),
        "preconditions": dict(network.preconditions),
        "cautions": dict(network.cautions),
        "contexts": {name: _context(item) for name, item in network.contexts.items()},
        "components": {item.id: _component(item) for item in _failing(network)},
        "nothing_failed": _modes(_nothing_failed(network)),
        "shares": {mode.id: mode.share for mode in _all_modes(network)},
        "pairs": [_pair(pair) for pair in network.pairs],
        "signs": {name: _sign(item) for name, item in network.signs.items()},
        "observations": {
            name: _observation(item, network) for name, item in network.observations.items()
        },
        "parts": {name: _part(item) for name, item in network.parts.items()},
        "repairs": {name: _repair(item) for name, item in network.repairs.items()},
        "safety": {name: _safety_flag(item) for name, item in network.safety_flags.items()},
    }
    return write_yaml({**_head(network), **_without_empty(sections)})


def _head(network: FaultNetwork) -> Data:
    head = {
        "format": 1,
        "network": network.id,
        "title": network.title,
        "description": network.description,
        "version": network.version,
        "currency": network.currency,
        "expected_failed_modes": _unrecorded(network.expected_failed_modes),
        "conflict_threshold_bits": _unrecorded(network.conflict_threshold_bits),
        "verification": network.verification,
    }
    return _without_empty(head)


def _unrecorded(value: float) -> Data:
    return {"value": value, "source": UNRECORDED}


def _failing(network: FaultNetwork) -> list[Component]:
    components = network.components.values()
    return [item for item in components if item.kind is not ComponentKind.NOTHING_FAILED]


def _nothing_failed(network: FaultNetwork) -> list[FailureMode]:
    components = network.components.values()
    return [
        mode
        for item in components
        if item.kind is ComponentKind.NOTHING_FAILED
        for mode in item.modes
    ]


def _all_modes(network: FaultNetwork) -> list[FailureMode]:
    return [mode for component in network.components.values() for mode in component.modes]


def _provenance(provenance: Provenance) -> Data:
    return _without_empty(
        {
            "source": provenance.source,
            "grade": provenance.grade.value,
            "equivalent_sample_size": provenance.equivalent_sample_size,
        }
    )


def _context(context: Context) -> Data:
    probabilities = zip(context.values.items(), context.probabilities, strict=True)
    values = {
        value: {"title": title, "probability": probability}
        for (value, title), probability in probabilities
    }
    return {"title": context.title, "values": values, **_provenance(context.provenance)}


def _component(component: Component) -> Data:
    return {
        "title": component.title,
        "kind": component.kind.value,
        "modes": _modes(component.modes),
    }


def _modes(modes: Iterable[FailureMode]) -> Data:
    return {mode.id.split(".")[1]: _mode(mode) for mode in modes}


def _mode(mode: FailureMode) -> Data:
    multipliers = [
        {"context": context, "values": dict(values)} for context, values in mode.multipliers.items()
    ]
    lists = _without_empty({"multipliers": multipliers})
    return {"title": mode.title, **lists, **_provenance(mode.provenance)}


def _pair(pair: Pair) -> Data:
    return {
        "modes": list(pair.modes),
        "probability": pair.probability,
        **_provenance(pair.provenance),
    }


def _sign(sign: Sign) -> Data:
    states = tuple(state for state in sign.states if state != UNTESTABLE)
    masks = [
        {"sign": mask.masker, "states": list(mask.states), "shows": mask.shows}
        for mask in sign.masks
    ]
    if sign.combination is Combination.TABLE:
        effects: Data = {
            "rows": [
                {**_without_empty({"when": list(row.when)}), "then": _by_state(row.then, states)}
                for row in sign.rows
            ]
        }
    else:
        causes = {mode: _by_state(values, states) for mode, values in sign.causes.items()}
        effects = {"leak": _by_state(sign.leak, states), **_without_empty({"causes": causes})}
    return {
        "title": sign.title,
        "states": list(states),
        **effects,
        **_without_empty({"masked_by": masks}),
        **_provenance(sign.provenance),
    }


def _by_state(values: tuple[float, ...], states: tuple[str, ...]) -> dict[str, float]:
    """Probabilities by state, that of the normal state too; ``untestable`` has none."""
    return dict(zip(states, values, strict=False))


def _observation(observation: Observation, network: FaultNetwork) -> Data:
    states = _looked_at(observation, network)
    answers = tuple(observation.answers)
    table = {
        state: dict(zip(answers, row, strict=True))
        for state, row in zip(states, observation.likelihood, strict=True)
    }
    volunteered = observation.volunteered
    looks_at = "context" if observation.sign is None else "sign"
    optional = {
        "reading": None if observation.reading is None else _reading(observation.reading),
        "likelihood": table if observation.reading is None else None,
        "volunteered": None if volunteered is None else dict(zip(states, volunteered, strict=True)),
        "phrases": list(observation.phrases),
        "preconditions": list(observation.preconditions),
        "cautions": list(observation.cautions),
        "acceptance": observation.acceptance,
    }
    return {
        looks_at: observation.target,
        "channel": observation.channel.value,
        "title": observation.title,
        "wording": observation.wording,
        "answers": dict(observation.answers),
        **_without_empty(optional),
        "minutes": observation.minutes,
        **_provenance(observation.provenance),
    }


def _looked_at(observation: Observation, network: FaultNetwork) -> tuple[str, ...]:
    if observation.sign is not None:
        return network.signs[observation.sign].states
    return tuple(network.contexts[observation.target].values)


def _reading(reading: Reading) -> Data:
    return {
        "unit": reading.unit,
        "accept": list(reading.accept),
        "span": list(reading.span),
        "sd": reading.sd,
        "inside": dict(reading.inside),
    }


def _part(part: Part) -> Data:
    return {
        "title": part.title,
        "cost": [_units(end) for end in part.cost],
        "on_van": part.on_van.value,
        **_provenance(part.provenance),
    }


def _units(minor: int) -> float:
    whole, rest = divmod(minor, MINOR_UNITS)
    return minor / MINOR_UNITS if rest else whole


def _repair(repair: Repair) -> Data:
    optional = {
        "parts": list(repair.parts),
        "cautions": list(repair.cautions),
        "caller_steps": repair.caller_steps,
    }
    return {
        "title": repair.title,
        "cures": list(repair.cures),
        "by": repair.by.value,
        "success": repair.success,
        "minutes": repair.minutes,
        **_without_empty(optional),
        **_provenance(repair.provenance),
    }


def _safety_flag(flag: SafetyFlag) -> Data:
    return {
        "title": flag.title,
        "wording": flag.wording,
        "class": flag.safety_class.value,
        "script": flag.script,
        "referral": flag.referral,
        **_without_empty({"phrases": list(flag.phrases)}),
        **_provenance(flag.provenance),
    }


def _without_empty(data: Mapping[str, Any]) -> Data:
    return {key: value for key, value in data.items() if value not in (None, "", [], {})}
