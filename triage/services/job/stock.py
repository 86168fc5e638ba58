"""The stock of a van: counted, used, refilled; and what is missing.

A shop that has never counted a van gets the stock that its settings, or the usual equipment of
the trade, say. Once a piece was counted, its count is the sum of its moves.
"""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace

from triage.errors import UnusableEntryError
from triage.network.catalogue import load_network, network_names
from triage.network.values import OnVan, Part
from triage.planning.shop.settings import PartSettings, ShopSettings
from triage.services.call_log.change import Entry
from triage.store.database import Database
from triage.store.stock import NewMove, Piece, add_moves, moves_sent, stock_of
from triage.store.visits import StoredVan, read_van, van_to_book

USUAL_PIECES = 1  # wanted of a part that is usually carried, where the settings say nothing
COUNT_MAX = 999
COUNTED, REFILLED = "counted", "refilled"


@dataclass(frozen=True, slots=True, kw_only=True)
class StockLine:
    """A piece of the van: how many are aboard, and how many are wanted.

    ``aboard`` is None where the piece was never counted. ``id`` names it in a form.
    """

    part: Part
    variant: str
    aboard: int | None
    wanted: int

    @property
    def id(self) -> str:
        """Name of the piece in a form."""
        return f"{self.part.id}:{self.variant}"

    @property
    def missing(self) -> int:
        """Pieces to take along to the level wanted; an uncounted piece is taken as aboard."""
        return 0 if self.aboard is None else max(0, self.wanted - self.aboard)


@dataclass(frozen=True, slots=True)
class VanStock:
    """Stock of a van, by title of the part."""

    van: StoredVan
    lines: tuple[StockLine, ...]

    @property
    def to_refill(self) -> tuple[StockLine, ...]:
        """What is below the level wanted."""
        return tuple(line for line in self.lines if line.missing)


def van_stock(database: Database, van_id: int, settings: ShopSettings) -> VanStock:
    """Stock of a van: every part that is carried or was ever counted.

    Raises
    ------
    UnknownVanError
    """
    with database.reading() as session:
        van = read_van(session, van_id)
        found = stock_of(session, van_id)
    return VanStock(van, tuple(_lines(settings, found)))


def count_stock(
    database: Database,
    van_id: int,
    counts: Mapping[str, int],
    settings: ShopSettings,
    entry: Entry,
) -> None:
    """Set the stock to what was counted, by the ``id`` of each line; others stay as they are.

    Raises
    ------
    UnknownVanError
    UnusableEntryError
        A piece is not carried, or a count is out of range.
    """
    _change(database, van_id, counts, settings, entry, COUNTED)


def refill_stock(
    database: Database,
    van_id: int,
    pieces: Mapping[str, int],
    settings: ShopSettings,
    entry: Entry,
) -> None:
    """Add pieces that were put aboard, by the ``id`` of each line.

    Raises
    ------
    UnknownVanError
    UnusableEntryError
        A piece is not carried, or a number is out of range.
    """
    _change(database, van_id, pieces, settings, entry, REFILLED)


def settings_with_stock(settings: ShopSettings, stock: Mapping[Piece, int]) -> ShopSettings:
    """Settings whose counts are those of a van; pieces never counted stay as they are set.

    Where a part usually is stays as well, so that the network, and with it what was computed of
    it, is the same for every van.
    """
    parts = dict(settings.parts)
    usual = {part.id: part.on_van for part in every_part()}
    for (part, variant), count in stock.items():
        own = parts.get(part, PartSettings())
        place = own.on_van or _place(usual.get(part, OnVan.SOMETIMES), own)
        own = replace(own, on_van=place)
        pieces = max(0, count)
        if variant:
            kept = tuple(
                replace(one, stock=pieces) if one.number == variant else one for one in own.variants
            )
            parts[part] = replace(own, variants=kept)
        else:
            parts[part] = replace(own, stock=pieces)
    return replace(settings, parts=parts)


def every_part() -> tuple[Part, ...]:
    """Parts of every network, each once, by title."""
    found: dict[str, Part] = {}
    for name in network_names():
        found |= {part.id: part for part in load_network(name).parts.values()}
    return tuple(sorted(found.values(), key=lambda part: (part.title, part.id)))


def _place(usual: OnVan, own: PartSettings) -> OnVan:
    """Where settings put a part that has counts and no place of its own."""
    if own.stock is None and not own.variants:
        return usual
    if own.stock or any(one.stock for one in own.variants):
        return OnVan.USUALLY
    return OnVan.SOMETIMES if usual is OnVan.USUALLY else usual


def _lines(settings: ShopSettings, found: Mapping[Piece, int]) -> Iterable[StockLine]:
    for part in every_part():
        own = settings.parts.get(part.id, PartSettings())
        place = own.on_van or _place(part.on_van, own)
        wanted = {one.number: one.stock for one in own.variants}
        if not wanted:
            usual = USUAL_PIECES if place is OnVan.USUALLY else 0
            wanted = {"": usual if own.stock is None else own.stock}
        counted = {variant for name, variant in found if name == part.id}
        for variant in sorted({*wanted, *counted}):
            line = StockLine(
                part=part,
                variant=variant,
                aboard=found.get((part.id, variant)),
                wanted=wanted.get(variant) or 0,
            )
            if line.aboard is not None or line.wanted or place is not OnVan.ORDERED:
                yield line


def _change(
    database: Database,
    van_id: int,
    numbers: Mapping[str, int],
    settings: ShopSettings,
    entry: Entry,
    reason: str,
) -> None:
    client_id = entry.submission.client_id
    with database.writing() as session:
        van_to_book(session, van_id)
        if moves_sent(session, client_id):
            return
        found = stock_of(session, van_id)
        known = {line.id: line for line in _lines(settings, found)}
        moves = []
        for name, number in numbers.items():
            if name not in known:
                raise UnusableEntryError(f'piece "{name}"', "one that this van carries", name)
            if not 0 <= number <= COUNT_MAX:
                raise UnusableEntryError(f"{number} pieces", f"0 to {COUNT_MAX}", name)
            line = known[name]
            pieces = number - (line.aboard or 0) if reason == COUNTED else number
            if pieces or (reason == COUNTED and line.aboard is None):
                moves.append(
                    NewMove(part=line.part.id, variant=line.variant, pieces=pieces, reason=reason)
                )
        add_moves(session, van_id, moves, client_id, entry.at, entry.by)
