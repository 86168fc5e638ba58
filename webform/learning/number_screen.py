"""Read model of the page that sets one number."""

from dataclasses import dataclass

from triage.network.values import FaultNetwork
from triage.services.learning.editing import Number
from webform.formatting import nowrap


@dataclass(frozen=True, slots=True, kw_only=True)
class NumberScreen:
    """A number as it stands."""

    id: str
    network: str
    key: str
    title: str
    value: str
    source: str
    note: str


def number_screen(network: FaultNetwork, found: Number) -> NumberScreen:
    """Put the page together."""
    kind = found.key.partition(":")[0]
    source = network.sources.get(found.source, found.source.replace("_", " "))
    return NumberScreen(
        id=network.id,
        network=network.title,
        key=found.key,
        title=found.title,
        value=_value(found, kind, network.currency),
        source=source,
        note="Enter a chance between 0 and 1, such as 0.35. What shares a sum with it gives way in "
        "its old proportions."
        if found.is_chance
        else "",
    )


def _value(found: Number, kind: str, currency: str) -> str:
    if found.is_chance:
        return nowrap(f"{100 * found.value:.2f} %")
    return f"{found.value:.2f} {currency if kind == 'part' else 'minutes'}"
