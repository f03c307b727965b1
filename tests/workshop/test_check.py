"""The kit check: what each scan comes to, and what is left to be found."""

from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.model.work import Scan
from kitbuilder.workshop.check import Codes, Tote, judge, read, still_missing, undo
from tests.workshop.making import TODAY, hold, item, line

GTIN = "04012345678901"
ITEMS = {
    one.number: one
    for one in (
        item("S1", name="Seal", codes=(GTIN, "SEAL-A")),
        item("S2", name="Ring"),
        item("O1", "L", "Oil", ("OIL/BARREL",)),
        item("AB 12/3", name="Odd"),
        item("T1", name="Tap"),
        item("C1", name="Clutch"),
        item("C2", name="Clutch, other"),
    )
}
CODES = Codes(ITEMS)


class Check:
    """A check as it goes: lines in, verdicts out."""

    def __init__(self, *holds, lines=(), scans=()):
        self.holds, self.lines, self.scans, self.told = holds, lines, list(scans), []

    @property
    def tote(self):
        return Tote(self.holds, self.scans, ITEMS)

    def scan(self, *texts):
        for text in texts:
            if text == "undo":
                verdict = undo(self.scans, self.tote)
                if verdict.verdict == "undone":
                    self.scans.pop()
            else:
                verdict, scan = judge(read(text, CODES), self.tote, TODAY, self.lines)
                assert (scan is not None) == (verdict.verdict == "taken")
                if scan:
                    self.scans.append(scan)
            self.told.append(verdict)
        return self.told[-1]

    def missing(self):
        return still_missing(self.tote)


def seals(quantity=3000, **more):
    return hold("seal:S1", "S1", quantity, **more)


@pytest.mark.parametrize("text", ["S1", "s1", GTIN, GTIN.lstrip("0"), "00" + GTIN, "SEAL-A", "seal-a"])
def test_an_item_is_known_by_its_number_and_by_its_codes(text):
    verdict = Check(seals()).scan(text)
    assert (verdict.verdict, verdict.text) == ("taken", "Seal (S1): 1 of 3 each, 2 to come")


@pytest.mark.parametrize(
    ("text", "item_", "lot", "quantity", "unit"),
    [
        ("S1", "S1", "", "", ""),
        ("S1 4", "S1", "", "4", ""),
        ("S1/L7", "S1", "L7", "", ""),
        ("S1/L7 4", "S1", "L7", "4", ""),
        ("S1 / L7 4", "S1", "L7", "4", ""),
        ("O1 500 mL", "O1", "", "500", "mL"),
        ("OIL/BARREL", "O1", "", "", ""),
        ("OIL/BARREL/7 2", "O1", "7", "2", ""),
        ("AB 12/3", "AB 12/3", "", "", ""),
        ("AB 12/3 2", "AB 12/3", "", "2", ""),
        ("AB 12/3/L1 2 each", "AB 12/3", "L1", "2", "each"),
        ("S1 all", "S1", "", "all", ""),
        ("  S1   4 ", "S1", "", "4", ""),
        ("S9 4", None, "", "", ""),
        ("", None, "", "", ""),
        ("S1/", "S1", "", "", ""),
        ("4", None, "", "", ""),
    ],
)
def test_a_line_is_read_as_item_lot_and_amount(text, item_, lot, quantity, unit):
    found = read(text, CODES)
    assert (found.item, found.lot, found.quantity, found.unit) == (item_, lot, quantity, unit)


def test_one_scan_is_one_piece_until_all_are_there():
    check = Check(seals())
    assert [check.scan("S1").text for _ in range(3)] == [
        "Seal (S1): 1 of 3 each, 2 to come",
        "Seal (S1): 2 of 3 each, 1 to come",
        "Seal (S1): 3 of 3 each",
    ]
    assert check.missing() == []
    verdict = check.scan("S1")
    assert (verdict.verdict, verdict.text) == (
        "too many",
        "Seal (S1): all 3 each are checked already. Put the rest aside.",
    )
    assert len(check.scans) == 3


def test_a_bag_is_one_scan():
    check = Check(seals(12_000))
    check.scan("S1")
    assert check.scan("S1 all").text == "Seal (S1): 12 of 12 each"
    assert check.missing() == []


def test_too_many_at_once_are_told_and_not_taken():
    check = Check(seals())
    verdict = check.scan("S1 2", "S1 2")
    assert (verdict.verdict, verdict.text) == (
        "too many",
        "Seal (S1): that makes 4 each, but only 3 belong to this job. Put the rest aside.",
    )
    assert check.missing() == ["1 each of Seal (S1)"]


def test_too_few_are_told_at_the_end():
    check = Check(seals(), hold("oil:O1", "O1", 9500, unit="L"))
    assert check.missing() == ["3 each of Seal (S1)", "9.5 L of Oil (O1)"]
    check.scan("S1 2", "O1 9")
    assert check.missing() == ["1 each of Seal (S1)", "0.5 L of Oil (O1)"]


def test_what_is_measured_is_found_whole_or_by_amount_in_any_unit():
    oil = hold("oil:O1", "O1", 9500, unit="L")
    assert Check(oil).scan("O1").text == "Oil (O1): 9.5 of 9.5 L"
    check = Check(oil)
    assert check.scan("O1 500 mL").text == "Oil (O1): 0.5 of 9.5 L, 9 to come"
    assert check.scan("O1").text == "Oil (O1): 9.5 of 9.5 L"
    assert check.scan("O1").verdict == "too many"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("S1 1.5", "'1.5' is no amount of each. Expected a whole number of each, or 'all'."),
        ("S1 0", "Expected a decimal more than zero"),
        ("S1 -1", "'-1' is no amount"),
        ("S1 many", "'many' is no amount"),
        ("O1 0,5", "Expected a decimal point: 0.5"),
        ("O1 5 kg", "'5 kg' is no amount of L. Expected a unit that converts to L"),
        ("O1 5 pints", "Expected a unit that converts to L"),
    ],
)
def test_an_amount_that_is_none_is_told_and_nothing_is_taken(text, said):
    check = Check(seals(), hold("oil:O1", "O1", 9500, unit="L"))
    verdict = check.scan(text)
    assert verdict.verdict == "no amount"
    assert said in verdict.text
    assert check.scans == []


def test_wrong_items_are_put_aside():
    kit = [
        line("tap:T1", sort="special tool"),
        line("clutch:C1", finding="worn", condition="Clutch worn"),
        line("oil:box", acceptable=("O1", "C2")),
    ]
    check = Check(seals(), lines=kit)
    assert [(check.scan(text).verdict, check.told[-1].text) for text in ("S2", "T1", "C1", "C2", "X9", "S3")] == [
        ("wrong item", "Ring (S2) does not belong to this job. Put it aside."),
        ("tool", "Tap (T1) is a tool of this job; tools are not counted."),
        ("not held", "Clutch (C1) is wanted only if: Clutch worn. It is not held for this job."),
        ("not held", "Clutch, other (C2) would do, but is not held for this job. Ask at the counter."),
        ("unknown", "X9 is no item number and no code."),
        ("unknown", "S3 is no item number and no code. Did you mean S1?"),
    ]
    assert check.scans == []


def test_lots_are_counted_apart():
    check = Check(seals(2000, lot="L1"), seals(3000, lot="L2", number=2))
    assert check.scan("S1/L9").text == "Seal (S1): lot L9 was not picked for this job, but lot L1 or lot L2."
    assert check.told[-1].verdict == "wrong lot"
    assert check.scan("S1/L1 2").verdict == "taken"
    verdict = check.scan("S1/L1")
    assert (verdict.verdict, verdict.text) == (
        "too many",
        "Seal (S1): only 2 each of lot L1 were picked. Look at the lots.",
    )
    assert check.scan("S1/L2 all").text == "Seal (S1): 5 of 5 each"
    assert check.scan("S1/L2 all").verdict == "too many"


def test_all_of_a_lot_is_no_more_than_the_lot():
    check = Check(seals(2000, lot="L1"), seals(3000, lot="L2", number=2))
    assert check.scan("S1/L1 all").text == "Seal (S1): 2 of 5 each, 3 to come"
    assert check.scan("S1/L1 all").verdict == "too many"


def test_a_lot_where_none_was_held_is_wrong():
    assert (
        Check(seals()).scan("S1/L1").text == "Seal (S1): lot L1 was not picked for this job, but one without a lot."
    )


def test_past_its_use_by_is_not_taken_and_its_last_day_still_is():
    past, last = TODAY - timedelta(days=1), TODAY
    verdict = Check(seals(lot="L1", use_by=past)).scan("S1")
    assert (verdict.verdict, verdict.text) == (
        "use-by passed",
        "Seal (S1) lot L1 was to be used by 2026-03-09. Don't use it.",
    )
    assert Check(seals(lot="L1", use_by=last)).scan("S1").verdict == "taken"
    mixed = Check(seals(1000, lot="L1", use_by=past), seals(1000, lot="L2", number=2))
    assert "say which: S1/LOT" in mixed.scan("S1").text
    assert mixed.scan("S1/L2").verdict == "taken"
    assert mixed.scan("S1/L1").verdict == "use-by passed"
    assert mixed.missing() == ["1 each of Seal (S1)"]


def test_several_lines_with_one_item_are_checked_together():
    check = Check(seals(2000), hold("ring:S1", "S1", 3000, 2))
    assert check.scan("S1 all").text == "Seal (S1): 5 of 5 each"


def test_undo_takes_the_last_back():
    check = Check(seals())
    assert check.scan("undo").verdict == "nothing to undo"
    assert check.scan("S1", "S1 2", "undo").text == "Seal (S1): 2 each taken back, 1 of 3 are checked."
    assert check.missing() == ["2 each of Seal (S1)"]
    assert check.scan("undo", "undo").verdict == "nothing to undo"


def test_what_is_signed_for_counts_as_found_and_is_not_undone():
    """The tote was signed for, then one more was held: only that is still to be found."""
    check = Check(seals(state="issued"), hold("ring:S1", "S1", 1000, 2), scans=[Scan("S1", "", 3000)])
    assert check.missing() == ["1 each of Seal (S1)"]
    assert check.scan("undo").text == "Seal (S1) is signed for; it can't be taken back here."
    assert check.scan("S1").text == "Seal (S1): 4 of 4 each"
    assert check.scan("undo").verdict == "undone"
    assert check.scan("undo").verdict == "nothing to undo"


def test_what_was_signed_for_before_its_use_by_is_no_longer_asked_after():
    past = TODAY - timedelta(days=1)
    check = Check(
        seals(1000, lot="L1", use_by=past, state="issued"),
        hold("ring:S1", "S1", 1000, 2, lot="L2"),
        scans=[Scan("S1", "L1", 1000)],
    )
    assert check.scan("S1").text == "Seal (S1): 2 of 2 each"


def test_a_scan_whose_hold_was_let_go_can_be_undone():
    check = Check(scans=[Scan("S1", "", 1000)])
    assert check.scan("undo").verdict == "undone"
    assert check.scans == []


def test_what_is_reserved_need_not_be_found_and_is_taken_only_by_saying_so():
    check = Check(seals(2000), hold("?S1", "S1", 2000, 2))
    assert check.missing() == ["2 each of Seal (S1)"]
    check.scan("S1 all")
    assert check.missing() == []
    verdict = check.scan("S1")
    assert verdict.verdict == "too many"
    assert "2 more are held for an open question: say how much you take" in verdict.text
    assert [one.id for one in check.tote.holds_found()] == [1]
    assert check.scan("S1 1").text == "Seal (S1): 3 of 4 each (held for an open question)"
    assert [one.id for one in check.tote.holds_found()] == [1]
    assert check.tote.half_found() == ["1 each of Seal (S1)"]
    check.scan("S1 1")
    assert [one.id for one in check.tote.holds_found()] == [1, 2]
    assert check.tote.half_found() == []
    assert check.scan("S1 1").verdict == "too many"


def test_what_is_only_reserved_is_found_like_anything_else():
    check = Check(hold("?O1", "O1", 2000, unit="L"))
    assert check.missing() == []
    assert check.tote.holds_found() == []
    assert check.scan("O1").text == "Oil (O1): 2 of 2 L (held for an open question)"
    assert len(check.tote.holds_found()) == 1


def test_the_reserve_of_the_lot_that_was_scanned_is_the_one_found():
    check = Check(hold("?S1", "S1", 1000, 1, lot="L1"), hold("?S1", "S1", 1000, 2, lot="L2"))
    check.scan("S1/L2")
    assert [one.id for one in check.tote.holds_found()] == [2]


def test_holds_in_another_unit_add_up_in_the_items():
    check = Check(hold("oil:O1", "O1", 500_000, 1, "mL"), hold("oil:O1", "O1", 1000, 2, "L"))
    assert check.missing() == ["1.5 L of Oil (O1)"]
    assert check.scan("O1").text == "Oil (O1): 1.5 of 1.5 L"


SCANS = st.lists(
    st.one_of(
        st.tuples(
            st.sampled_from(("S1", "S2")),
            st.sampled_from(("", "/L1", "/L2")),
            st.sampled_from(("", " 1", " 2", " all")),
        ).map("".join),
        st.just("undo"),
    ),
    max_size=12,
)


@given(st.integers(0, 3), st.integers(0, 3), st.integers(0, 2), SCANS)
def test_no_more_is_ever_taken_than_is_there_and_all_found_is_nothing_missing(first, second, other, texts):
    holds = (
        [hold("seal:S1", "S1", first * 1000, 1, lot="L1")] * bool(first)
        + [hold("seal:S1", "S1", second * 1000, 2, lot="L2")] * bool(second)
        + [hold("ring:S2", "S2", other * 1000, 3)] * bool(other)
    )
    check = Check(*holds)
    check.scan("undo", *texts)
    taken = {number: sum(one.quantity for one in check.scans if one.item == number) for number in ("S1", "S2")}
    assert taken["S1"] <= (first + second) * 1000
    assert taken["S2"] <= other * 1000
    for lot, held in (("L1", first), ("L2", second)):
        assert sum(one.quantity for one in check.scans if one.item == "S1" and one.lot == lot) <= held * 1000
    left = [(first + second) * 1000 - taken["S1"], other * 1000 - taken["S2"]]
    assert len(check.missing()) == sum(one > 0 for one in left)
    assert (len(check.tote.holds_found()) == len(holds)) == (not check.missing())
