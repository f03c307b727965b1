"""`check` as a process, in a small workshop: scans through a pipe and at a terminal, signing, the start gate."""

import json
import signal
import subprocess
from pathlib import Path

import jsonschema
import msgspec
import pytest

from kitbuilder.model.work import Gate
from tests.cli import bay
from tests.cli.bay import do
from tests.cli.running import on_terminal, run

ALL_OF_3 = "SE-100/L7\nRI-200 4\nOIL-BARREL\n"
ALL_OF_1 = ALL_OF_3 + "WI-400\nWI-400\n"


@pytest.fixture(scope="module")
def picked(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Bookings: 1 with an open question, picked; 2 and 3 of one visit, of which 2 waits for a pump; 3 is picked."""
    folder = tmp_path_factory.mktemp("bay") / "workshop"
    folder.mkdir()
    bay.lay_out(folder)
    bay.book(folder)
    bay.book(folder, "pump-replace", "--visit", "v")
    bay.book(folder, "cover-reseal", "--fact", "place=workshop", "--visit", "v", start="2026-03-11T10:00")
    bay.night(folder)
    bay.book(folder, start="2026-03-12T12:00")
    for number in ("1", "3"):
        do(folder, "pick", number, "--done", "--by", "D. Quill")
    return folder


@pytest.fixture
def here(picked: Path, tmp_path: Path) -> Path:
    """The same, to be changed."""
    return bay.copied(picked, tmp_path / "workshop")


def gate(folder: Path, number: str, *words: str, codes=(0, 1), typed: str = ""):
    answer = json.loads(do(folder, "check", number, *words, "--json", codes=codes, typed=typed).out)
    jsonschema.validate(answer, msgspec.json.schema(Gate))
    return answer


def on_hand(folder: Path, item: str) -> list[tuple[str, str]]:
    return [
        (row["on_hand"], row["held"]) for row in json.loads(do(folder, "stock", "list", item, "--json").out)["lots"]
    ]


def test_a_line_a_scan_and_then_the_gate(here: Path) -> None:
    ran = do(
        here,
        "check",
        "3",
        "--by",
        "P. Anwell",
        typed="SE-100\nri-200\n\n  RI-200   3 \nOIL-BARREL 9\nOL-300 500 mL\n",
    )
    assert ran.err.splitlines() == [
        "ok  Seal of the cover (SE-100): 1 of 1 each",
        "ok  Sealing ring, 14 mm (RI-200): 1 of 4 each, 3 to come",
        "ok  Sealing ring, 14 mm (RI-200): 4 of 4 each",
        "ok  Gear oil from the barrel (OL-300): 9 of 9.5 L, 0.5 to come",
        "ok  Gear oil from the barrel (OL-300): 9.5 of 9.5 L",
    ]
    assert ran.out.startswith("Booking 3: START. All that the job needs is there.\n")


def test_wrong_ones_are_told_and_the_check_goes_on(here: Path) -> None:
    ran = do(
        here,
        "check",
        "3",
        typed="XX-900\nSE-10\nWI-400\nSE-100/L8\nSE-100 2\nRI-200 1.5\nTA-500\nBE-600\n" + ALL_OF_3,
    )
    said = ran.said
    for text in (
        "WRONG ITEM: Something else (XX-900) does not belong to this job. Put it aside.",
        "UNKNOWN: SE-10 is no item number and no code. Did you mean SE-100?",
        "WRONG ITEM: Wipes (WI-400)",
        "WRONG LOT: Seal of the cover (SE-100): lot L8 was not picked for this job, but lot L7.",
        "TOO MANY: Seal of the cover (SE-100): that makes 2 each, but only 1 belong to this job.",
        "NO AMOUNT: '1.5' is no amount of each.",
        "TOOL: Tap M14 (TA-500) is a tool of this job; tools are not counted.",
        "NOT HELD: Bearing (BE-600) is wanted only if: Bearing found worn.",
    ):
        assert text in said
    assert max(len(line) for line in (ran.err + ran.out).splitlines()) <= 80
    assert "START." in ran.out


def test_too_few_at_the_end_is_the_answer_no(here: Path) -> None:
    ran = run(here, "check", "3", typed="RI-200 3\n")
    assert ran.code == 1
    assert [line for line in ran.err.splitlines() if "warning" in line] == [
        "warning: not found in the tote: 9.5 L of Gear oil from the barrel (OL-300)",
        "warning: not found in the tote: 1 each of Sealing ring, 14 mm (RI-200)",
        "warning: not found in the tote: 1 each of Seal of the cover (SE-100)",
    ]
    assert (
        gate(here, "3", codes=(1,))["warnings"][0]
        == "not found in the tote: 9.5 L of Gear oil from the barrel (OL-300)"
    )


def test_a_check_goes_on_where_it_stopped_and_earlier_scans_can_be_undone(here: Path) -> None:
    do(here, "check", "3", codes=(1,), typed="SE-100\nRI-200 3\nend\nOL-300\n")
    ran = do(here, "check", "3", codes=(1,), typed="undo\nundo\nundo\n")
    assert ran.err.splitlines()[:3] == [
        "UNDONE: Sealing ring, 14 mm (RI-200): 3 each taken back, 0 of 4 are checked.",
        "UNDONE: Seal of the cover (SE-100): 1 each taken back, 0 of 1 are checked.",
        "NOTHING TO UNDO: Nothing has been scanned.",
    ]
    do(here, "check", "3", codes=(0,), typed=ALL_OF_3)
    assert do(here, "check", "3", typed="").err == ""


def test_signing_issues_what_was_found_and_leaves_the_reserve(here: Path) -> None:
    before = on_hand(here, "RI-200")
    ran = do(here, "check", "1", "--sign", "--by", "P. Anwell", typed=ALL_OF_1)
    assert "4 items signed for by P. Anwell." in ran.err
    assert before == [("50", "10")]
    assert on_hand(here, "RI-200") == [("46", "6")]  # two reserved, four of booking 3
    do(here, "stock", "audit")
    shown = json.loads(do(here, "pick", "1", "--json").out)
    assert (shown["lines"], len(shown["reserved"]), shown["not_held"]) == ([], 1, [])
    evidence = [one for stage in gate(here, "1", "--gate")["stages"] for one in stage["evidence"]]
    assert {one["sureness"] for one in evidence} == {"signed for"}
    # again there is nothing to find, nothing to take back, nothing to sign for twice
    again = do(here, "check", "1", "--sign", "--by", "P. Anwell", typed="undo\nSE-100\n")
    assert "is signed for; it can't be taken back here." in again.said
    assert "TOO MANY: Seal of the cover (SE-100): all 1 each are checked already." in again.said
    assert on_hand(here, "RI-200") == [("46", "6")]
    do(here, "stock", "audit")


def test_what_is_reserved_is_issued_once_it_was_scanned_wholly(here: Path) -> None:
    half = run(here, "check", "1", "--sign", "--by", "P. Anwell", typed=ALL_OF_1 + "RI-200 1\n")
    assert half.code == 1
    assert "held for an open question and only scanned in part: 1 each of Sealing ring, 14 mm (RI-200)" in half.said
    assert "nothing was signed for" in half.said
    assert on_hand(here, "RI-200") == [("50", "10")]
    do(here, "check", "1", "--sign", "--by", "P. Anwell", typed="RI-200 1\n")
    assert on_hand(here, "RI-200") == [("44", "4")]
    do(here, "stock", "audit")


def test_an_incomplete_tote_is_not_signed_for(here: Path) -> None:
    ran = run(here, "check", "3", "--sign", "--by", "P. Anwell", typed="SE-100\n")
    assert ran.code == 1
    assert "warning: nothing was signed for" in ran.err
    assert on_hand(here, "SE-100") == [("3", "2")]


def test_what_was_not_yet_told_as_picked_can_be_signed_for(here: Path) -> None:
    do(here, "check", "2", "--sign", "--by", "P. Anwell", codes=(1,), typed="WI-400 all\n")
    assert on_hand(here, "WI-400") == [("7", "2")]
    do(here, "stock", "audit")


def test_past_its_use_by_is_told_by_the_sites_day(here: Path) -> None:
    # 23:30 UTC is already the next day at the site, in summer
    bay.set_clock(here, "2027-06-30T22:30:00+00:00")
    assert "ok  Seal" in do(here, "check", "3", codes=(1,), typed="SE-100\nundo\n").err
    bay.set_clock(here, "2027-06-30T23:30:00+00:00")
    ran = do(here, "check", "3", codes=(1,), typed="SE-100\n")
    assert (
        "USE-BY PASSED: Seal of the cover (SE-100) lot L7 was to be used by 2027-06-30. Don't use it." in ran.said
    )


def test_the_gate_follows_order_and_decision_stage_by_stage(here: Path) -> None:
    waiting = gate(here, "2", "--gate", codes=(1,))
    assert (waiting["answer"], [stage["answer"] for stage in waiting["stages"]]) == (
        "don't start",
        ["ready", "short"],
    )
    assert waiting["stages"][1]["missing"] == ["1 each Pump (PU-100): 1 waits for a decision on order 1 at north"]
    do(here, "order", "approve", "1", "--sent", "--by", "A. Person")
    coming = gate(here, "2", "--gate", codes=(0,))
    assert coming["answer"] == "start, but"
    (evidence,) = coming["stages"][1]["evidence"]
    assert (evidence["item"], evidence["source"], evidence["sureness"], evidence["margin_min"]) == (
        "PU-100",
        "north",
        "promised",
        30,
    )
    text = do(here, "check", "2", "--gate").out
    assert "START, but what is named below must be here before its stage." in text
    assert "2026-03-11 09:00  fit: must arrive" in text
    assert "1 each Pump (PU-100) from north: promised for 2026-03-11 08:30, 30 min before the stage" in " ".join(
        text.split()
    )


def test_the_gate_follows_the_actual_start(here: Path) -> None:
    do(here, "order", "approve", "1", "--sent", "--by", "A. Person", "--expected", "2026-03-11T09:20+00:00")
    late = gate(here, "2", "--gate", codes=(1,))
    assert late["stages"][1]["answer"] == "late"
    assert "20 min AFTER the stage starts" in " ".join(do(here, "check", "2", "--gate", codes=(1,)).out.split())
    # nobody started at eight: at a quarter to nine it would be in time
    bay.set_clock(here, "2026-03-11T08:45:00+00:00")
    waited = gate(here, "2", "--gate", codes=(0,))
    assert (waited["answer"], waited["stages"][1]["evidence"][0]["margin_min"]) == ("start, but", 25)
    started = gate(here, "2", "--gate", "--started", codes=(0,))
    assert started["stages"][1]["start"] == "2026-03-11T09:45:00+00:00"
    # the clock goes on, the start stays
    bay.set_clock(here, "2026-03-11T09:30:00+00:00")
    going = gate(here, "2", "--gate", "--started", codes=(0,))
    (evidence,) = going["stages"][1]["evidence"]
    assert (going["stages"][1]["start"], evidence["sureness"], evidence["margin_min"]) == (
        "2026-03-11T09:45:00+00:00",
        "overdue",
        15,
    )
    assert "was promised for earlier and isn't booked in" in " ".join(do(here, "check", "2", "--gate").out.split())


def test_open_questions_and_findings_are_shown(picked: Path) -> None:
    answer = gate(picked, "1", "--gate", codes=(0,))
    assert (answer["answer"], answer["ask"], answer["risks"]) == (
        "start, but",
        ["Where is the work done?"],
        ["Bearing (BE-600), if: Bearing found worn (chance 15 %)"],
    )
    text = do(picked, "check", "1", "--gate").out
    assert text.startswith("Booking 1: START, but ask first what is still open.\n")
    assert max(len(line) for line in text.splitlines()) <= 80


def test_at_a_terminal_it_prompts_and_says_when_all_is_found(here: Path) -> None:
    code, screen = on_terminal(
        bay.kitbuilder("check", "3"),
        here,
        [
            ("> ", "XX-900\n"),
            ("> ", "SE-100\n"),
            ("> ", "RI-200 all\n"),
            ("> ", "OL-300\n"),
            ("All is found.", "end\n"),
        ],
    )
    assert code == 0
    assert (
        "Booking 3: scan or type, 'end' to finish, 'undo' to take the last one back.\n3 items to be found.\n> "
        in screen
    )
    assert "\aWRONG ITEM: Something else" in screen
    assert screen.count("\a") == 1
    assert "All is found. Type 'end' to finish." in screen
    assert "Booking 3: START." in screen


def test_an_interrupt_leaves_off_and_keeps_what_was_scanned(here: Path) -> None:
    with subprocess.Popen(
        bay.kitbuilder("check", "3"),
        cwd=here,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    ) as process:
        assert process.stdin is not None
        assert process.stderr is not None
        assert process.stdout is not None
        process.stdin.write("SE-100\n")
        process.stdin.flush()
        assert process.stderr.readline().startswith("ok  Seal of the cover")
        process.send_signal(signal.SIGINT)
        # its input stays open until it has ended: the end of the input would end the check as well
        process.wait(timeout=30)
        out, err = process.stdout.read(), process.stderr.read()
    assert (process.returncode, out, err.strip()) == (130, "", "Left off; what was scanned is kept.")
    assert do(here, "check", "3", codes=(1,), typed="undo\n").err.startswith("UNDONE: Seal of the cover")


def test_in_a_pipe_there_is_no_prompt_and_json_stands_alone(here: Path) -> None:
    ran = do(here, "check", "3", "--json", typed=ALL_OF_3)
    assert json.loads(ran.out)["answer"] == "start"
    assert "scan or type" not in ran.err
    assert "> " not in ran.err
    assert "\a" not in ran.err


def test_rubbish_from_a_scanner_is_told_and_the_check_goes_on(here: Path) -> None:
    ran = run(here, "check", "3", typed=b"\xff\xfe\x00\n\x1d01\n" + b"9" * 5000 + b"\n" + ALL_OF_3.encode())
    assert ran.code == 0
    assert ran.err.count("UNKNOWN") == 3
    assert "Traceback" not in ran.err


WRONG = (
    (("check", "9"), 2, "There is no booking 9."),
    (("check", "4"), 3, "Booking 4 has no kit yet. Run `kitbuilder night run`"),
    (("check", "3", "--sign"), 2, "The technician signs by name: --by NAME."),
    (("check", "3", "--sign", "--by", " "), 2, "The technician signs by name: --by NAME."),
    (
        ("check", "3", "--sign", "--gate", "--by", "P. Anwell"),
        2,
        "--sign is for a tote that was checked; leave --gate out.",
    ),
    (("check", "3", "--singed"), 2, "Did you mean --sign?"),
)


@pytest.mark.parametrize(("words", "code", "said"), WRONG, ids=[" ".join(words) for words, _, _ in WRONG])
def test_a_wrong_word_is_told_in_one_paragraph(picked: Path, words: tuple[str, ...], code: int, said: str) -> None:
    ran = run(picked, *words)
    assert (ran.code, ran.out) == (code, "")
    assert said in ran.said
    assert "\n\n" not in ran.err.strip()
    assert max(len(line) for line in ran.err.splitlines()) <= 80
