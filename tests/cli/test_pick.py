"""`pick` as a process, in a small workshop: the list, what was picked, what was short, wrong words."""

import json
from pathlib import Path

import jsonschema
import msgspec
import pytest

from kitbuilder.model.work import PickList
from tests.cli import bay
from tests.cli.bay import do
from tests.cli.running import on_terminal, run


@pytest.fixture(scope="module")
def sourced(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Bookings: 1 with an open question; 2 and 3 of one visit, of which 2 waits for a pump; 4 an enquiry; 5 new."""
    folder = tmp_path_factory.mktemp("bay") / "workshop"
    folder.mkdir()
    bay.lay_out(folder)
    bay.book(folder)
    bay.book(folder, "pump-replace", "--visit", "v")
    bay.book(folder, "cover-reseal", "--fact", "place=workshop", "--visit", "v", start="2026-03-11T10:00")
    bay.book(folder, "pump-replace", "--enquiry", start="2026-03-12T10:00")
    bay.night(folder)
    bay.book(folder, start="2026-03-12T12:00")
    return folder


@pytest.fixture
def here(sourced: Path, tmp_path: Path) -> Path:
    """The same, to be changed."""
    return bay.copied(sourced, tmp_path / "workshop")


def listed(folder: Path, number: str = "1", *words: str, codes=(0,)):
    answer = json.loads(do(folder, "pick", number, *words, "--json", codes=codes).out)
    jsonschema.validate(answer, msgspec.json.schema(PickList))
    return answer


def states(answer):
    return {row["item"]: row["state"] for row in answer["lines"]}


def held(folder: Path, item: str) -> list[str]:
    return [row["held"] for row in json.loads(do(folder, "stock", "list", item, "--json").out)["lots"]]


def test_the_list_is_in_bin_order_with_what_the_label_shows(sourced: Path) -> None:
    answer = listed(sourced)
    assert answer["warnings"] == []
    assert [
        (row["bin"], row["item"], row["amount"], row["unit"], row["lot"], row["code"], row["roles"])
        for row in answer["lines"]
    ] == [
        ("A-01-1-1", "WI-400", "2", "each", "", "WI-400", ["wipes"]),
        ("A-02-1-1", "SE-100", "1", "each", "L7", "04012345678901", ["seal"]),
        ("A-10-1-1", "RI-200", "4", "each", "", "RI-200", ["rings"]),
        ("B-01-1-1", "OL-300", "9.5", "L", "D1", "OIL-BARREL", ["oil"]),
    ]
    assert [(row["item"], row["amount"]) for row in answer["reserved"]] == [("RI-200", "2")]
    assert answer["tools"] == ["Tap M14 (TA-500): 1 each in T-1"]
    assert answer["on_condition"] == ["Bearing (BE-600), if: Bearing found worn: 2 each in A-03-1-1"]


def test_the_text_says_the_same_in_whole_words_within_80_columns(sourced: Path) -> None:
    for number in ("1", "2", "3"):
        ran = do(sourced, "pick", number)
        assert max(len(line) for line in ran.out.splitlines()) <= 80
        assert ran.err == ""
    text = " ".join(do(sourced, "pick", "1").out.split())
    for said in (
        "PICK LIST for booking 1 cover-reseal",
        "B-01-1-1 9.5 L OL-300 Gear oil from the barrel lot D1",
        "use by 2027-06-30",
        "LEAVE WHERE IT LIES until an open question is answered A-10-1-1 2 each",
        "TOOLS TO FETCH - Tap M14",
        "ON CONDITION, NOT HELD - Bearing",
        "come first.",
    ):
        assert said in text
    for mark in ("?RI-200", "&", "planned", "box-oil:"):
        assert mark not in text


def test_at_a_terminal_the_headings_are_bold_and_the_width_is_kept(sourced: Path) -> None:
    code, screen = on_terminal(bay.kitbuilder("pick", "1"), sourced, columns=62)
    assert code == 0
    assert "\x1b[1mPICK LIST for booking 1\x1b[0m" in screen
    assert max(len(line) for line in screen.replace("\x1b[1m", "").replace("\x1b[0m", "").splitlines()) <= 62


def test_what_is_ordered_and_what_another_booking_has_is_told(sourced: Path) -> None:
    assert listed(sourced, "2")["not_held"] == ["1 each Pump (PU-100)"]
    assert listed(sourced, "3")["elsewhere"] == ["Wipes: 2 each with booking 2"]


def test_start_and_done_take_the_list_and_leave_the_reserve(here: Path) -> None:
    assert set(states(listed(here, "1", "--start", "--by", "D. Quill")).values()) == {"picking"}
    answer = listed(here, "1", "--done", "--by", "D. Quill")
    assert set(states(answer).values()) == {"picked"}
    assert [row["state"] for row in answer["reserved"]] == ["planned"]
    assert "IN THE TOTE" in do(here, "pick", "1").out
    # once more changes nothing
    assert listed(here, "1", "--done") == answer
    do(here, "stock", "audit")


def test_done_at_once(here: Path) -> None:
    assert set(states(listed(here, "1", "--done")).values()) == {"picked"}


def test_a_short_pick_lets_the_rest_go_and_says_what_to_do(here: Path) -> None:
    # four are needed, two are only reserved: of the six in the bin, three were found
    ran = run(here, "pick", "1", "--short", "RI-200=3")
    assert ran.code == 1
    assert "warning: RI-200 was short: count bin A-10-1-1" in ran.said
    answer = listed(here)
    assert [(row["item"], row["amount"]) for row in answer["lines"] if row["item"] == "RI-200"] == [("RI-200", "3")]
    assert answer["reserved"] == []
    assert held(here, "RI-200") == ["7"]  # with booking 3's four
    do(here, "stock", "audit")


def test_none_found_by_code_then_the_rest_is_picked(here: Path) -> None:
    answer = listed(here, "1", "--short", "04012345678901=0", "--short", "oil-barrel=0.5", "--done", codes=(1,))
    assert states(answer) == {"WI-400": "picked", "RI-200": "picked", "OL-300": "picked"}
    assert {row["item"]: row["amount"] for row in answer["lines"]}["OL-300"] == "0.5"
    assert len(answer["warnings"]) == 2
    assert answer["not_held"] == ["1 each Seal of the cover (SE-100)"]
    do(here, "stock", "audit")


def test_where_it_lies_in_two_places_the_place_has_to_be_said(here: Path) -> None:
    do(here, "stock", "receive", "XX-900", "1", "--bin", "C-1", "--lot", "M1")
    do(here, "stock", "receive", "XX-900", "1", "--bin", "C-2", "--lot", "M2")
    do(
        here,
        "edit",
        "1",
        "--add",
        "seal",
        "--item",
        "XX-900",
        "--to",
        "2",
        "--why",
        "two of them",
        "--by",
        "A. Person",
    )
    bay.night(here)
    ran = run(here, "pick", "1", "--short", "XX-900=0")
    assert ran.code == 2
    assert "it lies in 2 places; say which: XX-900/M1@C-1 or XX-900/M2@C-2, each with =FOUND." in ran.said
    answer = listed(here, "1", "--short", "XX-900/M2=0", codes=(1,))
    assert [(row["bin"], row["roles"]) for row in answer["lines"] if row["item"] == "XX-900"] == [("C-1", ["seal"])]
    assert listed(here, "1", "--short", "XX-900@C-1=0", codes=(1,))["not_held"] == [
        "2 each Something else (XX-900)"
    ]


WRONG = (
    (("pick", "9"), 2, "There is no booking 9. `kitbuilder book list` shows all."),
    (("pick", "one"), 2, "'one' is not a valid int"),
    (("pick",), 2, "Missing argument 'BOOKING'"),
    (("pick", "5"), 3, "Booking 5 has no kit yet. Run `kitbuilder night run`, which builds it."),
    (("pick", "1", "--short", "RI-200"), 2, "--short 'RI-200' lacks an equals sign. Expected ITEM=FOUND"),
    (("pick", "1", "--short", "=2"), 2, "Expected ITEM=FOUND"),
    (("pick", "1", "--short", "RI-20=2"), 2, "nothing of it is to be picked. Did you mean 'RI-200'?"),
    (("pick", "1", "--short", "XX-900=1"), 2, "--short 'XX-900=1': nothing of it is to be picked."),
    (
        ("pick", "1", "--short", "RI-200@A-9=2"),
        2,
        "nothing of RI-200 in bin A-9 is to be picked. Expected RI-200@A-10-1-1",
    ),
    (
        ("pick", "1", "--short", "SE-100/L8=0"),
        2,
        "nothing of SE-100 of lot L8 is to be picked. Expected SE-100/L7@A-02-1-1",
    ),
    (("pick", "1", "--short", "RI-200=6"), 2, "6 each are to be picked, so that is not short"),
    (("pick", "1", "--short", "RI-200=."), 2, "'.' is no amount of each"),
    (("pick", "1", "--short", "RI-200="), 2, "'' is no amount of each"),
    (("pick", "1", "--short", "RI-200=-1"), 2, "'-1' is no amount of each"),
    (("pick", "1", "--short", "OL-300=0,5"), 2, "Expected a decimal point: 0.5"),
    (("pick", "1", "--shrot", "RI-200=2"), 2, "Did you mean --json or --short?"),
)


@pytest.mark.parametrize(("words", "code", "said"), WRONG, ids=[" ".join(words) for words, _, _ in WRONG])
def test_a_wrong_word_is_told_in_one_paragraph(sourced: Path, words: tuple[str, ...], code: int, said: str) -> None:
    ran = run(sourced, *words)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.said
    assert "Traceback" not in ran.err
    assert "\n\n" not in ran.err.strip()
    assert max(len(line) for line in ran.err.splitlines()) <= 80


def test_one_wrong_short_pick_keeps_the_right_ones_from_being_done(here: Path) -> None:
    before = listed(here)
    ran = run(here, "pick", "1", "--short", "RI-200=1", "--short", "SE-100=one", "--done")
    assert ran.code == 2
    assert listed(here) == before


def test_nothing_is_short_once_all_is_picked(here: Path) -> None:
    do(here, "pick", "2", "--done")
    ran = run(here, "pick", "2", "--short", "WI-400=1")
    assert ran.code == 2
    assert "Nothing is left to be picked here, so nothing can be short." in ran.said


def test_the_list_says_what_the_night_does_not_know_yet(here: Path) -> None:
    fits = here / "catalogue" / "fits" / "fits.csv"
    fits.write_text(fits.read_text("utf-8") + ",seal,XX-900,,1,each,,road\n", "utf-8")
    do(here, "book", "cancel", "2")
    assert listed(here)["warnings"] == [
        "The catalogue has changed since booking 1's kit was built; the next run builds it anew."
    ]
    assert "warning: Booking 2 is cancelled." in run(here, "pick", "2").said
    # a cancelled booking has nothing for its visit
    assert listed(here, "3")["elsewhere"] == []


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ('"fit"', '"mend"', "cover-reseal has no stage 'fit' any more. Run the night again."),
        ("[jobs.cover-reseal]", "[jobs.cover-renew]", "There is no job 'cover-reseal'"),
    ],
    ids=["a stage", "the job"],
)
def test_a_kit_that_the_catalogue_outgrew_is_no_kit_with_a_line_less(
    here: Path, old: str, new: str, said: str
) -> None:
    jobs = here / "catalogue" / "jobs" / "jobs.toml"
    jobs.write_text(jobs.read_text("utf-8").replace(old, new), "utf-8")
    for words in (("pick", "1"), ("check", "1", "--gate")):
        ran = run(here, *words)
        assert (ran.code, ran.out) == (3, "")
        assert "Booking 1's kit no longer fits the catalogue" in ran.said
        assert said in ran.said


def test_an_edit_that_finds_nothing_any_more_is_told(here: Path) -> None:
    do(here, "edit", "1", "--swap", "seal", "--item", "XX-900", "--why", "better", "--by", "A. Person")
    do(here, "edit", "1", "--strike", "rings", "--line", "RI-200", "--why", "none", "--by", "A. Person")
    fits = here / "catalogue" / "fits" / "fits.csv"
    fits.write_text(fits.read_text("utf-8").replace(",seal,SE-100", ",seal,BE-600"), "utf-8")
    bay.night(here)
    (warning,) = listed(here)["warnings"]
    assert (
        warning == "edit 1 (swap SE-100 in seal for XX-900; A. Person: better): the kit has no such line any more"
    )
