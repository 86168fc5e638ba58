"""An observation as plain values: what can be asked, tested or measured, and its answers."""

from typing import Any

from triage.network.values import Observation


def observation_as_json(entry: Observation) -> dict[str, Any]:
    """Observation as plain values; keys are stable (docs/json.md)."""
    reading = entry.reading
    return {
        "id": entry.id,
        "channel": entry.channel.value,
        "sign": entry.sign,
        "context": entry.context,
        "title": entry.title,
        "wording": entry.wording,
        "answers": dict(entry.answers),
        "can_be_volunteered": entry.volunteered is not None,
        "reading": None
        if reading is None
        else {"unit": reading.unit, "accept": list(reading.accept), "span": list(reading.span)},
        "acceptance": entry.acceptance or None,
        "minutes": entry.minutes,
    }
