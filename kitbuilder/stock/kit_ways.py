"""Where items take others' place together: what a kit's lines may be filled with, before anything is planned."""

from collections.abc import Sequence
from datetime import date

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.catalogue.together import Ask, Choice, Part, choices
from kitbuilder.model.kit import Kit, Line

#: How much there is of each item, in thousandths of its quantity's smallest unit; None: any amount.
Pools = dict[str, int | None]


class KitWays:
    """The choices of a kit's lines on a day. Certain lines go together; what waits for something chooses for itself."""

    def __init__(self, edition: Edition, kit: Kit, day: date | None) -> None:
        self._of: dict[int, Choice] = {}
        if day is None or not getattr(edition.supersessions, "together", ()):
            return

        def unit_of(number: str) -> str | None:
            item = edition.known_item(number)
            return item.unit if item else None

        asks = [_ask(edition, number, line) for number, line in enumerate(kit.lines)]
        certain = [number for number, line in enumerate(kit.lines) if _sure(line)]
        alone = [[number] for number in range(len(kit.lines)) if number not in certain]
        for numbers in (certain, *alone):
            for choice in choices([asks[number] for number in numbers], edition.supersessions, day, unit_of):
                self._of |= {int(name): choice for name in choice.of}

    def items(self, number: int) -> tuple[str, ...]:
        """What may stand for a line beside what has taken its items' place one for one, by its place in the kit."""
        return tuple(dict.fromkeys(
            item for part in self._parts(number) for item in part.acceptable)) if number in self._of else ()

    def because(self, number: int) -> tuple[str, ...]:
        """Why, in sentences."""
        return tuple(dict.fromkeys(text for part in self._parts(number) for text in part.because))

    def bound(self, number: int) -> bool:
        """Whether a line is filled in one of several ways, or in another than it says."""
        return number in self._of

    def take(self, number: int, lines: Sequence[Line], pools: Pools) -> dict[int, int]:
        """Take what all lines of a line's choice need, in the way of which least is missing; what each is short of, in
        milli-units of the line."""
        choice = self._of[number]
        best: tuple[int, int, dict[str, int], Pools] | None = None
        for way in sorted({way for part in choice.parts for way in part.ways}):
            left = dict(pools)
            lacks = {part.name: _taken(part, left) for part in choice.parts if way in part.ways}
            missing = sum(lack > 0 for lack in lacks.values())
            if best is None or missing < best[0]:
                best = (missing, way, lacks, left)
        assert best is not None
        pools.update(best[3])
        found = dict.fromkeys(map(int, choice.of), 0)
        for part in choice.parts:
            lack = best[2].get(part.name, 0)
            for name in part.of if lack else ():
                line = lines[int(name)]
                # what stands for a line and isn't all there: nothing of the line is
                found[int(name)] = lack if part.unit == line.unit and not part.because else amount.parse(
                    line.amount, line.unit, line.unit)
        return found

    def _parts(self, number: int) -> list[Part]:
        return [part for part in self._of[number].parts if str(number) in part.of] if number in self._of else []


def _ask(edition: Edition, number: int, line: Line) -> Ask:
    role = edition.known_role(line.role)
    return Ask(str(number), line.acceptable, amount.parse(line.amount, line.unit, line.unit), line.unit,
               single=role is not None and bool(role.role.circuit))


def _sure(line: Line) -> bool:
    return line.certainty == "certain" and line.finding is None and line.advised is not True and bool(
        line.acceptable) and line.sort != "special tool"


def _taken(part: Part, pools: Pools) -> int:
    """Take a part from the pools; what is missing of it, in milli-units, rounded up."""
    finest = amount.MEASURED[part.unit][1] if part.unit in amount.MEASURED else 1
    return take(part.quantity * finest, part.acceptable, pools, finest)


def take(need: int, numbers: Sequence[str], pools: Pools, finest: int) -> int:
    """Take so much, in the pools' units, from the first items that have it; what is left over in the unit of which a
    thousandth is `finest` of them, rounded up: what is missing is never made less."""
    for number in numbers:
        left = pools[number]
        if left is None:
            return 0
        taken = min(need, left)
        pools[number] = left - taken
        need -= taken
    return -(-need // finest)

