"""What is renewed only if the customer chooses it: not held, not ordered, not a gate, until somebody adds it."""

import msgspec

from kitbuilder.model.catalogue import Finding
from kitbuilder.workshop.lines import work_kit
from kitbuilder.workshop.needs import needs_of
from kitbuilder.workshop.picking import pick_list
from tests.workshop.making import START, booking, edit, item, kit, kit_line, roles

ROLES = roles("seal", "belt")
ITEMS = {one.number: one for one in (item("S1"), item("B1"))}
FINDINGS = {"worn": Finding("worn", "Pulley worn", (1, 4))}


def advised(**more):
    return msgspec.structs.replace(kit_line("belt", "B1", **more), advised=True)


def worked(*lines, edits=()):
    return work_kit(12, kit(*lines), ROLES, ITEMS, edits, FINDINGS)


def needed(work):
    return [one.name for one in needs_of(booking(), work, {"fit": START}, {})]


def test_it_is_no_need_of_the_booking():
    work = worked(advised(), kit_line("seal", "S1"))
    assert needed(work) == ["12/seal:S1"]
    assert [line.wanted for line in work.lines] == [False, True]


def test_it_says_what_it_waits_for():
    assert worked(advised()).lines[0].condition == "the customer chooses it"
    assert worked(advised(finding="worn")).lines[0].condition == "Pulley worn, and the customer chooses it"


def test_adding_it_is_choosing_it():
    work = worked(advised(amount="2"), edits=[edit("add", "belt", item="B1")])
    assert [(line.need, line.amount, line.wanted) for line in work.lines] == [("belt:+B1", 2000, True)]
    assert needed(work) == ["12/belt:+B1"]


def test_the_pick_list_has_it_among_what_may_be_wanted():
    answer = pick_list(booking(), worked(advised(), kit_line("seal", "S1")), [], ITEMS, [])
    assert answer.not_held == ("1 each Name of S1 (S1)",)
    assert answer.on_condition == ("Name of B1 (B1), if: the customer chooses it: none free on the shelf",)
