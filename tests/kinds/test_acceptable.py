"""Which items satisfy a requirement, and in what order."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.kinds import KINDS, PROPERTIES, acceptable, satisfies
from kitbuilder.model.catalogue import Item, Requirement

FUSE = {"body": "medium", "rating": "15", "voltage": "32"}


def item(number: str = "A", unit: str = "each", rank: str = "", kind: str = "blade fuse", listed: tuple[str, ...] = (),
         claimed: tuple[str, ...] = (), **properties: str) -> Item:
    return Item(number, "x", unit, rank, kind, (), FUSE | properties, listed, claimed)


def needs(kind: str = "blade fuse", equal: dict[str, str] | None = None, least: dict[str, str] | None = None,
          listed: tuple[str, ...] = (), claimed: tuple[str, ...] = ()) -> Requirement:
    return Requirement("x", "x", kind, equal or {}, least or {}, listed, claimed)


@pytest.mark.parametrize(("one", "requirement", "yes"), [
    (item(), needs(), True),
    (item(), needs("gear oil"), False),
    (item(kind=""), needs(), False),
    (item(), needs(equal={"rating": "15"}), True),
    (item(), needs(equal={"rating": "20"}), False),
    (item(), needs(equal={"rating": "15", "body": "maxi"}), False),
    (item(voltage="32"), needs(least={"voltage": "32"}), True),
    (item(voltage="58"), needs(least={"voltage": "32"}), True),
    (item(voltage="5"), needs(least={"voltage": "32"}), False),
    (item(voltage="100"), needs(least={"voltage": "32"}), True),
    (item(rating="7.5"), needs(least={"rating": "10"}), False),
    (item(listed=("a", "b")), needs(listed=("a",)), True),
    (item(claimed=("a",)), needs(listed=("a",)), False),
    (item(listed=("a",)), needs(claimed=("a",)), True),
    (item(claimed=("a",)), needs(claimed=("a",)), True),
    (item(claimed=("a",), listed=("b",)), needs(claimed=("a", "b")), True),
    (item(), needs(claimed=("a",)), False),
])
def test_an_item_satisfies_what_it_has(one, requirement, yes):
    assert satisfies(one, requirement) is yes


def test_a_property_that_an_item_lacks_satisfies_nothing():
    bare = Item("A", "x", "each", kind="blade fuse")
    assert not satisfies(bare, needs(equal={"rating": "15"}))
    assert not satisfies(bare, needs(least={"voltage": "0.1"}))


def test_acceptable_items_stand_by_rank_as_a_number_then_by_number():
    items = [item("D"), item("B", rank="10"), item("C", rank="9.5"), item("A"), item("F", rank="9.5"),
             item("E", rank="-1")]
    assert acceptable(needs(), items) == {"each": ("E", "C", "F", "B", "A", "D")}


def test_ranks_that_a_float_could_not_tell_apart_are_told_apart():
    items = [item("A", rank="1.00000000000000002"), item("B", rank="1.00000000000000001")]
    assert acceptable(needs(), items) == {"each": ("B", "A")}


def test_items_of_different_quantities_are_kept_apart():
    items = [item("A", unit="L"), item("B", unit="mL"), item("C", unit="kg"), item("D", unit="set")]
    assert acceptable(needs(), items) == {"volume": ("A", "B"), "mass": ("C",), "set": ("D",)}


@given(st.permutations("ABCDE"))
def test_the_order_of_items_does_not_matter(order):
    ranks = {"A": "2", "B": "", "C": "1", "D": "", "E": "2"}
    items = [item(number, rank=ranks[number]) for number in order]
    assert acceptable(needs(), items) == {"each": ("C", "A", "E", "B", "D")}


def test_every_property_of_every_kind_has_a_column():
    assert set(PROPERTIES) == {name for kind in KINDS.values() for name in kind.properties}
