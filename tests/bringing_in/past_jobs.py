"""Makes past jobs from a catalogue that is known: random vehicles, their kits, findings drawn, slips of the pen."""

import random
from collections.abc import Iterator, Sequence
from typing import NamedTuple

from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import build_kit
from kitbuilder.model.bringing_in import RowRead
from kitbuilder.model.kit import Kit
from kitbuilder.vehicle.statements import TOLD, Statement


class Done(NamedTuple):
    """A job that was done: the vehicle, its kit as the catalogue builds it, and what was really used by item."""

    name: str
    facts: dict[str, str]
    kit: Kit
    used: dict[str, float]


def vehicle(edition: Edition, dice: random.Random) -> dict[str, str]:
    """A vehicle that can exist: fact by fact, one of the values that those before it leave."""
    worlds = edition.space.all()
    found = {}
    for number, fact in enumerate(edition.facts):
        first, last = dice.choice(worlds.opened(number))
        place = dice.randint(first, last)
        worlds = worlds.where(number, ((place, place),))
        found[fact.name] = fact.value(place)
    return found


def items_of(kit: Kit, occurred: Sequence[str] = ()) -> dict[str, float]:
    """What a kit says is used, by item: lines without a finding, and those whose finding occurred."""
    found: dict[str, float] = {}
    for line in kit.lines:
        if line.certainty == "certain" and (line.finding is None or line.finding in occurred):
            item = line.item or line.acceptable[0]
            found[item] = found.get(item, 0) + float(line.amount)
    return found


def done_jobs(edition: Edition, job: str, count: int, seed: int, slips: float = 0.0) -> Iterator[Done]:
    """So many jobs; `slips`: the share of lines that were not written down."""
    dice = random.Random(seed)
    for number in range(count):
        facts = vehicle(edition, dice)
        kit = build_kit(edition, job, [Statement(name, value, TOLD) for name, value in facts.items()])
        drawn = [name for name, one in edition.findings.items() if dice.random() < one.chance[0] / one.chance[1]]
        occurred = [name for name in drawn if not set(edition.findings[name].covered_by) & set(drawn)]
        used = {item: amount for item, amount in items_of(kit, occurred).items() if dice.random() >= slips}
        yield Done(f"J-{number:03d}", facts, kit, used)


def rows_of(jobs: Sequence[Done], edition: Edition) -> list[RowRead]:
    """Their lines as a sheet has them."""
    found: list[RowRead] = []
    for job in jobs:
        for item, amount in job.used.items():
            unit = edition.item(item).unit
            cells = {"id": job.name, "item": item, "amount": f"{amount:g}", "unit": unit, **job.facts}
            found.append(RowRead(len(found) + 2, cells))
    return found
