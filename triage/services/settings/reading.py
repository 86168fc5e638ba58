"""Read, check and show the settings of a shop (docs/settings.md).

A file is read as strictly as a network: all problems at once, each with its line, what it got, what
was expected and the nearest name. Names of parts, repairs, observations and appliance kinds are
checked against the networks the shop works with.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, TypeVar

from pydantic import ValidationError

from triage.errors import SettingsFileError
from triage.network.catalogue import load_network, network_names
from triage.network.file_format import MINOR_UNITS
from triage.network.messages import add_unknown_keys, add_validation_problems
from triage.network.report import Place, Report, quoted, shown
from triage.network.schema import Strict
from triage.network.shipped import shown_path
from triage.network.unknown_keys import Unknown, without_unknown_keys
from triage.network.values import FaultNetwork, OnVan
from triage.network.yaml_marks import MarkedFile, marked_text, read_marked
from triage.planning.shop.fitting import Variant
from triage.planning.shop.settings import DEFAULT_SETTINGS, NewMachine, PartSettings, ShopSettings
from triage.services.settings.front import FRONT_SECTIONS, ShopEntry, TaxEntry, front_of
from triage.services.settings.hours import SECTION as DESK_SECTION
from triage.services.settings.hours import desk_in
from triage.services.settings.schema import (
    HEADER_NAMES,
    OTHER_SECTIONS,
    SETTINGS,
    Header,
    MinutesEntry,
    NewMachineEntry,
    PartSettingsEntry,
    UnrepairedEntry,
    section_models,
)
from triage.services.settings.shop_front import DEFAULT_FRONT, ShopFront

Entry = TypeVar("Entry", bound=Strict)

NOTHING_SET = NewMachine(price_minor=0, installation_minor=0, life_years=0)  # all is given then


@dataclass(frozen=True, slots=True)
class SettingsCheck:
    """What a file of settings says: ``problems`` must be mended, ``remarks`` looked at.

    ``settings`` is None if there are problems. ``front`` is what customers and staff meet.
    """

    settings: ShopSettings | None
    problems: tuple[str, ...]
    remarks: tuple[str, ...]
    front: ShopFront = DEFAULT_FRONT


def read_settings(path: str | Path, networks: Sequence[FaultNetwork] = ()) -> ShopSettings:
    """Settings of a shop from its file.

    Parameters
    ----------
    path : str or Path
        A YAML file (docs/settings.md).
    networks : sequence of FaultNetwork
        The networks whose names the file may use, beside those that are shipped.

    Raises
    ------
    SettingsFileError
        The file has problems; the error lists every one with its line.
    """
    found = check_settings(path, networks)
    if found.settings is None:
        raise SettingsFileError(shown_path(Path(path)), found.problems)
    return found.settings


def settings_at(path: Path | None, networks: Sequence[FaultNetwork] = ()) -> ShopSettings:
    """Settings of a shop that may have no file: without a path the defaults.

    Raises
    ------
    SettingsFileError
    """
    return DEFAULT_SETTINGS if path is None else read_settings(path, networks)


def check_settings(path: str | Path, networks: Sequence[FaultNetwork] = ()) -> SettingsCheck:
    """Problems of a file of settings, and what looks odd in it without being wrong."""
    return _checked(read_marked(Path(path), shown_path(Path(path))), networks)


def check_settings_text(
    text: str, networks: Sequence[FaultNetwork] = (), place: str = "settings"
) -> SettingsCheck:
    """Problems of settings that are in no file; messages name them ``place``."""
    return _checked(marked_text(text, place), networks)


def _checked(marked: MarkedFile, networks: Sequence[FaultNetwork]) -> SettingsCheck:
    reader = _Reader(marked, _with_shipped(networks))
    settings = reader.settings()
    problems = (*reader.report.problems, *desk_in(marked)[1])
    if problems:
        return SettingsCheck(None, problems, ())
    remarks = tuple(_remarks(settings, reader.networks))
    return SettingsCheck(settings, (), remarks, reader.front())


def _with_shipped(networks: Sequence[FaultNetwork]) -> tuple[FaultNetwork, ...]:
    own = {network.id: network for network in networks}
    shipped = {name: load_network(name) for name in network_names()}
    return tuple({**shipped, **own}.values())


@dataclass
class _Reader:
    """Reads one file; what is wrong goes to ``report``."""

    marked: MarkedFile
    networks: Sequence[FaultNetwork]
    report: Report = field(default_factory=Report)

    def settings(self) -> ShopSettings:
        marked = self.marked
        for line, text in marked.problems:
            self.report.add_line(marked, line, f"{text}.")
        if not marked.is_sound:
            return DEFAULT_SETTINGS
        self.root = Place(file=marked)
        known = (
            *HEADER_NAMES,
            *section_models(),
            *OTHER_SECTIONS,
            *FRONT_SECTIONS,
            DESK_SECTION,
        )
        unknown: list[Unknown] = []
        self.data = without_unknown_keys(marked.data, known, unknown)
        add_unknown_keys(self.report, self.root, marked.data, unknown)
        header_data = {name: self.data[name] for name in HEADER_NAMES if name in self.data}
        header = self._entry(Header, header_data, self.root)
        if header is not None:
            self._check_currency(header.currency)
        self.front()
        settings = self._with_single_numbers(DEFAULT_SETTINGS)
        minutes = self._minutes()
        unrepaired = self._section(UnrepairedEntry, "unrepaired")
        if unrepaired is not None:
            settings = replace(
                settings,
                unrepaired_minor=_minor(unrepaired.cost),
                unrepaired_share=unrepaired.share_of_new_machine or 0.0,
            )
        return replace(
            settings,
            currency=header.currency if header else DEFAULT_SETTINGS.currency,
            source=header.source if header else DEFAULT_SETTINGS.source,
            new_machines={**DEFAULT_SETTINGS.new_machines, **self._new_machines()},
            parts=self._parts(),
            repair_minutes=minutes.repairs,
            observation_minutes=minutes.observations,
        )

    def front(self) -> ShopFront:
        """What customers and staff meet."""
        return front_of(self._section(ShopEntry, "shop"), self._section(TaxEntry, "tax"))

    def _with_single_numbers(self, settings: ShopSettings) -> ShopSettings:
        own: dict[bool, dict[str, Any]] = {True: {}, False: {}}
        models = {name: self._section(model, name) for name, model in section_models().items()}
        for setting in SETTINGS:
            value = getattr(models[setting.section], setting.name, None)
            if value is not None:
                own[setting.is_cost][setting.field] = setting.in_program(value)
        return replace(settings, costs=replace(settings.costs, **own[True]), **own[False])

    def _section(self, model: type[Entry], name: str) -> Entry | None:
        """Section of the file, or None if it is missing or bad."""
        if self.data.get(name) is None:
            return None
        return self._entry(model, self.data[name], self.root.at(name))

    def _entry(self, model: type[Entry], raw: object, place: Place) -> Entry | None:
        unknown: list[Unknown] = []
        try:
            return model.model_validate(raw, context=unknown)
        except ValidationError as error:
            add_validation_problems(self.report, place, error)
            return None
        finally:
            add_unknown_keys(self.report, place, raw, unknown)

    def _named_entries(
        self, model: type[Entry], section: str, thing: str, known: Mapping[str, object]
    ) -> Iterator[tuple[str, Entry, Place]]:
        """Good entries of a section whose keys are names of the networks."""
        raw = self.data.get(section) or {}
        place = self.root.at(section)
        if not isinstance(raw, dict):
            self.report.add(place, got=shown(raw), expected="a mapping (key: value)")
            return
        for name, data in raw.items():
            is_known = self._is_known(name, thing, known, place.at(name))
            entry = self._entry(model, data, place.at(name))
            if entry is not None and is_known:
                yield name, entry, place.at(name)

    def _is_known(self, name: str, thing: str, known: Mapping[str, object], place: Place) -> bool:
        """Whether the networks have that name; says so if not."""
        if name in known:
            return True
        names = tuple(known)
        got, expected = f'unknown {thing} "{name}"', f"one of {quoted(names)}"
        self.report.add(place, got=got, expected=expected, name=name, known=names)
        return False

    def _check_currency(self, currency: str) -> None:
        """One unit of money: parts cost in the networks' currency."""
        others = sorted({network.currency for network in self.networks} - {currency})
        if others:
            self.report.add(
                self.root.at("currency"),
                got=f'"{currency}"',
                expected=f"{quoted(others)}, in which the networks give the costs of parts",
            )

    def _minutes(self) -> MinutesEntry:
        raw, place = self.data.get("minutes"), self.root.at("minutes")
        if isinstance(raw, dict):
            repairs = {name: 0 for network in self.networks for name in network.repairs}
            observations = {name: 0 for network in self.networks for name in network.observations}
            for section, known in (("repairs", repairs), ("observations", observations)):
                names = raw.get(section)
                for name in names if isinstance(names, dict) else ():
                    self._is_known(name, section[:-1], known, place.at(section, name))
        return self._section(MinutesEntry, "minutes") or MinutesEntry()

    def _new_machines(self) -> dict[str, NewMachine]:
        kinds = {network.id: 0 for network in self.networks}
        machines = {}
        entries = self._named_entries(NewMachineEntry, "new_machines", "appliance kind", kinds)
        for kind, entry, place in entries:
            usual = DEFAULT_SETTINGS.new_machines.get(kind)
            price, installation = _minor(entry.price), _minor(entry.installation)
            given = {"price": price, "installation": installation, "life_years": entry.life_years}
            missing = [name for name, value in given.items() if value is None]
            if usual is None and missing:
                got = f"no {quoted(missing)}"
                self.report.add(place, got=got, expected="all three for a kind without a default")
                continue
            base = usual or NOTHING_SET
            life = entry.life_years
            machines[kind] = NewMachine(
                price_minor=base.price_minor if price is None else price,
                installation_minor=base.installation_minor
                if installation is None
                else installation,
                life_years=base.life_years if life is None else life,
            )
        return machines

    def _parts(self) -> dict[str, PartSettings]:
        known = {name: 0 for network in self.networks for name in network.parts}
        parts = {}
        for name, entry, place in self._named_entries(PartSettingsEntry, "parts", "part", known):
            self._check_patterns(entry, place)
            parts[name] = _part_settings(entry)
        return parts

    def _check_patterns(self, entry: PartSettingsEntry, place: Place) -> None:
        first: dict[str, str] = {}
        for number, variant in entry.numbers.items():
            for index, pattern in enumerate(variant.plates):
                other = first.setdefault(pattern.upper(), number)
                if other != number:
                    self.report.add(
                        place.at("numbers", number, "plates", index),
                        got=f'"{pattern}" again',
                        expected=f'it under one number (also under "{other}")',
                    )


def _part_settings(entry: PartSettingsEntry) -> PartSettings:
    cost = entry.cost
    ends = cost if isinstance(cost, list) else [cost, cost]
    low, high = (_minor(end) for end in ends)
    return PartSettings(
        cost_minor=None if low is None or high is None else (low, high),
        price_minor=_minor(entry.price),
        on_van=None if entry.on_van is None else OnVan(entry.on_van),
        stock=entry.stock,
        fit_share=1.0 if entry.fits is None else entry.fits,
        variants=tuple(
            Variant(
                number=number,
                plates=tuple(variant.plates),
                share=variant.share or 1.0 / len(entry.numbers),
                stock=variant.stock,
                cost_minor=_minor(variant.cost),
            )
            for number, variant in entry.numbers.items()
        ),
    )


def _minor(amount: float | None) -> int | None:
    return None if amount is None else round(amount * MINOR_UNITS)


def _remarks(settings: ShopSettings, networks: Sequence[FaultNetwork]) -> Iterator[str]:
    """What is allowed but looks like a slip."""
    costs = settings.costs
    if costs.labour_price_minor_per_hour < costs.technician_minor_per_hour:
        yield "An hour of repair is sold for less than an hour of a technician costs."
    if costs.return_trip_minor < costs.trip_minor:
        yield "Coming again costs less than coming; it holds a trip and the lost slot."
    if costs.service_fee_minor < costs.trip_minor:
        yield "The service fee does not cover the cost of the trip."
    known = {part.id: part for network in networks for part in network.parts.values()}
    for name, own in settings.parts.items():
        highest = (own.cost_minor or known[name].cost)[1]
        if own.price_minor is not None and own.price_minor < highest:
            yield f'Part "{name}" is sold for less than it may cost.'
        if own.variants and sum(variant.share for variant in own.variants) < 0.5:
            yield f'The numbers of part "{name}" fit less than half of the machines met.'
