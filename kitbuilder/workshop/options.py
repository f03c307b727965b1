"""Options: the ways to one goal, side by side, and what of it a customer gets to see.

Job types that share a `goal` are ways to it. Each is worked out over all open worlds: what is charged for parts and
labour (the least and the most of the sum in one world, not the sum of leasts and mosts), deposits apart, what findings
add on average, the earliest finish, and the chance of a second strip-down (`StripDown` says what that is).
"""

from collections.abc import Sequence
from datetime import datetime

from kitbuilder.calendar.wall import to_wall
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import WrongUse, offered
from kitbuilder.kit.build import build_kit
from kitbuilder.model.offer import Wanted
from kitbuilder.model.options import ChoiceSheet, Options
from kitbuilder.stock.quoting import wanted_items
from kitbuilder.vehicle.statements import Statement
from kitbuilder.workshop.asked import Asked, When, at_site, day_of
from kitbuilder.workshop.charges import Charges
from kitbuilder.workshop.way import OneWay


def ways_to(edition: Edition, name: str) -> tuple[str, tuple[str, ...]]:
    """The goal that a name means (a job type's, or itself) and the job types that are ways to it, in the catalogue's
    order. A job type without a goal is the only way to its own. Raises WrongUse for a name that is neither."""
    jobs = edition.heading.jobs
    goals = {job: goal for job, _, goal in jobs}
    if name in goals and not goals[name]:
        return "", (name,)
    goal = goals.get(name, name)
    ways = tuple(job for job, _, its in jobs if its == goal)
    if not ways:
        known = [*goals, *dict.fromkeys(goal for goal in goals.values() if goal)]
        raise WrongUse(f"There is neither a job nor a goal {name!r}. {offered(name, known)} "
                       "`kitbuilder jobs` lists all jobs.")
    return goal, ways


def compare(edition: Edition, name: str, statements: Sequence[Statement], charges: Charges, when: When | None = None,
            asked: Asked | None = None, warnings: Sequence[str] = ()) -> Options:
    """The ways to the goal that a name means. Raises as `ways_to` and `build_kit` do.

    Without `when` no finish is known; without `asked` finishes assume that all is there. `warnings` come first.
    """
    goal, jobs = ways_to(edition, name)
    built = [OneWay(edition, job, statements, charges, when, asked) for job in jobs]
    told = dict.fromkeys([*warnings, *(text for one in built for text in one.kit.warnings)])
    return Options(
        "kitbuilder.options/1", tuple(told), goal or name, edition.heading.currency, charges.tax or None,
        at_site(when.start, when) if when else None, asked is not None, tuple(one.way() for one in built))


def wanted_of(edition: Edition, name: str, statements: Sequence[Statement], when: When | None,
              now: datetime) -> tuple[Wanted, ...]:
    """What the stock sources are to be asked for: all that any of the ways may need, also what it may turn into."""
    jobs = dict.fromkeys(ways_to(edition, name)[1])
    found: dict[str, Wanted] = {}
    for job in [*jobs]:
        kit = build_kit(edition, job, statements)
        jobs |= dict.fromkeys(
            edition.findings[line.finding].turns_into for line in kit.lines if line.finding is not None)
    for job in jobs:
        if job:
            kit = build_kit(edition, job, statements)
            found |= {one.item: one for one in wanted_items(edition, kit, day_of(when, now))}
    return tuple(found.values())


def choice_sheet(options: Options, charges: Charges, vehicle: str, now: datetime, when: When | None) -> ChoiceSheet:
    """What the customer gets to see of a comparison: nothing of what the house pays, or of where things come from.
    `now`: when the sheet is made; `vehicle`: its registration, empty where it has none."""
    day = to_wall(now, when.site.zone).date() if when is not None else now.date()
    rule = "when kept" if charges.deposit_tax == "when kept" else "at once"
    return ChoiceSheet(options.goal, vehicle, day.isoformat(), options.currency, charges.tax, rule, not options.asked,
                       tuple(way.choice for way in options.ways))
