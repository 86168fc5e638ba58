"""Cells that hold ids of a network: findings, causes, repairs, parts, minutes of steps."""

from collections.abc import Collection, Mapping
from dataclasses import replace

from triage.errors import ReadingError, UnknownAnswerError
from triage.inference.evidence import answers_accepted, finding_likelihood
from triage.network.renames import RETIRED
from triage.network.values import FaultNetwork, NetworkIndex
from triage.services.closing.columns import split_items
from triage.services.closing.keeping import MOST_MINOR, MOST_MINUTES, MOST_PIECES
from triage.services.closing.values import CauseClosed, Degree, PartUsed
from triage.services.learning import cells
from triage.services.learning.cells import CellError
from triage.services.learning.ids import IdsOf
from triage.services.learning.records import NUMBER, PIECES, PRICE, WITH


class Entries:
    """Reads the cells of one line; ``retired`` counts what is no longer asked and left out."""

    def __init__(self, ids: IdsOf) -> None:
        self.ids = ids
        self.network: FaultNetwork = ids.network
        self.retired = 0

    def findings(self, cell: str) -> tuple[tuple[str, str | float], ...]:
        """Findings, those of the phone before those on site."""
        found: list[tuple[str, str | float]] = []
        for name, answer in cells.read_pairs(cell, what="a finding", example="observation=answer"):
            present = self.present(
                self.ids.observation(name), name, self.network.observations, "an observation"
            )
            given = RETIRED if present == RETIRED else self._answer(present, answer)
            if given == RETIRED:
                self.retired += 1
            else:
                found.append((present, given))
        on_site = self.network.observations
        return tuple(sorted(found, key=lambda pair: on_site[pair[0]].channel.is_on_site))

    def _answer(self, name: str, text: str) -> str | float:
        observation = self.network.observations[name]
        found = self.ids.answer(name, text)
        if found is not None:
            return found
        try:
            value = float(text) if observation.reading is not None else text
            finding_likelihood(observation, value)
        except (ValueError, UnknownAnswerError, ReadingError):
            known = ", ".join(answers_accepted(observation))
            unit = f", or a number in {observation.reading.unit}" if observation.reading else ""
            raise CellError(
                f"{name}={text}", f"an answer to {name}: {known}{unit}", "Correct the answer."
            ) from None
        return value

    def causes(self, cell: str) -> tuple[CauseClosed, ...]:
        """Causes, each with how it is known."""
        known = NetworkIndex(self.network).modes
        found = []
        for name, written in cells.read_pairs(cell, what="a cause", example="cause=degree"):
            present = self.present(self.ids.cause(name), name, known, "a cause")
            if present == RETIRED:
                raise CellError(name, "a cause that the network still has", "Name today's cause.")
            degree, _, weight = written.partition(PRICE)
            chance = cells.read_number(weight, what="a weight", most=1.0) if weight else 1.0
            how = cells.read_choice(degree, Degree, what="how the cause is known")
            found.append(CauseClosed(present, how, chance))
        names = [one.cause for one in found]
        if len(set(names)) < len(names):
            raise CellError(cell.strip(), "each cause once", "Leave the second one out.")
        return tuple(found)

    def chosen_by(self, cell: str) -> Mapping[str, tuple[str, ...]]:
        """Observations that made somebody name a cause, by cause."""
        known = NetworkIndex(self.network).modes
        found = {}
        for name, written in cells.read_pairs(cell, what="a cause", example="cause=observation"):
            cause = self.present(self.ids.cause(name), name, known, "a cause")
            looks = [
                self.present(
                    self.ids.observation(one), one, self.network.observations, "an observation"
                )
                for one in (word.strip() for word in written.split(WITH))
            ]
            found[cause] = tuple(one for one in looks if one)
        return found

    def repairs(self, cell: str) -> tuple[str, ...]:
        """Repairs in their order."""
        known = self.network.repairs
        found = [
            self.present(self.ids.repair(name), name, known, "a repair")
            for name, _ in split_items(cell)
        ]
        return tuple(name for name in found if name)

    def parts(self, cell: str) -> tuple[PartUsed, ...]:
        """Parts that were fitted, all taken as aboard."""
        return tuple(self._part(word) for word, _ in split_items(cell))

    def _part(self, written: str) -> PartUsed:
        what, _, price = written.partition(PRICE)
        named, _, pieces = what.partition(PIECES)
        name, _, number = (word.strip() for word in named.partition(NUMBER))
        part = self.present(self.ids.part(name), name, self.network.parts, "a part")
        if part == RETIRED:
            raise CellError(name, "a part that the network still has", "Name today's part.")
        limit = {"what": "pieces of a part", "least": 1, "most": MOST_PIECES}
        return PartUsed(
            part=part,
            variant=number,
            pieces=cells.read_whole(pieces, **limit) if pieces.strip() else 1,  # type: ignore[arg-type]
            price_minor=cells.read_whole(price, what="a price", most=MOST_MINOR) if price else 0,
        )

    def minutes(self, cell: str) -> Mapping[str, float]:
        """Minutes by observation or repair."""
        known = {**self.network.observations, **self.network.repairs}
        found = {}
        for name, written in cells.read_pairs(cell, what="minutes", example="repair=25"):
            step = self.present(self.ids.step(name), name, known, "an observation or repair")
            if step:
                found[step] = cells.read_number(written, what="minutes", most=MOST_MINUTES)
        return found

    def chances(self, cell: str) -> Mapping[str, float]:
        """Chances of causes."""
        known = NetworkIndex(self.network).modes
        return {
            self.present(self.ids.cause(name), name, known, "a cause"): cells.read_number(
                written, what="a chance", most=1.0
            )
            for name, written in cells.read_pairs(cell, what="a chance", example="cause=0.4")
        }

    def present(self, found: str | None, name: str, known: Collection[str], what: str) -> str:
        """Present id, or ``RETIRED``; a name nobody knows is refused."""
        if found is None:
            return cells.read_known(name, known, what=f"{what} of {self.network.id}")
        return found


def not_aboard(cell: str, parts: tuple[PartUsed, ...]) -> tuple[PartUsed, ...]:
    """The parts fitted, those named in the cell marked as not on the van."""
    named = [name for name, _ in split_items(cell)]
    written = {f"{one.part}{NUMBER}{one.variant}" if one.variant else one.part for one in parts}
    for name in named:
        cells.read_known(name, written, what="a part out of those fitted")
    return tuple(
        replace(one, was_aboard=False)
        if (f"{one.part}{NUMBER}{one.variant}" if one.variant else one.part) in named
        else one
        for one in parts
    )
