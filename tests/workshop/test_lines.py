"""Edits by hand to a kit: what each does, in which order, what a rebuild leaves of them, what can't be carried out."""

import msgspec
import pytest

from kitbuilder.model.catalogue import Finding, Key
from kitbuilder.workshop.lines import edited_key, work_kit
from tests.workshop.making import edit, item, kit, kit_line, roles

ROLES = roles("seal", "oil", "clutch")
ITEMS = {
    one.number: one for one in (item("S1"), item("S2"), item("O1", "L"), item("O5", "mL"), item("C1"), item("C2"))
}


def worked(built, *edits, **more):
    return work_kit(12, built, more.pop("of", ROLES), ITEMS, edits, **more)


def seen(work):
    return [(one.need, one.amount, one.unit, one.acceptable) for one in work.lines]


def test_lines_are_named_by_role_and_what_fills_them():
    work = worked(
        kit(
            kit_line("seal", "S1", "4"),
            kit_line("oil", "box-oil", "9.5", "L", requirement=True, acceptable=("O1", "O5")),
        )
    )
    assert seen(work) == [("seal:S1", 4000, "each", ("S1",)), ("oil:box-oil", 9500, "L", ("O1", "O5"))]
    assert [(one.item, one.requirement) for one in work.lines] == [("S1", None), (None, "box-oil")]


def test_a_name_stays_when_amount_and_stage_change():
    before = worked(kit(kit_line("seal", "S1", "4", stage="fit"), kit_line("oil", "O1", "9", "L")))
    after = worked(kit(kit_line("oil", "O1", "12", "L", stage="test"), kit_line("seal", "S1", "6", stage="test")))
    assert {one.need for one in before.lines} == {one.need for one in after.lines} == {"seal:S1", "oil:O1"}


def test_a_line_on_condition_that_comes_or_goes_renames_no_wanted_one():
    wanted = kit_line("seal", "S1", "4")
    condition = kit_line("seal", "S1", "1", finding="worn")
    needs = [
        next(one.need for one in worked(kit(*lines)).lines if one.wanted)
        for lines in ((wanted,), (wanted, condition), (condition, wanted))
    ]
    assert needs == ["seal:S1"] * 3
    assert [one.need for one in worked(kit(condition, wanted)).lines] == ["seal:S1#2", "seal:S1"]


def test_a_finding_is_told_by_its_title_and_chance():
    work = work_kit(
        12,
        kit(kit_line("seal", "S1", finding="worn", chance="0.25")),
        ROLES,
        ITEMS,
        (),
        {"worn": Finding("worn", "Seal worn", (1, 4))},
    )
    assert (work.lines[0].condition, work.lines[0].chance, work.lines[0].wanted) == ("Seal worn", "0.25", False)


def test_struck_lines_are_gone():
    work = worked(kit(kit_line("seal", "S1"), kit_line("seal", "S2")), edit("strike", "seal", "S1"))
    assert seen(work) == [("seal:S2", 1000, "each", ("S2",))]
    assert work.conflicts == ()


def test_a_swap_keeps_name_and_amount_and_takes_the_other_item():
    work = worked(kit(kit_line("seal", "S1", "4")), edit("swap", "seal", "S1", item="S2"))
    assert seen(work) == [("seal:S1", 4000, "each", ("S2",))]
    assert (work.lines[0].item, work.lines[0].name) == ("S2", "Item S2")
    assert work.lines[0].by_hand == "S2 for S1 by A. Person: because"


def test_a_swapped_requirement_is_an_item_in_its_own_unit():
    built = kit(kit_line("oil", "box-oil", "9.5", "L", requirement=True, acceptable=("O1",)))
    work = worked(built, edit("swap", "oil", "box-oil", item="O5"))
    assert seen(work) == [("oil:box-oil", 9_500_000, "mL", ("O5",))]
    assert (work.lines[0].item, work.lines[0].requirement) == ("O5", None)


def test_a_swap_for_what_is_counted_otherwise_needs_its_amount():
    built = kit(kit_line("oil", "O1", "9.5", "L"))
    refused = worked(built, edit("swap", "oil", "O1", item="S1"))
    assert seen(refused) == [("oil:O1", 9500, "L", ("O1",))]
    assert "S1 is counted in each, not in L; say how much of it" in refused.conflicts[0].text
    done = worked(built, edit("swap", "oil", "O1", item="S1", amount=10_000, unit="each"))
    assert seen(done) == [("oil:O1", 10_000, "each", ("S1",))]


def test_an_amount_goes_to_every_line_of_role_and_filler():
    built = kit(
        kit_line("oil", "O1", "9", "L", certainty="possible"),
        kit_line("oil", "O1", "12", "L", certainty="possible"),
    )
    work = worked(built, edit("amount", "oil", "O1", amount=10_000, unit="L"))
    assert [one.amount for one in work.lines] == [10_000, 10_000]


def test_an_amount_is_read_in_the_unit_it_was_said_in():
    work = worked(kit(kit_line("oil", "O5", "9000", "mL")), edit("amount", "oil", "O5", amount=9500, unit="L"))
    assert seen(work) == [("oil:O5", 9_500_000, "mL", ("O5",))]
    work = worked(kit(kit_line("oil", "S1", "1", "each")), edit("amount", "oil", "S1", amount=9500, unit="L"))
    assert seen(work) == [("oil:S1", 1000, "each", ("S1",))]
    assert "it is counted in each now" in work.conflicts[0].text


def test_what_is_added_stands_beside_its_role_and_is_wanted():
    work = worked(kit(kit_line("seal", "S1", "4", stage="test")), edit("add", "seal", item="S2"))
    assert seen(work) == [("seal:S1", 4000, "each", ("S1",)), ("seal:+S2", 1000, "each", ("S2",))]
    added = work.lines[1]
    assert (added.stage, added.wanted, added.added, added.by_hand) == (
        "test",
        True,
        True,
        "added by A. Person: because",
    )


@pytest.mark.parametrize(
    ("built", "more", "stage"),
    [
        (
            kit(kit_line("oil", "O1", unit="L", stage="late")),
            {"stage_of": {"seal": "own"}, "first_stage": "first"},
            "own",
        ),
        (kit(kit_line("oil", "O1", unit="L", stage="late")), {"first_stage": "first"}, "first"),
        (kit(nothing=("seal",)), {"first_stage": "first"}, "then"),
        (kit(), {"first_stage": "first"}, "first"),
    ],
    ids=["the job's stage for the role", "else the first", "where nothing was needed", "an empty kit"],
)
def test_what_is_added_to_a_role_without_lines_has_a_stage(built, more, stage):
    work = worked(built, edit("add", "seal", item="S2"), **more)
    assert [one.stage for one in work.lines if one.added] == [stage]


def test_adding_what_a_finding_waits_for_chooses_it():
    built = kit(kit_line("clutch", "C1", "2", finding="worn", chance="0.12", stage="late"), kit_line("seal", "S1"))
    work = worked(built, edit("add", "clutch", item="C1"))
    assert seen(work) == [("seal:S1", 1000, "each", ("S1",)), ("clutch:+C1", 2000, "each", ("C1",))]
    assert work.lines[1].wanted
    assert work.lines[1].stage == "late"


def test_choosing_by_one_of_several_items_takes_the_amount_in_its_unit():
    built = kit(kit_line("oil", "box-oil", "0.5", "L", requirement=True, finding="worn", acceptable=("O1", "O5")))
    assert seen(worked(built, edit("add", "oil", item="O5"))) == [("oil:+O5", 500_000, "mL", ("O5",))]
    said = worked(built, edit("add", "oil", item="O5", amount=2_000_000, unit="mL"))
    assert seen(said) == [("oil:+O5", 2_000_000, "mL", ("O5",))]


def test_the_same_added_twice_are_two_needs_and_one_strike_takes_both():
    twice = (edit("add", "seal", item="S2", number=1), edit("add", "seal", item="S2", number=2))
    assert [one.need for one in worked(kit(), *twice, first_stage="x").lines] == ["seal:+S2", "seal:+S2#2"]
    assert worked(kit(), *twice, edit("strike", "seal", "+S2", number=3), first_stage="x").lines == ()


def test_edits_go_in_order():
    built = kit(kit_line("seal", "S1", "4"))
    swap, amount = (
        edit("swap", "seal", "S1", item="S2", number=1),
        edit("amount", "seal", "S1", amount=7000, number=2),
    )
    strike = edit("strike", "seal", "S1", number=3)
    assert seen(worked(built, swap, amount)) == [("seal:S1", 7000, "each", ("S2",))]
    work = worked(built, strike, amount)
    assert work.lines == ()
    assert [one.edit for one in work.conflicts] == [2]
    assert worked(built, amount, strike).conflicts == ()


def test_edits_are_applied_again_to_a_rebuilt_kit():
    edits = (
        edit("swap", "seal", "S1", item="S2", number=1),
        edit("amount", "oil", "O1", amount=8000, unit="L", number=2),
    )
    rebuilt = kit(kit_line("oil", "O1", "12", "L", stage="test"), kit_line("seal", "S1", "6", stage="test"))
    assert seen(worked(rebuilt, *edits)) == [("oil:O1", 8000, "L", ("O1",)), ("seal:S1", 6000, "each", ("S2",))]


@pytest.mark.parametrize(
    "one",
    [
        edit("strike", "seal", "S9"),
        edit("amount", "seal", "S9", amount=1000),
        edit("swap", "seal", "S9", item="S2"),
        edit("strike", "gone", "S1"),
    ],
)
def test_an_edit_that_finds_nothing_is_a_conflict_and_changes_nothing(one):
    built = kit(kit_line("seal", "S1", "4"))
    work = worked(built, one)
    assert seen(work) == seen(worked(built))
    assert [conflict.edit for conflict in work.conflicts] == [1]
    assert "A. Person: because): the kit has no such line any more" in work.conflicts[0].text


@pytest.mark.parametrize("one", [edit("add", "seal", item="S9"), edit("swap", "seal", "S1", item="S9")])
def test_an_item_that_the_catalogue_lacks_is_a_conflict(one):
    work = worked(kit(kit_line("seal", "S1", "4")), one)
    assert seen(work) == [("seal:S1", 4000, "each", ("S1",))]
    assert work.conflicts[0].text.endswith("the catalogue has no item S9")


def test_an_edit_of_one_role_leaves_the_same_item_in_another_alone():
    edits = (edit("amount", "seal", "S1", amount=7000, unit="each"),)
    work = worked(kit(kit_line("seal", "S1"), kit_line("clutch", "S1")), *edits)
    assert [(one.role, one.amount) for one in work.lines] == [("seal", 7000), ("clutch", 1000)]
    key = Key("S1", None, 1000, "each", None)
    assert [edited_key(role, key, ITEMS, edits).amount for role in ("seal", "clutch")] == [7000, 1000]


def test_two_oils_in_one_circuit_are_told():
    of = {name: msgspec.structs.replace(role, circuit="box") for name, role in roles("first", "second").items()}
    built = kit(
        kit_line("first", "box-oil", "9", "L", requirement=True, acceptable=("O1", "O5")),
        kit_line("second", "box-oil", "1", "L", requirement=True, acceptable=("O1", "O5")),
    )
    swap = edit("swap", "first", "box-oil", item="C1", amount=1000, unit="each")
    (conflict,) = worked(built, swap, of=of).conflicts
    assert conflict.edit == 1
    assert "circuit box is filled from one item, and now C1 and O1 or O5 are asked for" in conflict.text
    both = (edit("swap", "first", "box-oil", item="O5"), edit("swap", "second", "box-oil", item="O5", number=2))
    assert worked(built, *both, of=of).conflicts == ()


def test_a_role_that_the_catalogue_dropped_is_still_worked_with():
    work = worked(kit(kit_line("old", "S1")))
    assert [(one.need, one.per_visit, one.circuit) for one in work.lines] == [("old:S1", False, "")]


def test_a_key_comes_to_what_its_line_comes_to():
    edits = (
        edit("swap", "oil", "box-oil", item="O5", number=1),
        edit("amount", "oil", "box-oil", amount=7000, unit="L", number=2),
        edit("strike", "seal", "S1", number=3),
        edit("swap", "seal", "S2", item="S9", number=4),
    )
    built = kit(
        kit_line("oil", "box-oil", "9", "L", requirement=True), kit_line("seal", "S1"), kit_line("seal", "S2")
    )
    lines = {one.filler: one for one in worked(built, *edits).lines}
    for one in built.lines:
        key = Key(one.item, one.requirement, 9000 if one.unit == "L" else 1000, one.unit, None)
        found = edited_key(one.role, key, ITEMS, edits)
        line = lines.get(one.item or one.requirement)
        assert (found is None) == (line is None)
        if found is not None:
            assert (found.item, found.requirement, found.amount, found.unit) == (
                line.item,
                line.requirement,
                line.amount,
                line.unit,
            )
