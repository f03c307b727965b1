"""What a booking needs and reserves under open questions and edits, against adding it up in every world."""

from fractions import Fraction
from pathlib import Path
from tempfile import TemporaryDirectory

from hypothesis import HealthCheck, assume, given, note, settings
from hypothesis import strategies as st

from kitbuilder.calendar.reading import read_sites
from kitbuilder.catalogue.cache import read_edition
from kitbuilder.kit.totals import Total
from kitbuilder.model.plan import Held
from kitbuilder.vehicle.statements import Statement
from kitbuilder.workshop.needs import is_reserve, needs_of, reserves_of, with_open
from kitbuilder.workshop.work import build
from tests import brute_worlds, draw_worlds, draws, spec_files
from tests.brute_judge import Judge
from tests.specs import Fact, Fit, FitFile, Item, Job, Role, Spec
from tests.workshop.making import START, booking, edit, line, work_kit_of

SMALLEST = {"L": 1000, "mL": 1, "kg": 1000, "g": 1, "m": 1000, "mm": 1}
QUANTITY = {"L": "volume", "mL": "volume", "kg": "mass", "g": "mass", "m": "length", "mm": "length"}
SITE = read_sites(
    "settings",
    {
        "marl": {
            "zone": "UTC",
            "shifts": {day: ["00:00 to 24:00"] for day in ("monday", "tuesday", "wednesday", "thursday", "friday")},
        }
    },
)["marl"]


@st.composite
def edits(draw, spec):
    """A few edits of roles and what may fill them; each role and filler is edited once, items keep their quantity."""
    fillers = {(fit.role, fit.item or fit.requirement) for file in spec.fits for fit in file.fits} - {
        (role.name, "nothing") for role in spec.roles
    }
    chosen = draw(st.lists(st.sampled_from(sorted(fillers)), max_size=3, unique=True)) if fillers else []
    found = []
    for number, (role, filler) in enumerate(chosen, 1):
        action = draw(st.sampled_from(("strike", "amount", "swap")))
        if action == "strike":
            found.append(edit("strike", role, filler, number))
        elif action == "swap":
            other = draw(st.sampled_from(spec.items))
            milli = draw(st.sampled_from((1000, 3000)))
            found.append(edit("swap", role, filler, number, item=other.number, amount=milli, unit=other.unit))
        else:
            unit = next(
                (one.unit for one in spec.items if one.number == filler),
                next(
                    (
                        fit.unit
                        for file in spec.fits
                        for fit in file.fits
                        if (fit.role, fit.requirement) == (role, filler)
                    ),
                    "",
                ),
            )
            found.append(edit("amount", role, filler, number, amount=5000, unit=unit))
    return found


def edited(one, changes):
    """What a line of the plain judge takes after edits: thing, quantity, smallest units; None if it is struck."""
    key = one.key
    taken = (key.item or key.requirement, bool(key.item), key.amount, key.unit)
    change = changes.get((one.role, taken[0]))
    if change is not None and change.action == "strike":
        return None
    if change is not None and change.action == "swap":
        taken = (change.item, True, Fraction(change.amount, 1000), change.unit)
    elif change is not None and QUANTITY.get(change.unit, change.unit) == QUANTITY.get(key.unit, key.unit):
        taken = (*taken[:2], Fraction(change.amount, 1000) * SMALLEST.get(change.unit, 1), None)
    thing, is_item, amount, unit = taken
    measured = QUANTITY.get(unit or key.unit, unit or key.unit)
    return (thing, is_item, measured), amount * (SMALLEST.get(unit, 1) if unit else 1)


def plainly(judge, changes):
    """The least and the most of everything over the open worlds, of lines without a finding that no tool fills."""
    worlds = []
    for there in judge.there:
        sums = {}
        for role in there.values():
            for one in role.lines:
                if one.key.is_nothing or one.key.finding or judge.roles[one.role].sort == "special tool":
                    continue
                found = edited(one, changes)
                if found is not None:
                    sums[found[0]] = sums.get(found[0], 0) + found[1]
        worlds.append(sums)
    things = {thing for sums in worlds for thing in sums}
    return {
        thing: (min(sums.get(thing, 0) for sums in worlds), max(sums.get(thing, 0) for sums in worlds))
        for thing in things
    }


def summed(lines):
    sums = {}
    for one in lines:
        sums[one.takes] = sums.get(one.takes, 0) + Fraction(one.amount, 1000) * SMALLEST.get(one.unit, 1)
    return sums


@settings(suppress_health_check=list(HealthCheck), deadline=None, max_examples=100)
@given(st.data())
def test_needs_are_the_least_and_with_the_reserves_the_most(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    by_hand = data.draw(st.one_of(st.just([]), edits(spec)))
    try:
        judge = Judge(spec, job, statements)
    except brute_worlds.Contradiction:
        assume(False)
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        edition = read_edition(Path(folder))
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    work = build(edition, SITE, booking(job=job), told, by_hand)
    note(repr(spec))
    wanted = plainly(judge, {(one.role, one.filler): one for one in by_hand})
    least, more = summed(work.lines.must_be_there), summed(work.lines.reserves)
    assert least == {thing: low for thing, (low, _) in wanted.items() if low}
    assert more == {thing: high - low for thing, (low, high) in wanted.items() if high > low}
    names = [one.need for one in (*work.lines.lines, *work.lines.extras, *work.lines.reserves)]
    assert len(set(names)) == len(names)
    needs = needs_of(work.booking, work.lines, work.starts, {})
    assert [(need.quantity, need.unit) for need in needs] == [
        (one.amount, one.unit) for one in work.lines.must_be_there
    ]
    # nothing that open questions bring may come after its first line's stage
    for one in (*work.lines.extras, *work.lines.reserves):
        stages = [
            each.stage
            for each in work.lines.lines
            if each.takes == one.takes and not each.wanted and not each.finding and each.sort != "special tool"
        ]
        assert work.starts[one.stage] == min(work.starts[stage] for stage in stages)


STARTS = {"fit": START}


def test_a_need_carries_all_that_sourcing_asks():
    held = {"12/oil:box-oil": [Held("shelf", "O1", "L7", "now", 500)]}
    kit = work_kit_of(line("oil:box-oil", 9500, "L", acceptable=("O1", "O2"), circuit="box"))
    (need,) = needs_of(booking(priority="VOR"), kit, STARTS, held)
    assert (
        need.name,
        need.booking,
        need.vor,
        need.acceptable,
        need.quantity,
        need.unit,
        need.wanted_at,
        need.may_order,
        need.circuit,
        need.held,
    ) == ("12/oil:box-oil", 12, True, ("O1", "O2"), 9500, "L", START, True, "box", tuple(held["12/oil:box-oil"]))


def test_what_open_questions_bring_is_wanted_at_the_first_stage_that_one_of_them_may_have():
    kit = work_kit_of(
        line("early:S1", stage="strip", finding="worn"),
        line("sure:S1", stage="strip"),
        line("late:S1", stage="test", certainty="possible"),
        line("mid:S1", stage="fit", certainty="possible"),
        line("hand:+S1", stage="strip", item="S1", added=True),
    )
    opened = with_open(kit, [Total("S1", True, "each", 3000, 4000, ("S1",))], ["strip", "fit", "test"])
    assert [(one.need, one.amount, one.stage, one.title) for one in opened.extras] == [
        ("&S1", 2000, "fit", "The late or The mid")
    ]
    assert [(one.need, one.amount, one.stage) for one in opened.reserves] == [("?S1", 1000, "fit")]


def opened_by(totals, *lines):
    found = with_open(work_kit_of(*lines), totals, ["fit"])
    return [(one.need, one.amount) for one in (*found.extras, *found.reserves)]


def test_a_tool_is_not_what_a_question_takes():
    total = Total("S1", True, "each", 1000, 2000, ("S1",))
    tool = line("tool:S1", 1000, sort="special tool")
    perhaps = line("seal:S1", certainty="possible")
    assert opened_by([total], tool, perhaps) == [("&S1", 1000), ("?S1", 1000)]
    assert opened_by([total], tool, line("tap:S1", certainty="possible", sort="special tool")) == []


def test_what_is_certain_already_is_not_reserved_again_though_the_catalogue_takes_less_now():
    total = Total("S1", True, "each", 1000, 4000, ("S1",))
    assert opened_by([total], line("seal:S1", 3000), line("ring:S1", certainty="possible")) == [("?S1", 1000)]


def test_an_item_and_a_requirement_of_one_name_and_two_quantities_of_one_have_needs_of_their_own():
    found = opened_by(
        [
            Total("X", True, "each", 1000, 1000, ("X",)),
            Total("X", False, "each", 2000, 2000, ("Y",)),
            Total("X", False, "mL", 3000, 3000, ("Z",)),
        ],
        line("a:X", certainty="possible"),
        line("b:X", certainty="possible", item=None, requirement="X"),
        line("c:X", unit="L", certainty="possible", item=None, requirement="X"),
    )
    assert found == [("&X", 1000), ("&X:each", 2000), ("&X:volume", 3000)]


def test_a_thing_that_is_a_tool_in_one_role_is_counted_in_the_other_only():
    when = {"place": "road"}
    spec = Spec(
        facts=(Fact("place", "job", values=("workshop", "road")),),
        jobs=(Job("work", ("fit",), {"tap": "fit", "seal": "fit"}),),
        roles=(Role("tap", "any", sort="special tool"), Role("seal", "any")),
        items=(Item("X"),),
        fits=(
            FitFile(
                "fits/fits.csv",
                (
                    Fit("tap", "X", amount="5", unit="each", when=when),
                    Fit("seal", "X", amount="2", unit="each", when=when),
                ),
            ),
        ),
    )
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        lines = build(read_edition(Path(folder)), SITE, booking(), (), ()).lines
    assert [(one.need, one.amount) for one in lines.reserves] == [("?X", 2000)]
    assert lines.extras == ()


def test_an_enquiry_orders_nothing_and_a_reserve_never_does():
    kit = work_kit_of(line("seal:S1"), reserves=(line("?S2", certainty="possible"),))
    assert [one.may_order for one in needs_of(booking(state="enquiry"), kit, STARTS, {})] == [False]
    assert [(one.name, one.may_order) for one in reserves_of(booking(), kit, STARTS, {})] == [("12/?S2", False)]


def test_tools_and_what_waits_for_a_finding_are_no_needs():
    kit = work_kit_of(
        line("tool:T1", sort="special tool"),
        line("seal:S1", finding="worn"),
        line("seal:S2", certainty="possible"),
        line("seal:S3"),
    )
    assert [one.name for one in needs_of(booking(), kit, STARTS, {})] == ["12/seal:S3"]


def test_reserves_are_known_by_their_name():
    assert is_reserve("12/?S2")
    assert not is_reserve("12/&S2")
    assert not is_reserve("12/seal:?odd")
