"""Draws a catalogue and the same one edited: rows, tables, facts, job types and requirements come, go and change."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from datetime import date, timedelta

from hypothesis import strategies as st

from tests.brute_worlds import worlds
from tests.draw_worlds import conditions
from tests.draws import TAKES, specs
from tests.specs import NOTHING, Fact, Fit, FitFile, Job, Layout, Spec, Table


@st.composite
def pairs(draw: st.DrawFn) -> tuple[Spec, Spec]:
    """Two catalogues, of which one was made from the other by two to six edits."""
    plain = draw(specs())
    edited = plain
    for edit in draw(st.lists(st.sampled_from(EDITS), min_size=2, max_size=6)):
        after = edit(draw, edited)
        # rows with shares may not overlap: they stay as they are, and so do the values that they speak of
        if not any(table.shares for table in after.tables) or _of_tables(after) == _of_tables(plain):
            edited = after
    # values and facts that come one way round go the other
    return (edited, plain) if draw(st.booleans()) else (plain, edited)


def _of_tables(spec: Spec) -> tuple[tuple[Table, ...], list[Fact]]:
    named = {fact for table in spec.tables for fact in table.facts}
    return spec.tables, [fact for fact in spec.facts if fact.name in named]


def _fits(spec: Spec, change: Callable[[list[Fit]], None], draw: st.DrawFn) -> Spec:
    """The catalogue with the rows of one file changed."""
    number = draw(st.integers(0, len(spec.fits) - 1))
    fits = list(spec.fits[number].fits)
    if not fits:
        return spec
    change(fits)
    file = FitFile(spec.fits[number].file, tuple(fits), Layout())
    return replace(spec, fits=(*spec.fits[:number], file, *spec.fits[number + 1:]))


def _drop_fit(draw: st.DrawFn, spec: Spec) -> Spec:
    return _fits(spec, lambda fits: fits.pop(draw(st.integers(0, len(fits) - 1))), draw)


def _change_fit(draw: st.DrawFn, spec: Spec) -> Spec:
    def change(fits: list[Fit]) -> None:
        at = draw(st.integers(0, len(fits) - 1))
        fit = fits[at]
        what = draw(st.sampled_from(("amount", "when", "finding", "nothing")))
        if what == "amount" and fit.item != NOTHING:
            fits[at] = replace(fit, amount=draw(st.sampled_from(("1", "3"))))
        elif what == "when" and not fit.otherwise:
            fits[at] = replace(fit, when=draw(conditions(spec.facts)))
        elif what == "finding" and fit.item != NOTHING and not fit.otherwise and spec.findings:
            fits[at] = replace(fit, finding=spec.findings[0].name)
        elif what == "nothing":
            fits[at] = replace(fit, item=NOTHING, requirement="", amount="", unit="", finding="")

    return _fits(spec, change, draw)


def _copy_fit(draw: st.DrawFn, spec: Spec) -> Spec:
    def change(fits: list[Fit]) -> None:
        fit = draw(st.sampled_from(fits))
        if not fit.otherwise:
            fits.append(replace(fit, when=draw(conditions(spec.facts))))

    return _fits(spec, change, draw)


def _takes(draw: st.DrawFn, spec: Spec) -> Spec:
    # "any" may have no `otherwise`, so it is left out
    role = draw(st.sampled_from(spec.roles))
    other = replace(role, takes=draw(st.sampled_from(TAKES[:-1])), circuit=draw(st.sampled_from(("", "unit-circuit"))))
    return replace(spec, roles=tuple(other if one is role else one for one in spec.roles))


def _stages(draw: st.DrawFn, spec: Spec) -> Spec:
    def other(job: Job) -> Job:
        return replace(job, roles={role: draw(st.sampled_from(job.stages)) for role in job.roles})

    job = draw(st.sampled_from(spec.jobs))
    return replace(spec, jobs=tuple(other(one) if one is job else one for one in spec.jobs))


def _includes(draw: st.DrawFn, spec: Spec) -> Spec:
    def other(job: Job) -> Job:
        if job.includes and draw(st.booleans()):
            return replace(job, includes=job.includes[1:])
        return replace(job, includes=tuple(replace(one, when=draw(conditions(spec.facts))) for one in job.includes))

    job = draw(st.sampled_from(spec.jobs))
    return replace(spec, jobs=tuple(other(one) if one is job else one for one in spec.jobs))


def _job(draw: st.DrawFn, spec: Spec) -> Spec:
    roles = {role.name: "work" for role in spec.roles[:2]}
    return replace(spec, jobs=(Job(f"new-{len(spec.jobs)}", roles=roles), *spec.jobs))


def _table_row(draw: st.DrawFn, spec: Spec) -> Spec:
    if not spec.tables:
        return spec
    number = draw(st.integers(0, len(spec.tables) - 1))
    table = spec.tables[number]
    if table.shares or len(table.rows) < 2:
        return spec
    at = draw(st.integers(0, len(table.rows) - 1))
    rows = (*table.rows[:at], *table.rows[at + 1:])
    if not all(any(fact in row for row in rows) for fact in table.facts):
        return spec
    after = replace(spec, tables=(*spec.tables[:number], replace(table, rows=rows), *spec.tables[number + 1:]))
    return after if worlds(after) else spec


def _no_table(draw: st.DrawFn, spec: Spec) -> Spec:
    return replace(spec, tables=spec.tables[1:])


def _value(draw: st.DrawFn, spec: Spec) -> Spec:
    fact = draw(st.sampled_from(spec.facts))
    if fact.is_range:
        first = draw(st.booleans())
        away = {"first": fact.first, "last": fact.last}
        for end, step in (("first", -2),) if first else (("last", 3),):
            value = away[end]
            away[end] = value + timedelta(days=step) if isinstance(value, date) else value + step  # type: ignore[operator]
        other: Fact = replace(fact, **away)
    else:
        if "another" in fact.values:
            return spec
        at = draw(st.integers(0, len(fact.values)))
        other = replace(fact, values=(*fact.values[:at], "another", *fact.values[at:]))
    return replace(spec, facts=tuple(other if one is fact else one for one in spec.facts))


def _fact(draw: st.DrawFn, spec: Spec) -> Spec:
    if any(fact.name == "retarder" for fact in spec.facts):
        return spec
    fact = Fact("retarder", values=("with", "without"))
    at = draw(st.integers(0, len(spec.facts)))
    after = replace(spec, facts=(*spec.facts[:at], fact, *spec.facts[at:]))

    def change(fits: list[Fit]) -> None:
        at = draw(st.integers(0, len(fits) - 1))
        if not fits[at].otherwise:
            fits[at] = replace(fits[at], when={**fits[at].when, "retarder": "with"})

    return _fits(after, change, draw)


def _item(draw: st.DrawFn, spec: Spec) -> Spec:
    item = draw(st.sampled_from(spec.items))
    other = replace(item, rank=draw(st.sampled_from(("", "1", "3"))), listed=(), name="Other name")
    return replace(spec, items=tuple(other if one is item else one for one in spec.items))


EDITS = (
    _change_fit, _value, _table_row, _drop_fit, _copy_fit, _stages, _table_row, _value, _change_fit, _fact, _takes,
    _includes, _no_table, _value, _item, _job)
