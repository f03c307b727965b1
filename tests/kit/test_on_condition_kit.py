"""What goes along with a kit, against looking into every world, at every set of findings, at every kit."""

from collections import defaultdict
from fractions import Fraction as F
from itertools import product
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st
from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.conditions import Conditions
from kitbuilder.kit.on_condition import with_along
from kitbuilder.vehicle.statements import TOLD, Statement
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge

SMALLEST = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1}
QUANTITY = {"L": "volume", "mL": "volume", "kg": "mass", "g": "mass", "m": "length", "mm": "length"}
#: So dear that costs differ in every digit that is shown.
CONDITIONS = Conditions("", (), stopped=10**9, handling=3 * 10**7)


def plainly(judge, spec):
    """The least expected cost, and the greatest chance to complete the job at it; None if that is too much to look
    at."""
    roles = {role.name: role for role in spec.roles}
    covered = {one.name: one for one in spec.findings}
    certain = set.intersection(*({line for there in world.values() for line in there.lines} for world in judge.there))
    aboard = defaultdict(int)
    for line in certain:
        if not line.key.is_nothing and not line.key.finding and roles[line.role].sort == "special tool":
            thing = thing_of(line, roles)
            aboard[thing] = max(aboard[thing], smallest(line.key))

    def covers(over, under, seen=()):
        return over not in seen and any(
            one == under or covers(one, under, (*seen, over)) for one in covered[over].covers)

    worlds = defaultdict(F)
    total = sum(judge.weights)
    for there, weight in zip(judge.there, judge.weights, strict=True):
        lines = frozenset(
            line for role in there.values() for line in role.lines if line.key.finding and not line.key.is_nothing)
        worlds[lines] += F(weight) / F(total)
    things = sorted({thing_of(line, roles) for lines in worlds for line in lines if can_be_had(judge, line)})
    if len(things) > 4 or len(worlds) > 30:
        return None
    demands = []
    for lines, weight in worlds.items():
        names = sorted({line.key.finding for line in lines})
        if len(names) > 5:
            return None
        for occurs in product((False, True), repeat=len(names)):
            chance = weight
            for name, so in zip(names, occurs, strict=True):
                chance *= F(covered[name].chance) if so else 1 - F(covered[name].chance)
            there = [name for name, so in zip(names, occurs, strict=True) if so]
            used = [line for line in lines if line.key.finding in there
                    and not any(covers(other, line.key.finding) for other in there)]
            takes = defaultdict(int)
            for line in used:
                thing = thing_of(line, roles)
                takes[thing] = max(takes[thing], smallest(line.key)) if thing[0] else takes[thing] + smallest(line.key)
            possible = all(can_be_had(judge, line) for line in used)
            demands.append((chance, {thing: much for thing, much in takes.items() if much > aboard[thing]}, possible))
    amounts = [sorted({0} | {takes[thing] for _, takes, _ in demands if thing in takes}) for thing in things]
    best = None
    for levels in product(*amounts):
        kit = dict(zip(things, levels, strict=True))
        missed = sum(chance for chance, takes, possible in demands
                     if not possible or any(kit.get(thing, 0) < much for thing, much in takes.items()))
        cost = CONDITIONS.handling * sum(1 for level in levels if level) + CONDITIONS.stopped * missed
        best = min(best or (cost, missed), (cost, missed))
    return best


def thing_of(line, roles):
    key = line.key
    return roles[line.role].sort == "special tool", key.item, key.requirement, QUANTITY.get(key.unit, key.unit)


def smallest(key):
    return key.amount * SMALLEST.get(key.unit, 1)


def can_be_had(judge, line):
    return bool(line.key.item) or bool(judge.acceptable(line.key))


# every example looks into all worlds, at all that may turn out, at all kits: fewer than elsewhere
@settings(suppress_health_check=list(HealthCheck), deadline=None,
          max_examples=max(1, settings.default.max_examples // 4))
@given(st.data())
def test_the_choice_is_the_best_over_all_open_worlds(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        edition = read_edition(Path(folder))
    try:
        judge = Judge(spec, job, statements)
        kit = build_kit(edition, job, told)
    except (brute_worlds.Contradiction, Contradiction):
        assume(False)
    expected = plainly(judge, spec)
    assume(expected is not None)
    note(repr(spec))
    cost, missed = expected
    place = edition.facts[0]
    everywhere = Conditions(place.name, tuple(place.cells(place.everything)), CONDITIONS.stopped, CONDITIONS.handling)
    away = everywhere if not place.cells(place.everything)[0].count(" to ") else None
    assume(away is not None)
    along = with_along(edition, kit, told, away).along
    assert along.proven
    assert along.cost == amount.show_money(round(cost), edition.heading.currency)
    # a kit that costs the same may leave another chance
    same = CONDITIONS.handling * len(along.take) + CONDITIONS.stopped * (1 - F(along.complete))
    assert abs(F(along.complete) - (1 - missed)) <= F(1, 20_000) or abs(same - cost) <= F(CONDITIONS.stopped, 20_000)
    # leaving anything out is never better
    assert all(not one.left_out.startswith("-") for one in along.take)


FILES = {
    "catalogue.toml": 'name = "A"\nformat = 1\ncurrency = "EUR"\n',
    "facts.toml": """\
[facts.place]
of = "job"
values = ["workshop", "yard", "road"]
question = "Where?"
where = "Ask."
[facts.size]
of = "vehicle"
values = ["short", "long"]
question = "Which?"
where = "Look."
""",
    "roles.toml": """\
[roles.pipe]
title = "Pipe"
sort = "part"
takes = "any"
[roles.puller]
title = "Puller"
sort = "special tool"
takes = "any"
[roles.seal]
title = "Seal"
sort = "single-use"
takes = "one"
[findings.bent]
title = "Pipe bent"
chance = 0.2
[findings.worn]
title = "Bearing worn"
chance = 0.01
[findings.seized]
title = "Seized"
chance = 0.5
""",
    "jobs/all.toml": """\
[jobs.job]
title = "The job"
stages = [{ name = "work", minutes = 60 }]
roles = { pipe = "work", puller = "work", seal = "work" }
""",
    "items.csv": "number,name,unit,weight\nP-1,Pipe,each,2.5\nP-2,Long pipe,each,\nB-1,Bearing,each,30\n"
                 "T-1,Puller,each,8\nS-1,Seal,each,0.1\n",
    "selling.csv": "item,price\nP-1,40.00\nB-1,900.00\n",
    "fits/all.csv": """\
role,item,amount,unit,finding,size
pipe,P-1,1,each,bent,short
pipe,P-2,1,each,bent,long
pipe,B-1,1,each,worn,
puller,T-1,1,each,worn,
puller,T-1,1,each,seized,
seal,S-1,1,each,,
""",
}


@pytest.fixture
def edition(tmp_path):
    for name, text in FILES.items():
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text(text, "utf-8")
    return read_edition(tmp_path)


def along(edition, *told, **changed):
    statements = [Statement(name, cell, TOLD) for name, cell in told]
    terms = {"stopped": 60000, "handling": 150, "per_kg": 20, **changed}
    kit = build_kit(edition, "job", statements)
    return with_along(edition, kit, statements, Conditions("place", ("yard", "road"), **terms)).along


def test_it_is_told_only_where_it_is_known_that_no_shelf_is_at_hand(edition):
    assert along(edition) is UNSET
    assert along(edition, ("place", "workshop")) is UNSET
    assert along(edition, ("place", "workshop or yard")) is UNSET
    assert along(edition, ("place", "yard")).place == "yard"
    assert along(edition, ("place", "yard or road")).place == "yard or road"


def test_weights_count_and_each_thing_tells_what_leaving_it_out_costs(edition):
    """Pipe: 1.50 + 2.5 kg at 0.20 = 2.00; puller: 1.50 + 1.60 = 3.10; bearing: 1.50 + 6.00 = 7.50 against 0.01 of
    600.00. With pipe and puller aboard the job is stopped only by a worn bearing: 5.10 + 6.00 = 11.10.
    Without the pipe: 3.10 + 600.00 * (1 - 0.8 * 0.99) = 127.90; without the puller 2.00 + 600.00 * (1 - 0.5 * 0.99)
    = 305.00. The bearing as well: 5.10 + 7.50 = 12.60."""
    found = along(edition, ("place", "yard"), ("size", "short"))
    assert (found.cost, found.complete, found.proven, found.bound) == ("11.10", "0.99", True, "11.10")
    assert [(one.item, one.amount, one.weight, one.left_out) for one in found.take] == [
        ("P-1", "1", "2.5", "116.80"), ("T-1", "1", "8", "293.90")]
    assert [(one.finding, one.chance, one.things, one.taking) for one in found.leave] == [
        ("worn", "0.01", ("Bearing",), "1.50")]
    assert found.empty == "362.40"  # 600 * (1 - 0.8 * 0.99 * 0.5)
    assert found.ask_first == ()


def test_what_hangs_on_an_open_question_is_named(edition):
    found = along(edition, ("place", "yard"))
    assert found.ask_first == ("size",)
    assert [one.item for one in found.take] == ["P-1", "P-2", "T-1"]


def test_the_van_carries_no_more_than_it_can_with_the_seal_that_goes_anyway(edition):
    """10.6 kg hold the seal, the puller and the pipe; with 10.5 the pipe stays, for the puller helps more."""
    told = ("place", "yard"), ("size", "short")
    assert [one.item for one in along(edition, *told, most_weight=10600).take] == ["P-1", "T-1"]
    found = along(edition, *told, most_weight=10599)
    assert [one.item for one in found.take] == ["T-1"]
    assert [(one.finding, one.taking) for one in found.leave] == [("worn", None), ("bent", None)]
    assert found.unknown == ()


def test_what_has_no_price_is_named_where_value_is_limited(edition):
    found = along(edition, ("place", "yard"), ("size", "short"), most_value=3999)
    assert [one.item for one in found.take] == ["T-1"]
    assert found.unknown == ("S-1",)


def test_a_dearer_stop_takes_the_bearing_too(edition):
    found = along(edition, ("place", "yard"), ("size", "short"), stopped=80000)
    assert [one.item for one in found.take] == ["B-1", "P-1", "T-1"]
    assert (found.complete, found.leave) == ("1", ())
