"""What open questions take of a thing, at least and at most, against looking into every world."""

from collections import defaultdict
from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction
from kitbuilder.kit.totals import totals
from kitbuilder.vehicle.statements import Statement
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge
from tests.specs import Fact, Fit, FitFile, Include, Item, Job, Requirement, Role, Spec

SMALLEST = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1}
QUANTITY = {"L": "volume", "mL": "volume", "kg": "mass", "g": "mass", "m": "length", "mm": "length"}


def opened(spec):
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        return read_edition(Path(folder))


def plainly(judge):
    """For each thing that lines without a finding ask for: its sum in every open world, in smallest units; and which
    of them some line asks for only in some worlds."""
    fillers, lines = set(), defaultdict(set)
    for number, there in enumerate(judge.there):
        for role in there.values():
            for line in role.lines:
                if not line.key.is_nothing and not line.key.finding:
                    fillers.add(named(line.key))
                    lines[line].add(number)
    sums = {
        filler: [
            sum(
                line.key.amount * SMALLEST.get(line.key.unit, 1)
                for role in there.values()
                for line in role.lines
                if not line.key.is_nothing and not line.key.finding and named(line.key) == filler
            )
            for there in judge.there
        ]
        for filler in fillers
    }
    everywhere = set(range(len(judge.there)))
    return sums, {named(line.key) for line, worlds in lines.items() if worlds != everywhere}


def named(key):
    return key.item or key.requirement, bool(key.item), QUANTITY.get(key.unit, key.unit)


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_least_and_most_are_those_of_the_worlds(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    try:
        judge = Judge(spec, job, statements)
    except brute_worlds.Contradiction:
        with pytest.raises(Contradiction):
            totals(opened(spec), job, told)
        return
    found = totals(opened(spec), job, told)
    note(repr(spec))
    sums, only_possible = plainly(judge)
    assert {(one.filler, one.is_item, QUANTITY.get(one.unit, one.unit)) for one in found} == only_possible
    for one in found:
        worlds = sums[one.filler, one.is_item, QUANTITY.get(one.unit, one.unit)]
        size = SMALLEST.get(one.unit, 1)
        assert (one.least * size, one.most * size) == (min(worlds) * 1000, max(worlds) * 1000)
        assert one.least <= one.most


PLACES = Fact("place", "job", values=("workshop", "road"))
BODY = Fact("body", values=("tipper", "tanker"))


PIECES = (Item("X"), Item("Y"))


def small(fits, roles=("a", "b"), jobs=(), items=PIECES, requirements=()):
    return Spec(
        facts=(PLACES, BODY),
        jobs=jobs or (Job("work", ("first", "then"), dict.fromkeys(roles, "first")),),
        roles=tuple(Role(role, "any") for role in roles),
        items=items,
        requirements=requirements,
        fits=(FitFile("fits/fits.csv", tuple(fits)),),
    )


def amounts(spec, statements=(), edited=None, job="work"):
    found = totals(opened(spec), job, statements, *([edited] if edited else []))
    return {one.filler: (one.least, one.most, one.unit) for one in found}


def test_what_every_answer_takes_is_the_least_though_no_line_is_certain():
    spec = small(
        [
            Fit("a", "X", amount="2", unit="each", when={"place": "workshop"}),
            Fit("b", "X", amount="3", unit="each", when={"place": "road"}),
        ]
    )
    assert amounts(spec) == {"X": (2000, 3000, "each")}
    assert amounts(spec, [Statement("place", "road", "told")]) == {}


def test_a_line_that_only_changes_its_stage_is_taken_in_every_world():
    inner = Job("inner", ("in",), {"a": "in"})
    outer = Job(
        "work",
        ("first", "then"),
        {},
        (Include("inner", {"in": "first"}, {"place": "workshop"}), Include("inner", {"in": "then"})),
    )
    spec = small([Fit("a", "X", amount="1", unit="each")], ("a",), (outer, inner))
    assert amounts(spec) == {"X": (1000, 1000, "each")}


def test_litres_and_millilitres_of_one_requirement_are_one_thing():
    oil = Item("O", "L", kind="gear oil", properties={"grade": "75W-80"})
    wanted = Requirement("oil", "gear oil", {"grade": "75W-80"})
    spec = small(
        [
            Fit("a", requirement="oil", amount="1", unit="L", when={"place": "road"}),
            Fit("b", requirement="oil", amount="250", unit="mL", when={"place": "workshop"}),
        ],
        items=(oil,),
        requirements=(wanted,),
    )
    assert amounts(spec) == {"oil": (250_000, 1_000_000, "mL")}
    assert totals(opened(spec), "work", ())[0].acceptable == ("O",)


def test_edits_change_what_is_taken():
    spec = small(
        [
            Fit("a", "X", amount="2", unit="each", when={"place": "road"}),
            Fit("b", "Y", amount="3", unit="each", when={"place": "workshop"}),
        ]
    )

    def struck(role, key):
        return None if role == "a" else key

    def swapped(role, key):
        return msgspec.structs.replace(key, item="Y") if role == "a" else key

    assert amounts(spec, edited=struck) == {"Y": (0, 3000, "each")}
    assert amounts(spec, edited=swapped) == {"Y": (2000, 3000, "each")}


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=25)
@given(st.data())
def test_what_is_told_narrows_the_totals(data):
    spec = data.draw(draws.specs())
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    fact = data.draw(st.sampled_from(spec.facts))
    cell = data.draw(st.sampled_from(fact.domain()))
    edition = opened(spec)
    before = {(one.filler, one.is_item): one for one in totals(edition, job, ())}
    try:
        after = totals(edition, job, [Statement(fact.name, cell, "told")])
    except Contradiction:
        assume(False)
    for one in after:
        wider = before.get((one.filler, one.is_item), one)
        if wider.unit == one.unit:
            assert wider.least <= one.least <= one.most <= wider.most
