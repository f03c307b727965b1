"""What a way to a goal costs, at least, at most and on average, against looking into every world and every way in which
findings may turn out. The judge shares no code with what it judges."""

import re
from fractions import Fraction
from itertools import product
from math import floor
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction
from kitbuilder.vehicle.statements import Statement
from kitbuilder.workshop.charges import Charges
from kitbuilder.workshop.options import compare
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge

SIZE = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1}
RATE = 9137
TAX = Fraction(175, 1000)


def rounded(value):
    """Half up to whole minor units."""
    return floor(value + Fraction(1, 2))


class Till:
    """Adds up one way, world by world."""

    def __init__(self, judges, job, prices, turns):
        self.judge, self.judges, self.prices, self.turns = judges[job], judges, prices, turns

    def price(self, line):
        """A line's price in minor units, 0 where it has none."""
        for number in self.judge.acceptable(line.key):
            if number in self.prices:
                minor, per = self.prices[number]
                unit = self.judge.items[number].unit
                many = Fraction(line.key.amount) * SIZE.get(line.key.unit, 1)
                return rounded(minor * many / (per * SIZE.get(unit, 1)))
        return 0

    def sold(self, lines):
        return sum(self.price(one) for one in lines if self.judge.roles[one.role].sort != "special tool")

    def lines(self, number, job=None):
        judge = self.judges[job] if job else self.judge
        return [one for role in judge.there[number].values() for one in role.lines if not one.key.is_nothing]

    def minutes(self, number, job=None):
        """The minutes of each stage in a world. A stage's own are 30 for the first, 15 more for each after it."""
        judge = self.judges[job] if job else self.judge
        found = dict.fromkeys(judge.job.stages, 0)
        for way in judge.ways:
            if judge.holds(way, judge.worlds[number]):
                for place, stage in enumerate(way.job.stages):
                    found[way.stages[stage]] += 30 + 15 * place
        return found

    def labour(self, minutes):
        return sum(rounded(Fraction(RATE * one, 60)) for one in minutes)

    def without_findings(self, number):
        return self.sold(one for one in self.lines(number) if not one.key.finding)

    def adds(self, number, finding):
        """What a finding adds where it is used, and whether it wants any line that isn't a tool."""
        own = [one for one in self.lines(number) if one.key.finding == finding]
        job = self.turns.get(finding)
        work = 0
        if job:
            theirs = [one for one in self.lines(number, job) if not one.key.finding]
            named = {one.role for one in theirs}
            bare = {(one.role, one.key.item, one.key.requirement, one.key.amount, one.key.unit)
                    for one in self.lines(number) if not one.key.finding}
            own = [one for one in own if one.role not in named] + theirs
            own = [one for one in own
                   if (one.role, one.key.item, one.key.requirement, one.key.amount, one.key.unit) not in bare]
            work = self.labour(
                minutes for stage, minutes in self.minutes(number, job).items()
                if stage not in self.judge.job.stages)
        return self.sold(own) + work, any(self.judge.roles[one.role].sort != "special tool" for one in own)

    def turned_out(self, number):
        """Every way in which the findings that have a line in a world turn out: its chance, and those used."""
        findings = {one.name: one for one in self.judge.spec.findings}
        there = sorted({one.key.finding for one in self.lines(number)} - {""})
        for occurs in product((True, False), repeat=len(there)):
            chance = Fraction(1)
            for name, so in zip(there, occurs, strict=True):
                chance *= Fraction(findings[name].chance) if so else 1 - Fraction(findings[name].chance)
            here = [name for name, so in zip(there, occurs, strict=True) if so]
            yield chance, [name for name in here if not any(name in self.judge.covered(other) for other in here)]


def minor(text):
    whole, _, cents = text.partition(".")
    assert len(cents) == 2
    return int(whole) * 100 + int(cents)


def spanned(both):
    return minor(both.least), minor(both.most)


def told_prices(folder, prices):
    rows = [f"{item},{minor // 100}.{minor % 100:02d},{per}\n" for item, (minor, per) in prices.items()]
    (folder / "selling.csv").write_text("item,price,per\n" + "".join(rows), "utf-8")


def tell_turns(folder, turns):
    text = (folder / "roles.toml").read_text("utf-8-sig")
    for finding, job in turns.items():
        text, count = re.subn(rf"(?m)^(\[findings\.\"?{re.escape(finding)}\"?\])$", rf'\1\nturns_into = "{job}"', text)
        assert count == 1
    (folder / "roles.toml").write_text(text, "utf-8")


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_sums_are_those_of_the_worlds(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    jobs = [job.name for job in spec.jobs]
    prices = {
        item.number: (data.draw(st.integers(0, 3000)), data.draw(st.sampled_from((1, 3, 100)))) for item in spec.items
        if data.draw(st.integers(0, 4))}
    turns = {one.name: data.draw(st.sampled_from(jobs)) for one in spec.findings if data.draw(st.booleans())}
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        told_prices(Path(folder), prices)
        tell_turns(Path(folder), turns)
        edition = read_edition(Path(folder))
    charges = Charges(RATE, "17.5")
    try:
        judges = {job: Judge(spec, job, statements) for job in jobs}
    except brute_worlds.Contradiction:
        with pytest.raises(Contradiction):
            compare(edition, jobs[0], told, charges)
        return
    found = compare(edition, "vehicle moves again", told, charges)
    note(repr((spec, prices, turns)))
    assert [way.choice.job for way in found.ways] == [job for job, _, _ in edition.heading.jobs]
    for way in found.ways:
        job = way.choice.job
        till = Till(judges, job, prices, {name: other for name, other in turns.items() if other != job})
        numbers = range(len(till.judge.worlds))
        parts = [till.without_findings(number) for number in numbers]
        labour = [till.labour(till.minutes(number).values()) for number in numbers]
        net = [one + other for one, other in zip(parts, labour, strict=True)]
        sums = way.choice.sums
        assert spanned(sums.parts) == (min(parts), max(parts))
        assert spanned(sums.labour) == (min(labour), max(labour))
        assert spanned(sums.net) == (min(net), max(net))
        assert spanned(sums.total) == tuple(one + rounded(one * TAX) for one in (min(net), max(net)))
        extra = open_to = Fraction(0)
        by_finding = {}
        for number in numbers:
            weight = till.judge.weights[number] / sum(till.judge.weights)
            for chance, used in till.turned_out(number):
                extra += weight * chance * sum(till.adds(number, name)[0] for name in used)
                open_to += weight * chance * any(till.adds(number, name)[1] for name in used)
                for name in used:
                    by_finding[name] = by_finding.get(name, 0) + weight * chance
        assert minor(sums.expected_extra) == rounded(extra)
        assert way.strip_down.chance == decimal(open_to)
        assert {one.finding: one.chance for one in way.choice.may_turn_out} == {
            name: decimal(chance) for name, chance in by_finding.items()}
        for one in way.choice.may_turn_out:
            adds = [till.adds(number, one.finding)[0] for number in numbers
                    if any(line.key.finding == one.finding for line in till.lines(number))]
            assert spanned(one.adds) == (min(adds), max(adds))


def decimal(value):
    """Four places, half to even, without needless zeros."""
    return f"{round(value * 10**4) / 10**4:.4f}".rstrip("0").rstrip(".")
