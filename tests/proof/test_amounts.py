"""Fills of exchange units, and taps and sealing rings for threads, against looking into every world."""

import csv
from dataclasses import replace
from itertools import chain, combinations
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.proof.amounts import amounts_in
from kitbuilder.proof.check import check_catalogue
from tests import draws, spec_files
from tests.brute_judge import Judge
from tests.specs import NOTHING, Fact, Finding, Fit, FitFile, Item, Job, Layout, Requirement, Role, Spec

THREAD = "M14x1.5"


def opened(spec, ports=None, keys=None, exchange=()):
    """The edition of a catalogue with ports of items, further lines of roles, and rows of exchange.csv."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        spec_files.write(replace(spec, items_layout=Layout()), folder)
        roles = folder / "roles.toml"
        text = roles.read_text(encoding="utf-8")
        for role, more in (keys or {}).items():
            text = text.replace(f"[roles.{role}]\n", f"[roles.{role}]\n{more}\n")
        roles.write_text(text, encoding="utf-8")
        with (folder / "items.csv").open(encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        with (folder / "items.csv").open("w", encoding="utf-8", newline="") as file:
            out = csv.DictWriter(file, [*rows[0], "ports"])
            out.writeheader()
            out.writerows({**row, "ports": (ports or {}).get(row["number"], "")} for row in rows)
        if exchange:
            lines = ["item,arrives,circuit", *(",".join(row) for row in exchange)]
            (folder / "exchange.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
        return read_edition(folder)


def remarks_of(edition, job):
    return list(amounts_in(edition, job, edition.space.all()))


def worlds_of(judge, remark):
    """The worlds that a remark speaks of."""
    if not remark.when:
        return set(range(len(judge.worlds)))
    return {
        number for number, world in enumerate(judge.worlds) for branch in remark.when
        if all(judge.conditions.hold({fact: " or ".join(cells)}, world) for fact, cells in branch.items())}


def used_together(judge, number, advised):
    """The lines of a world that are used together, for each set of findings that occur and each choice."""
    names = [one.name for one in judge.spec.findings]
    lines = [line for there in judge.there[number].values() for line in there.lines if not line.key.is_nothing]
    for chosen in (False, True):
        for occur in chain.from_iterable(combinations(names, size) for size in range(len(names) + 1)):
            covered = {further for one in occur for further in judge.covered(one)}
            yield [
                line for line in lines
                if (chosen or line.role not in advised)
                and (not line.key.finding or (line.key.finding in occur and line.key.finding not in covered))]


@st.composite
def threaded(draw):
    """A catalogue of pieces that are screwed in, tap a thread or seal it."""
    spec = draw(draws.specs())
    items, ports = [], {}
    for number in (item.number for item in spec.items):
        what = draw(st.sampled_from(("port", "port", "thread tap", "sealing ring", "sealing ring", "")))
        if what == "port":
            ports[number] = f"{draw(st.integers(1, 2))} {THREAD}"
        kind = what if what != "port" else ""
        items.append(Item(number, kind=kind, properties={"thread": THREAD} if kind else {}))
    numbers = [item.number for item in items]

    def piece(fit):
        if fit.item == NOTHING:
            return fit
        return replace(fit, item=fit.item or draw(st.sampled_from(numbers)), requirement="", unit="each",
                       amount=draw(st.sampled_from(("1", "2"))))

    files = tuple(replace(file, fits=tuple(piece(fit) for fit in file.fits)) for file in spec.fits)
    return replace(spec, items=tuple(items), fits=files, requirements=()), ports


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_taps_and_rings_are_missed_in_the_worlds_that_miss_them(data):
    spec, ports = data.draw(threaded())
    advised = {role.name for role in spec.roles if data.draw(st.integers(0, 3)) == 0}
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    note(repr((spec, ports, advised)))
    kinds = {item.number: item.kind for item in spec.items}
    judge = Judge(spec, job, ())
    untapped, short = set(), set()
    for number in range(len(judge.worlds)):
        for lines in used_together(judge, number, advised):
            has = sum(int(ports[one.key.item].split()[0]) * int(one.key.amount) for one in lines
                      if one.key.item in ports)
            taps = any(kinds.get(one.key.item) == "thread tap" for one in lines)
            rings = sum(int(one.key.amount) for one in lines if kinds.get(one.key.item) == "sealing ring")
            if has and not taps:
                untapped.add(number)
            if has > rings:
                short.add(number)
    found = remarks_of(opened(spec, ports, dict.fromkeys(advised, "advised = true")), job)
    told = {"tap": set(), "ring": set()}
    for remark in found:
        told["tap" if "no tap" in remark.text else "ring"] |= worlds_of(judge, remark)
        assert remark.rows
        assert (remark.kind, remark.job) == ("thread", job)
    assert told == {"tap": untapped, "ring": short}


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_fills_are_wrong_in_the_worlds_in_which_they_are(data):
    spec = data.draw(draws.specs())
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    circuits = sorted({role.circuit for role in spec.roles if role.circuit})
    fills = {role.name: data.draw(st.sampled_from(("dry", "dry", "drain and refill", "top-up", "")))
             for role in spec.roles if role.circuit}
    units = {}
    if circuits:
        units = {item.number: (data.draw(st.sampled_from(("dry", "filled"))), data.draw(st.sampled_from(circuits)))
                 for item in spec.items if data.draw(st.booleans())}
    note(repr((spec, fills, units)))
    judge = Judge(spec, job, ())
    wanted = {}
    for number, there in enumerate(judge.there):
        for role, of in there.items():
            for line in (line for line in of.lines if not line.key.is_nothing):
                for item in set(judge.acceptable(line.key)) & set(units):
                    arrives, circuit = units[item]
                    filling = [
                        (name, one.key) for name, other in there.items() for one in other.lines
                        if judge.roles[name].circuit == circuit and not one.key.is_nothing
                        and fills[name] in (("dry",) if arrives == "filled" else ("dry", "drain and refill"))]
                    full = any(key.finding in ("", line.key.finding) for _, key in filling)
                    if filling if arrives == "filled" else not full:
                        wanted.setdefault((item, arrives, role), set()).add(number)
    keys = {name: f'fill = "{fill}"' for name, fill in fills.items() if fill}
    rows = [(item, arrives, circuit) for item, (arrives, circuit) in units.items()]
    found = remarks_of(opened(spec, {}, keys, rows), job) if rows else []
    got = {}
    for remark in found:
        arrives = "filled" if "arrives filled" in remark.text else "dry"
        got.setdefault((remark.item, arrives), []).append(worlds_of(judge, remark))
    by_item = {}
    for (item, arrives, _), worlds in wanted.items():
        by_item.setdefault((item, arrives), []).append(worlds)
    assert {key: sorted(map(sorted, sets)) for key, sets in got.items()} == {
        key: sorted(map(sorted, sets)) for key, sets in by_item.items()}


PLACE = Fact("gearbox", values=("light", "heavy"))
PIPE, TAP, RING, SIZED = (
    Item("P"), Item("T", kind="thread tap", properties={"thread": THREAD}),
    Item("R", kind="sealing ring", properties={"thread": THREAD}),
    Item("S", kind="sealing ring", properties={"size": "14x18x1.5"}))


def piped(*fits, findings=(), requirements=()):
    return Spec((PLACE,), (Job("work", roles={"all": "work"}),), (Role("all", "any"),), (PIPE, TAP, RING, SIZED),
                (FitFile("fits/a.csv", fits),), findings=findings, requirements=requirements)


def one(item, amount="1", unit="each", **more):
    return Fit("all", item, amount=amount, unit=unit, **more)


def told(*fits, findings=(), requirements=(), ports=f"2 {THREAD}"):
    spec = piped(*fits, findings=findings, requirements=requirements)
    return [(remark.text, remark.when) for remark in remarks_of(opened(spec, {"P": ports}), "work")]


def test_a_port_wants_a_tap_and_a_ring_each():
    assert told(one("P"), one("T"), one("R", "2")) == []
    assert told(one("P"), one("T"), one("R", "1")) == [
        ("The kit has 2 ports M14x1.5 (P) and 1 sealing ring for that thread whatever the vehicle.", ())]
    heavy = ({"gearbox": ("heavy",)},)
    assert told(one("P"), one("T", when={"gearbox": "light"}), one("R", "2")) == [
        ("The kit has a port M14x1.5 (P) and no tap for that thread where gearbox is heavy.", heavy)]


def test_a_ring_of_the_usual_size_seals_its_thread():
    # DIN 7603: the usual ring for M14 is 14x18x1.5
    assert told(one("P"), one("T"), one("S", "2")) == []
    assert len(told(one("P"), one("T"), one("S", "2"), ports="2 M16x1.5")) == 2


def test_a_requirement_seals_only_if_whatever_may_be_taken_for_it_does():
    asks = Fit("all", requirement="ring", amount="2", unit="each")
    by_thread = (Requirement("ring", "sealing ring", {"thread": THREAD}),)
    assert told(one("P"), one("T"), asks, requirements=by_thread) == []


def test_rings_may_wait_for_what_the_port_waits_for():
    leak = (Finding("leak", "0.1"), Finding("burst", "0.1"))
    assert told(one("P", finding="leak"), one("T"), one("R", "2", finding="leak"), findings=leak) == []
    assert len(told(one("P", finding="leak"), one("T", finding="burst"), one("R", "2", finding="burst"),
                    findings=leak)) == 2


def test_a_set_of_rings_has_enough():
    spec = Spec((PLACE,), (Job("work", roles={"all": "work"}),), (Role("all", "any"),),
                (PIPE, TAP, Item("R", "set", kind="sealing ring", properties={"thread": THREAD})),
                (FitFile("fits/a.csv", (one("P"), one("T"), one("R", unit="set"))),))
    assert remarks_of(opened(spec, {"P": f"9 {THREAD}"}), "work") == []


def whole(exchange="", hazards="", selling="", sort="exchange unit"):
    """What the check remarks on the rows of one catalogue: a unit U, an oil O, and X, which nothing uses."""
    spec = Spec((PLACE,), (Job("work", roles={"unit": "work", "oil": "work"}),),
                (Role("unit", sort=sort), Role("oil")),
                (Item("U"), Item("O", "L", kind="gear oil", properties={"grade": "75W-80"}), Item("X")),
                (FitFile("fits/a.csv", (Fit("unit", "U", amount="1", unit="each"),
                                        Fit("oil", "O", amount="1", unit="L"))),))
    with TemporaryDirectory() as name:
        spec_files.write(spec, Path(name))
        for file, text in (("exchange.csv", exchange), ("hazards.csv", hazards), ("selling.csv", selling)):
            if text:
                (Path(name) / file).write_text(text, encoding="utf-8")
        found = check_catalogue(read_edition(Path(name))).remarks
    return [(remark.kind, remark.text) for remark in found if remark.kind != "unused item"]


SHEET = "item,sheet,pictograms,statements\nO,Oil sheet,,H412\n"


def test_rows_about_items_that_nothing_uses_are_told():
    assert whole("item\nU\nX\n", SHEET + "X,Sheet,,\n", "item,price\nO,9\nX,1\n") == [
        ("exchange", "exchange.csv line 3: nothing uses the item X."),
        ("safety data sheet", "hazards.csv line 3: nothing uses the item X."),
        ("selling price", "selling.csv line 3: nothing uses the item X.")]


def test_an_exchange_row_wants_a_role_of_that_sort():
    assert whole("item\nU\n", SHEET) == []
    assert whole("item\nU\n", SHEET, sort="part") == [
        ("exchange", "exchange.csv line 2: U fills no role of the sort exchange unit.")]


def test_a_chemical_without_a_safety_data_sheet_is_told():
    assert whole() == [
        ("safety data sheet",
         "The catalogue names no safety data sheets (it has no rows in hazards.csv), and has chemicals: O.")]
    assert whole(hazards="item,sheet\nU,Other sheet\n") == [
        ("safety data sheet", "No safety data sheet is named for O, a chemical.")]


def test_pictograms_that_cannot_stand_together_are_told():
    # Regulation (EC) No 1272/2008, Article 26(1)(b): GHS06 displaces GHS07
    ((kind, text),) = whole(hazards=SHEET.replace(",,H412", ",GHS06 and GHS07,H301"))
    assert kind == "safety data sheet"
    assert text.startswith("hazards.csv line 2: GHS07 doesn't stand beside GHS06")
