"""Statements: ranks, what is set aside and why, and contradictions that name as little as they can."""

import re
from datetime import date

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.errors import Contradiction, WrongUse
from kitbuilder.vehicle.statements import Statement, settle
from tests import brute_worlds, draw_worlds, specs
from tests.vehicle import spaces

SPEC = specs.Spec(
    facts=(
        specs.Fact("gearbox", values=("light", "heavy", "manual")),
        specs.Fact("emissions", values=("Euro IV", "Euro V", "Euro VI"), groups={"old": ("Euro IV", "Euro V")}),
        specs.Fact("registered", first=date(2009, 10, 1), last=date(2015, 12, 31)),
        specs.Fact("axles", first=2, last=4),
        specs.Fact("place", "job", values=("workshop", "yard")),
    ),
    jobs=(), roles=(),
    tables=(
        specs.Table("combinations/boxes.csv", ("gearbox", "emissions"), (
            {"gearbox": "light", "emissions": "Euro V or Euro VI"}, {"gearbox": "heavy", "emissions": "old"},
            {"gearbox": "manual", "emissions": "Euro IV"})),
        specs.Table("combinations/dates.csv", ("registered", "emissions"), (
            {"registered": "up to 2013-12-30", "emissions": "old"},
            {"registered": "from 2013-12-31", "emissions": "Euro VI"})),
        specs.Table("combinations/frames.csv", ("axles", "gearbox"), (
            {"axles": "2 or 3"}, {"axles": "3", "gearbox": "heavy"})),
    ),
)
SPACE, TABLES = spaces.space(SPEC), spaces.tables(SPEC)
FLEET = "fleet.csv line 7"


def settled(*statements):
    """What statements come to; each is fact, cell, source and perhaps a place."""
    return settle(SPACE, TABLES, [Statement(*one) for one in statements])


def known(standing):
    """For each fact its open values and where they come from."""
    return {
        fact.name: (" or ".join(fact.cells(standing.worlds.opened(number))), standing.source(fact))
        for number, fact in enumerate(SPACE.facts)
    }


def test_with_nothing_said_all_that_can_exist_is_open():
    standing = settled()
    assert (standing.stands, standing.warnings) == ((), ())
    assert known(standing) == {
        "gearbox": ("light or heavy or manual", "open"),
        "emissions": ("Euro IV or Euro V or Euro VI", "open"),
        "registered": ("2009-10-01 to 2015-12-31", "open"),
        "axles": ("2 to 3", "open"),
        "place": ("workshop or yard", "open"),
    }


def test_what_follows_from_a_statement_is_inferred_and_never_a_statement():
    standing = settled(("gearbox", "manual", "told"))
    assert known(standing) == {
        "gearbox": ("manual", "told"),
        "emissions": ("Euro IV", "inferred"),
        "registered": ("2009-10-01 to 2013-12-30", "inferred"),
        "axles": ("2 to 3", "open"),
        "place": ("workshop or yard", "open"),
    }
    assert standing.stands == (Statement("gearbox", "manual", "told"),)


def test_a_statement_that_says_no_more_than_is_known_still_has_its_source():
    assert known(settled(("place", "workshop or yard", "register")))["place"] == ("workshop or yard", "register")


@pytest.mark.parametrize("higher", ["seen", "told"])
def test_a_higher_rank_sets_the_register_aside_and_says_what_it_disagrees_with(higher):
    standing = settled(("emissions", "Euro V", "register", FLEET), ("gearbox", "manual", higher))
    assert standing.warnings == (
        f"emissions = Euro V ({FLEET}) disagrees with gearbox = manual ({higher}). Set aside.",)
    assert standing.stands == (Statement("gearbox", "manual", higher),)
    assert known(standing)["emissions"] == ("Euro IV", "inferred")


def test_seen_sets_told_aside():
    standing = settled(("gearbox", "light", "told"), ("gearbox", "heavy", "seen"))
    assert standing.warnings == ("gearbox = light (told) disagrees with gearbox = heavy (seen). Set aside.",)
    assert known(standing)["gearbox"] == ("heavy", "seen")


def test_the_highest_rank_that_stands_is_the_source():
    said = [("gearbox", "light or heavy", source) for source in ("register", "told", "seen")]
    for number in range(1, 4):
        assert known(settled(*said[:number]))["gearbox"] == ("light or heavy", said[number - 1][2])


def test_lower_statements_are_put_in_one_at_a_time_in_the_order_of_facts():
    """Alone, each of the register's two agrees with what is seen; the one of the earlier fact goes in first."""
    seen = ("registered", "up to 2013-12-30", "seen")
    later, earlier = ("emissions", "Euro V", "register"), ("gearbox", "manual", "register")
    for order in ((seen, later, earlier), (earlier, later, seen)):
        standing = settled(*order)
        assert {one.fact for one in standing.stands} == {"registered", "gearbox"}
        assert standing.warnings == (
            "emissions = Euro V (in the register) disagrees with gearbox = manual (in the register). Set aside.",)


def test_the_warning_names_the_fewest_that_it_disagrees_with():
    standing = settled(
        ("place", "yard", "seen"), ("gearbox", "light or heavy", "seen"), ("axles", "2", "seen"),
        ("registered", "2012-01-01", "told"), ("emissions", "Euro IV", "told"), ("gearbox", "light", "register"))
    assert standing.warnings == (
        "gearbox = light (in the register) disagrees with emissions = Euro IV (told). Set aside.",)


def test_a_cell_of_the_register_that_no_vehicle_has_is_set_aside():
    assert settled(("axles", "4", "register", FLEET)).warnings == (
        f"axles = 4 ({FLEET}) is on no vehicle of the combinations tables. Set aside.",)
    assert settled(("axles", "not 2 to 4", "register", FLEET)).warnings == (
        f"axles = not 2 to 4 ({FLEET}) leaves no value. Set aside.",)


@pytest.mark.parametrize(("fact", "cell", "warning"), [
    ("emissions", "Euro 5", f"emissions can't be 'Euro 5' ({FLEET}). Expected 'Euro V'? emissions is one of: "
                            "Euro IV, Euro V, Euro VI, old. Set aside."),
    ("registered", "2016-01-01", f"registered can't be '2016-01-01' ({FLEET}). Expected a value of registered; "
                                 "the latest is 2015-12-31. Set aside."),
    ("axles", "3 to 2", f"axles can't be '3 to 2' ({FLEET}). Expected the earlier end first: 2 to 3. Set aside."),
    ("axels", "3", f"There is no fact 'axels' ({FLEET}). Expected a known name; did you mean 'axles'? Set aside."),
])
def test_what_cannot_be_read_in_the_register_is_set_aside_with_its_place(fact, cell, warning):
    standing = settled((fact, cell, "register", FLEET), ("gearbox", "manual", "register", FLEET))
    assert standing.warnings == (warning,)
    assert standing.stands == (Statement("gearbox", "manual", "register", FLEET),)


@pytest.mark.parametrize("source", ["seen", "told"])
@pytest.mark.parametrize(("fact", "cell", "offered"), [
    ("emissions", "euro v", "'Euro V'"), ("emision", "Euro V", "'emissions'"), ("axles", "5", "largest is 4"),
    ("axles", "3 to 2", "2 to 3"), ("registered", "2013-02-29", "a day that exists"), ("axles", " ", "no value"),
])
def test_what_cannot_be_read_of_other_ranks_is_wrong_use(source, fact, cell, offered):
    with pytest.raises(WrongUse, match=re.escape(offered)) as raised:
        settled((fact, cell, source))
    assert raised.value.exit_code == 2


@pytest.mark.parametrize(("statements", "text"), [
    ([("gearbox", "manual"), ("emissions", "Euro V"), ("place", "yard")],
     "These can't be true together: gearbox = manual (told) and emissions = Euro V (told). "
     "They disagree by combinations/boxes.csv."),
    ([("place", "yard"), ("registered", "2010-01-01"), ("gearbox", "light"), ("emissions", "Euro VI")],
     "These can't be true together: emissions = Euro VI (told) and registered = 2010-01-01 (told). "
     "They disagree by combinations/dates.csv."),
    ([("registered", "2014-06-01"), ("gearbox", "heavy")],
     "These can't be true together: gearbox = heavy (told) and registered = 2014-06-01 (told). "
     "They disagree by combinations/boxes.csv."),
    ([("axles", "4")], "This can't be true: axles = 4 (told). No vehicle in combinations/frames.csv has it."),
    ([("axles", "not 2 to 4"), ("axles", "4")], "This leaves no value: axles = not 2 to 4 (told)."),
    ([("gearbox", "light"), ("gearbox", "heavy or manual")],
     "These can't be true together: gearbox = light (told) and gearbox = heavy or manual (told). Look again"),
    ([("gearbox", "light or heavy"), ("gearbox", "heavy or manual"), ("gearbox", "light or manual")],
     "These can't be true together: gearbox = light or heavy (told), gearbox = heavy or manual (told) "
     "and gearbox = light or manual (told). Look again"),
])
def test_a_contradiction_names_the_fewest_statements_and_the_fewest_tables(statements, text):
    with pytest.raises(Contradiction) as raised:
        settled(*[(fact, cell, "told") for fact, cell in statements])
    assert str(raised.value).startswith(text)
    assert raised.value.exit_code == 3


def test_what_is_told_is_tried_with_what_is_seen_left_aside():
    standing = settled(("gearbox", "manual", "seen"), ("emissions", "Euro V", "told"), ("axles", "2", "told"))
    assert standing.warnings == ("emissions = Euro V (told) disagrees with gearbox = manual (seen). Set aside.",)
    with pytest.raises(Contradiction, match="told"):
        settled(("gearbox", "manual", "seen"), ("emissions", "Euro V", "told"), ("emissions", "Euro IV", "told"))


def test_registers_of_one_vehicle_may_disagree_without_an_error():
    standing = settled(("gearbox", "light", "register"), ("gearbox", "heavy", "register"))
    assert known(standing)["gearbox"] == ("light", "register")
    assert standing.warnings == (
        "gearbox = heavy (in the register) disagrees with gearbox = light (in the register). Set aside.",)


@given(st.data())
def test_any_statements_come_to_what_looking_at_every_world_says(data):
    spec = data.draw(spaces.drawn())
    given_ = data.draw(draw_worlds.statements(spec))
    told = [Statement(one.fact, one.cell, one.source) for one in given_]
    space, tables = spaces.space(spec), spaces.tables(spec)
    try:
        wanted = brute_worlds.open_worlds(spec, given_)
    except brute_worlds.Contradiction as contradiction:
        with pytest.raises(Contradiction) as raised:
            settle(space, tables, told)
        text = str(raised.value)
        assert re.findall(r"combinations/\w+\.csv", text) == contradiction.tables
        said = [f"{one.fact} = {one.cell} ({one.source})" for one in contradiction.statements]
        joined = said[0] if len(said) == 1 else ", ".join(said[:-1]) + " and " + said[-1]
        assert f": {joined}. " in text
        return
    standing = settle(space, tables, told)
    assert [(one.fact, one.cell, one.source) for one in standing.stands] == [
        (one.fact, one.cell, one.source) for one in wanted.stands]
    assert len(standing.warnings) == len(wanted.aside)
    for text, one in zip(standing.warnings, wanted.aside, strict=True):
        assert text.startswith(f"{one.fact} = {one.cell} (") and text.endswith(" Set aside.")
    for number, fact in enumerate(spec.facts):
        still = {world[fact.name] for world, _ in wanted.worlds}
        assert spaces.words(spec, number, standing.worlds.opened(number)) == still
        assert standing.worlds.settled(number) == (len(still) == 1)


def test_wordings_are_worked_out_only_for_what_disagrees():
    """Many statements that agree don't make the search for the fewest that clash grow."""
    many = [("place", "workshop or yard", "told")] * 40
    assert len(settled(*many).stands) == 40
    with pytest.raises(Contradiction, match=r"gearbox = manual \(told\) and emissions = Euro V \(told\)"):
        settled(*many, ("gearbox", "manual", "told"), ("emissions", "Euro V", "told"))
