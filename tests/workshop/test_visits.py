"""What a visit needs once, over its bookings, against a plain reference."""

import itertools

from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.workshop.lines import share_visit
from kitbuilder.workshop.work import in_visit_order
from tests.workshop.making import START, booking, line, work_kit_of


def visit_line(role, filler, amount=1000, unit="each", **more):
    return line(f"{role}:{filler}", amount, unit, per_visit=True, **more)


def plainly(kits):
    """Per role: where all that have it ask for the same things, the first has each at the largest amount, the others
    nothing; else all have what they ask for. Returns what each kit is left with, and the clashing pairs."""
    left = [[one for one in kit.lines if not (one.per_visit and one.wanted)] for kit in kits]
    clashes = set()
    for role in {one.role for kit in kits for one in kit.lines}:
        asking = [
            (
                number,
                {one.filler: one.amount for one in kit.lines if one.role == role and one.per_visit and one.wanted},
            )
            for number, kit in enumerate(kits)
        ]
        asking = [(number, things) for number, things in asking if things]
        if not asking:
            continue
        first, things = asking[0]
        largest = dict(things)
        for number, others in asking[1:]:
            if set(others) != set(things):
                clashes.add((role, first, number))
                left[number] += [(role, filler, amount) for filler, amount in others.items()]
            else:
                largest = {filler: max(amount, others[filler]) for filler, amount in largest.items()}
        left[first] += [(role, filler, amount) for filler, amount in largest.items()]
    return left, clashes


LINES = st.tuples(
    st.sampled_from(("oil", "wipes")),
    st.sampled_from(("X", "Y")),
    st.integers(1, 4),
    st.booleans(),
    st.sampled_from(("certain", "certain", "possible")),
)


@given(st.lists(st.lists(LINES, max_size=4, unique_by=lambda one: one[:2]), min_size=1, max_size=4))
def test_sharing_is_what_a_plain_look_says(drawn):
    kits = [
        work_kit_of(
            *(
                line(f"{role}:{filler}", amount * 1000, per_visit=per_visit, certainty=certainty)
                for role, filler, amount, per_visit, certainty in lines
            ),
            number=number,
        )
        for number, lines in enumerate(drawn, 10)
    ]
    shared, clashes = share_visit(kits)
    left, clashing = plainly(kits)
    for kit, wanted in zip(shared, left, strict=True):
        have = [
            one if not (one.per_visit and one.wanted) else (one.role, one.filler, one.amount) for one in kit.lines
        ]
        assert sorted(have, key=repr) == sorted(wanted, key=repr)
    assert len(clashes) == len(clashing)
    for role, first, second in clashing:
        assert any(
            f"The {role}: booking {10 + first} " in text and f"booking {10 + second} " in text for text in clashes
        )


def test_the_first_has_it_at_the_larger_amount_and_the_other_says_where_it_is():
    kits = [
        work_kit_of(visit_line("oil", "O1", 9000, "L", stage="late"), number=12),
        work_kit_of(visit_line("oil", "O1", 12_000_000, "mL"), line("seal:S1"), number=13),
    ]
    (first, second), clashes = share_visit(kits)
    assert [(one.need, one.amount, one.unit, one.stage) for one in first.lines] == [("oil:O1", 12_000, "L", "late")]
    assert [one.need for one in second.lines] == ["seal:S1"]
    assert second.elsewhere == ("Name of O1: 12 L with booking 12",)
    assert clashes == []


def test_a_role_with_several_lines_does_not_clash_with_itself():
    kit = work_kit_of(visit_line("wipes", "X"), visit_line("wipes", "Y"))
    assert share_visit([kit]) == ([kit], [])


def test_one_swapped_for_another_is_a_clash():
    kits = [
        work_kit_of(visit_line("oil", "O1"), number=12),
        work_kit_of(visit_line("oil", "O1", item="O2", acceptable=("O2",)), number=13),
    ]
    shared, clashes = share_visit(kits)
    assert clashes == ["The oil: booking 12 asks for O1, booking 13 for O2, and the visit needs one"]
    assert [len(kit.lines) for kit in shared] == [1, 1]


def test_extras_and_reserves_stay_as_they_are():
    extra, reserve = line("&X"), line("?X", certainty="possible")
    kits = [
        work_kit_of(visit_line("wipes", "X"), number=12),
        work_kit_of(visit_line("wipes", "X"), number=13, extras=(extra,), reserves=(reserve,)),
    ]
    shared, _ = share_visit(kits)
    # what was shared away isn't asked for again as an extra
    assert (shared[1].lines, shared[1].extras, shared[1].reserves) == ((), (extra,), (reserve,))


def test_what_is_ordered_comes_before_an_enquiry_then_the_earliest():
    from datetime import timedelta

    early, late = START, START + timedelta(hours=2)
    asked = [booking(1, start=early, state="enquiry"), booking(2, start=late), booking(3, start=early)]
    for order in itertools.permutations(asked):
        assert [one.number for one in in_visit_order(order)] == [3, 2, 1]
