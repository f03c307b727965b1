"""Draws whole small catalogues that the rules accept: roles, items, jobs in jobs, fits."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from hypothesis import strategies as st

from tests.brute_worlds import cell_values
from tests.draw_worlds import conditions, facts, layouts, statements, tables
from tests.specs import NOTHING, Fact, Finding, Fit, FitFile, Include, Item, Job, Requirement, Role, Spec

__all__ = ["specs", "statements"]

ROLE_NAMES = ("unit", "first-fill", "second-fill", "line-fuse", "seal", "thread-tap")
TAKES = ("one", "one", "at least one", "at most one", "any")
SORTS = ("part", "single-use", "consumable", "special tool", "exchange unit", "software")
CIRCUITS = ("", "", "unit-circuit", "gearbox-circuit")
FINDINGS = ("clutch-worn", "bearing-worn", "port-damaged")
CAUTIONS = ("stored-pressure", "hot-exhaust", "chocks")
STAGES = ("strip", "change the unit", "refit", "road test")
JOBS = ("refit-all", "gearbox-out", "actuator", "bleed")
NUMBERS = ("A-10", "A-2", "b-1", "Ä-7", "B-1")
NAMES = ("Unit", "Öl, 1 L", "Fuse; blade", 'Seal "wide"')
SPECIFICATIONS = ("GX 12", "Oil sheet 7", "TR-A")
GRADES = {
    "75W-80": ("75W-80", "75w80", "SAE 75W-80", "75 w 80"),
    "75W-90": ("75W-90", "75w90", "SAE 75W-90", "75 w 90"),
    "80W-90": ("80W-90", "sae 80w90"),
    "85W-140": ("85W-140", "85w-140"),
}
FUSES = (
    ("medium", "5"),
    ("medium", "15"),
    ("medium", "20"),
    ("medium", "30"),
    ("maxi", "20"),
    ("maxi", "60"),
)
UNITS = (("each",), ("set",), ("pair",), ("L", "mL"), ("kg", "g"), ("m", "mm"))
COUNTS = ("1", "1", "2", "12")
MEASURES = ("0.5", "500", "1", "1.50", "1500", "250", "0.125", "0.001")
FINE_MEASURES = (*MEASURES, "0.0004", "0.4", "1.0005")
NOTES = ("", "", "", "common practice", "on two\nlines", 'says "so"; really, yes')


@dataclass(frozen=True)
class Stock:
    """What fits are drawn from."""

    facts: tuple[Fact, ...]
    items: tuple[Item, ...]
    requirements: tuple[Requirement, ...]
    findings: tuple[Finding, ...]


@st.composite
def specs(draw: st.DrawFn) -> Spec:
    """A small catalogue that the rules accept."""
    of = draw(facts())
    roles = tuple(draw(_roles(name)) for name in ROLE_NAMES[: draw(st.integers(1, len(ROLE_NAMES)))])
    jobs = draw(_jobs(of, [role.name for role in roles]))
    stock = Stock(of, draw(_items()), draw(_requirements()), draw(_findings()))
    return Spec(
        facts=of,
        jobs=jobs,
        roles=roles,
        items=stock.items,
        fits=draw(_fit_files(stock, roles, jobs)),
        tables=draw(tables(of)),
        findings=stock.findings,
        requirements=stock.requirements,
        cautions={name: f"Mind {name}." for name in CAUTIONS},
        items_layout=draw(layouts()),
    )


def _roles(name: str) -> st.SearchStrategy[Role]:
    return st.builds(
        Role,
        name=st.just(name),
        takes=st.sampled_from(TAKES),
        circuit=st.sampled_from(CIRCUITS),
        sort=st.sampled_from(SORTS),
        title=st.just(f"The {name}"),
    )


@st.composite
def _findings(draw: st.DrawFn) -> tuple[Finding, ...]:
    """Findings of which each covers only later ones, so that there is no cycle."""
    names = FINDINGS[: draw(st.integers(0, len(FINDINGS)))]
    found = []
    for number, name in enumerate(names):
        later = [other for other in names[number + 1 :] if draw(st.booleans())]
        found.append(Finding(name, draw(st.sampled_from(("0.12", "0.5", "0.333", "0.05"))), tuple(later)))
    return tuple(found)


@st.composite
def _items(draw: st.DrawFn) -> tuple[Item, ...]:
    found = []
    for number in draw(st.lists(st.sampled_from(NUMBERS), min_size=3, max_size=5, unique=True)):
        item = Item(
            number, name=draw(st.sampled_from(NAMES)), rank=draw(st.sampled_from(("", "1", "2", "10")))
        )
        kind = draw(st.sampled_from(("gear oil", "", "gear oil", "blade fuse")))
        if kind == "gear oil":
            listed = tuple(one for one in SPECIFICATIONS if draw(st.booleans()))
            claimed = tuple(one for one in SPECIFICATIONS if one not in listed and draw(st.booleans()))
            unit = draw(st.sampled_from(("L", "L", "mL", "kg")))
            item = replace(item, kind=kind, unit=unit, properties={"grade": draw(_grades())})
            item = replace(item, listed=listed, claimed=claimed)
        elif kind == "blade fuse":
            body, rating = draw(st.sampled_from(FUSES))
            properties = {"body": body, "rating": rating, "voltage": draw(st.sampled_from(("32", "58")))}
            item = replace(
                item, kind=kind, unit=draw(st.sampled_from(("each", "each", "set"))), properties=properties
            )
        else:
            item = replace(item, unit=draw(st.sampled_from([unit for units in UNITS for unit in units])))
        found.append(item)
    return tuple(found)


def _grades() -> st.SearchStrategy[str]:
    return st.sampled_from(("75W-80", "75W-80", "75W-80", "75W-90", "80W-90", "85W-140")).flatmap(
        lambda grade: st.sampled_from(GRADES[grade])
    )


@st.composite
def _requirements(draw: st.DrawFn) -> tuple[Requirement, ...]:
    found = []
    for name in ("unit-oil", "box-oil", "fuse")[: draw(st.integers(0, 3))]:
        if name == "fuse":
            body, rating = draw(st.sampled_from(FUSES))
            least = draw(st.sampled_from(({}, {"voltage": "32"}, {"voltage": "58"})))
            found.append(
                Requirement(name, "blade fuse", {"body": body, "rating": rating}, least, title="A fuse")
            )
            continue
        listed = tuple(one for one in SPECIFICATIONS if draw(st.integers(0, 3)) == 3)
        claimed = tuple(one for one in SPECIFICATIONS if one not in listed and draw(st.integers(0, 3)) == 3)
        found.append(
            Requirement(name, "gear oil", {"grade": draw(_grades())}, {}, listed, claimed, f"Oil {name}")
        )
    return tuple(found)


@st.composite
def _jobs(draw: st.DrawFn, of: tuple[Fact, ...], roles: Sequence[str]) -> tuple[Job, ...]:
    """Jobs of which each includes only later ones, so that there is no cycle."""
    names = JOBS[: draw(st.integers(1, len(JOBS)))]
    made: list[Job] = []
    for name in reversed(names):
        stages = tuple(draw(st.lists(st.sampled_from(STAGES), min_size=1, max_size=3, unique=True)))
        own = draw(st.lists(st.sampled_from(roles), min_size=0 if made else 1, unique=True))
        includes = []
        for inner in draw(st.lists(st.sampled_from(made), max_size=2)) if made else []:
            onto = {stage: draw(st.sampled_from(stages)) for stage in inner.stages}
            includes.append(Include(inner.name, onto, draw(conditions(of))))
        cautions = tuple(draw(st.lists(st.sampled_from(CAUTIONS), max_size=2, unique=True)))
        listed = {role: draw(st.sampled_from(stages)) for role in own}
        file = draw(st.sampled_from(("jobs/a.toml", "jobs/B.toml")))
        made.append(Job(name, stages, listed, tuple(includes), cautions, file))
    return tuple(reversed(made))


@st.composite
def _fit_files(
    draw: st.DrawFn, stock: Stock, roles: Sequence[Role], jobs: Sequence[Job]
) -> tuple[FitFile, ...]:
    """Fits for most roles in most jobs, dealt out to some files."""
    otherwise: set[tuple[str, str]] = set()
    fits: list[Fit] = []
    for role in roles:
        listing = [job.name for job in jobs if role.name in job.roles]
        if not listing:
            continue
        some = st.lists(st.sampled_from([*listing, ""]), min_size=1, max_size=3, unique=True)
        for scope in draw(st.one_of(st.sampled_from((listing, [""], [*listing, ""])), some)):
            fits += draw(_fits(stock, Fit(role.name, job=scope)))
            held = {(job, role.name) for job in ([scope] if scope else listing)}
            if role.takes != "any" and not held & otherwise and draw(st.booleans()):
                otherwise |= held
                plain = draw(_filled(stock, Fit(role.name, job=scope, otherwise=True)))
                fits.append(plain)
    fits = draw(st.permutations(fits))
    names = ("fits/unit.csv", "fits/Extra.csv", "fits/oils.csv")[: draw(st.integers(1, 3))]
    dealt: dict[str, list[Fit]] = {name: [] for name in names}
    for fit in fits:
        dealt[draw(st.sampled_from(names))].append(replace(fit, note=draw(st.sampled_from(NOTES))))
    return tuple(FitFile(name, tuple(some), draw(layouts())) for name, some in dealt.items())


@st.composite
def _fits(draw: st.DrawFn, stock: Stock, start: Fit) -> list[Fit]:
    """Fits that split the vehicles in two, or that have any conditions; now and then a twin."""
    fits: list[Fit] = []
    shape = draw(st.sampled_from(("split", "always", "split", "free", "split")))
    if shape == "always":
        fits.append(draw(_filled(stock, start)))
    elif shape == "split":
        shared = draw(st.one_of(st.just({}), conditions(stock.facts, most=1)))
        for cell, fact in _halves(stock, draw(conditions(stock.facts, least=1, most=1))):
            fits.append(draw(_filled(stock, replace(start, when=shared | {fact: cell}))))
    else:
        for _ in range(draw(st.integers(0, 3))):
            fits.append(draw(_filled(stock, replace(start, when=draw(conditions(stock.facts))))))
    if fits and draw(st.integers(0, 4)) == 0:
        when = draw(st.sampled_from((fits[0].when, {}, draw(conditions(stock.facts)))))
        fits.append(draw(_respelled(replace(fits[0], when=when))))
    return fits


def _halves(stock: Stock, chosen: dict[str, str]) -> list[tuple[str, str]]:
    """A cell and what it leaves out, if it leaves anything out, each with its fact."""
    halves = []
    for fact, cell in chosen.items():
        bare = cell.strip()
        rest = bare.removeprefix("not ") if bare.startswith("not ") else f"not {bare}"
        left = cell_values(next(one for one in stock.facts if one.name == fact), rest)
        halves += [(cell, fact), (rest, fact)] if left else [(cell, fact)]
    return halves


@st.composite
def _filled(draw: st.DrawFn, stock: Stock, fit: Fit) -> Fit:
    """The fit with an item, a requirement or nothing, an amount, perhaps a finding."""
    if draw(st.integers(0, 8)) == 8:
        return replace(fit, item=NOTHING)
    if stock.requirements and draw(st.integers(0, 2)) == 2:
        requirement = draw(st.sampled_from(stock.requirements))
        units = ["each"] if requirement.kind == "blade fuse" else ["L", "L", "mL", "kg"]
        fit = replace(fit, requirement=requirement.name)
    else:
        item = draw(st.sampled_from(stock.items))
        units = next(list(units) for units in UNITS if item.unit in units)
        fit = replace(fit, item=item.number)
    unit = draw(st.sampled_from(units))
    counted = unit in ("each", "set", "pair")
    amount = draw(st.sampled_from(COUNTS if counted else FINE_MEASURES if fit.item else MEASURES))
    if stock.findings and not fit.otherwise and draw(st.integers(0, 2)) == 2:
        fit = replace(fit, finding=draw(st.sampled_from(stock.findings)).name)
    return replace(fit, amount=amount, unit=unit)


@st.composite
def _respelled(draw: st.DrawFn, fit: Fit) -> Fit:
    """The same fit with its amount in another spelling."""
    smaller = {"L": "mL", "kg": "g", "m": "mm"}.get(fit.unit)
    if smaller and fit.item and draw(st.booleans()):
        return replace(fit, amount=f"{Decimal(fit.amount) * 1000:f}", unit=smaller)
    return replace(fit, amount=f"{fit.amount}0" if "." in fit.amount else fit.amount)
