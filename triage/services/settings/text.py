"""Settings of a shop as a file to edit, and as plain values."""

from collections.abc import Iterator

from triage.network.file_format import MINOR_UNITS
from triage.network.yaml_marks import write_yaml
from triage.planning.shop.fitting import Variant
from triage.planning.shop.settings import COMMON_PRACTICE, NewMachine, PartSettings, ShopSettings
from triage.services.settings.front import front_as_data
from triage.services.settings.schema import SETTINGS, Setting
from triage.services.settings.shop_front import DEFAULT_FRONT, ShopFront

INDENT = "  "


def settings_as_yaml(settings: ShopSettings, front: ShopFront = DEFAULT_FRONT) -> str:
    """Settings as a file that ``read_settings`` reads back, with what is known of each number."""
    lines = [
        "# Settings of a shop: money in units of the currency, time in minutes.",
        "# Change what is different with you; what is left out takes its default.",
        "format: 1",
        *_yaml({"currency": settings.currency, "source": settings.source}),
    ]
    sections = front_as_data(front)
    lines += ["", "# What customers and staff meet."]
    lines += _yaml({"shop": sections["shop"]})
    lines += ["", "# Tax in percent, on any of fee, labour, parts; ask who knows your rates."]
    lines += _yaml({"tax": sections["tax"]})
    section = ""
    for setting in SETTINGS:
        if setting.section != section:
            section = setting.section
            lines += ["", f"{section}:"]
        lines.append(f"{INDENT}{setting.name}: {setting.in_file(settings)!r}")
        lines[-1] += f"  # {_unit(setting, settings)}, {setting.low:g} to {setting.high:g}: "
        lines[-1] += f"{setting.meaning} ({source_of(setting, settings)})"
    lines += ["", "# What leaving a machine unrepaired costs: a share of a new one, or a cost."]
    lines += _yaml({"unrepaired": _unrepaired(settings)})
    machines = {kind: _machine(entry) for kind, entry in settings.new_machines.items()}
    lines += ["", f"# Defaults: prices {COMMON_PRACTICE}; lifetimes from a survey (NAHB 2007)."]
    lines += _yaml({"new_machines": machines})
    if settings.parts:
        parts = {name: _part(own) for name, own in settings.parts.items()}
        lines += ["", *_yaml({"parts": parts})]
    minutes = {
        "repairs": dict(settings.repair_minutes),
        "observations": dict(settings.observation_minutes),
    }
    if any(minutes.values()):
        lines += ["", *_yaml({"minutes": minutes})]
    return "\n".join(lines) + "\n"


def settings_as_json(settings: ShopSettings) -> dict[str, object]:
    """Settings as plain values; keys are stable (docs/json.md)."""
    return {
        "currency": settings.currency,
        "source": settings.source,
        "settings": [
            {
                "key": setting.key,
                "value": setting.in_file(settings),
                "default": setting.default,
                "unit": _unit(setting, settings),
                "range": [setting.low, setting.high],
                "meaning": setting.meaning,
                "source": source_of(setting, settings),
            }
            for setting in SETTINGS
        ],
        "unrepaired": {"share_of_new_machine": None, "cost": None, **_unrepaired(settings)},
        "new_machines": [
            {"kind": kind, **_machine(entry)} for kind, entry in settings.new_machines.items()
        ],
        "parts": [_part_as_json(name, own) for name, own in settings.parts.items()],
        "repair_minutes": _pairs(dict(settings.repair_minutes)),
        "observation_minutes": _pairs(dict(settings.observation_minutes)),
    }


def source_of(setting: Setting, settings: ShopSettings) -> str:
    """Where a number comes from: its default's source, or the shop's own."""
    is_default = setting.in_file(settings) == setting.default
    return setting.source if is_default else settings.source


def _unit(setting: Setting, settings: ShopSettings) -> str:
    return setting.unit.replace("currency", settings.currency)


def _yaml(data: dict[str, object]) -> Iterator[str]:
    yield from write_yaml(data).rstrip("\n").split("\n")


def _money(amount_minor: int) -> float:
    whole, rest = divmod(amount_minor, MINOR_UNITS)
    return whole if rest == 0 else amount_minor / MINOR_UNITS


def _unrepaired(settings: ShopSettings) -> dict[str, float]:
    if settings.unrepaired_minor is not None:
        return {"cost": _money(settings.unrepaired_minor)}
    return {"share_of_new_machine": settings.unrepaired_share}


def _machine(machine: NewMachine) -> dict[str, float]:
    return {
        "price": _money(machine.price_minor),
        "installation": _money(machine.installation_minor),
        "life_years": machine.life_years,
    }


def _part(own: PartSettings) -> dict[str, object]:
    entry: dict[str, object] = {}
    if own.cost_minor is not None:
        entry["cost"] = [_money(end) for end in own.cost_minor]
    if own.price_minor is not None:
        entry["price"] = _money(own.price_minor)
    if own.on_van is not None:
        entry["on_van"] = own.on_van.value
    if own.variants:
        entry["numbers"] = {variant.number: _variant(variant) for variant in own.variants}
        return entry
    if own.stock is not None:
        entry["stock"] = own.stock
    if own.fit_share != 1.0:
        entry["fits"] = own.fit_share
    return entry


def _variant(variant: Variant) -> dict[str, object]:
    entry: dict[str, object] = {
        "plates": list(variant.plates),
        "share": variant.share,
        "stock": variant.stock,
    }
    if variant.cost_minor is not None:
        entry["cost"] = _money(variant.cost_minor)
    return entry


def _part_as_json(name: str, own: PartSettings) -> dict[str, object]:
    absent = {"cost": None, "price": None, "on_van": None, "stock": None, "fits": own.fit_share}
    entry = {"part": name, **absent, **_part(own)}
    numbers = [
        {"number": variant.number, "cost": None, **_variant(variant)} for variant in own.variants
    ]
    return {**entry, "numbers": numbers}


def _pairs(minutes: dict[str, float]) -> list[dict[str, object]]:
    return [{"id": name, "minutes": value} for name, value in minutes.items()]
