"""`kit --ask`: a dialogue, through a pipe and on a terminal, that ends with the command that needs none."""

import json
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

from tests.cli.running import KITBUILDER, Ran, on_terminal, run


def again(ran: Ran, folder: Path, *more: str) -> Ran:
    """What the command that the dialogue ends with gives, typed in a shell just as it was shown."""
    shown = ran.err.partition("The same without questions:\n")[2].partition("\n\n")[0]
    assert shown
    script = f'kitbuilder() {{ {shlex.join(KITBUILDER)} "$@" {shlex.join(more)}; }}\n{shown}'
    done = subprocess.run(["bash", "-c", script], cwd=folder, capture_output=True, text=True, check=False)
    return Ran(done.returncode, done.stdout, done.stderr)


@pytest.mark.parametrize(("answers", "facts"), [
    ("2\n.\n", {"gearbox": ["Tarnholt light 6 late"]}),
    ("Tarnholt light 6 late\n1\n", {"gearbox": ["Tarnholt light 6 late"], "emissions": ["Euro V"]}),
    ("light automated\nbefore Euro VI\n",
     {"gearbox": ["Tarnholt light 6 early", "Tarnholt light 6 late"],
      "emissions": ["Euro III", "Euro IV", "Euro V", "EEV"]}),
    ("light automated\n\n2010-01-01 to 2012-12-31\n",
     {"gearbox": ["Tarnholt light 6 early", "Tarnholt light 6 late"], "registered": ["2010-01-01 to 2012-12-31"]}),
    ("not automated or Osmerby automatic 6\n", {"gearbox": ["Osmerby manual 9", "Osmerby manual 6"]}),
], ids=["a number", "words", "groups", "don't know, then a range", "not and or"])
def test_answers_are_taken_as_told(workshop: Path, answers: str, facts: dict[str, list[str]]) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", "--json", typed=answers)
    assert ran.code == 0
    kit = json.loads(ran.out)
    told = {one["fact"]: one["values"] for one in kit["facts"] if one["source"] == "told"}
    assert told == facts
    assert again(ran, workshop, "--json").out == ran.out


def test_all_that_was_typed_before_is_in_the_last_command(workshop: Path) -> None:
    ran = run(workshop, "kit", "actuator-replace", "--vehicle", "DEMO 005", "--fact", "access=in the frame", "--seen",
              "brakes=disc", "--source", "--catalogue", "catalogue", "--ask", typed="Tarnholt light 6 early\n")
    repeated = again(ran, workshop)
    assert repeated.code == ran.code
    assert repeated.out == ran.out
    assert "(seen on the vehicle)" in repeated.out
    assert "(from the register)" in repeated.out
    assert "shelf: " in repeated.out


def test_a_wrong_answer_is_explained_and_asked_again(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", typed="99\nblue\n5\n.\n")
    assert ran.code == 0
    assert ran.err.count("Which gearbox is fitted?") == 3
    assert "gearbox can't be '99'" in ran.said
    assert "gearbox can't be 'blue'" in ran.said
    assert '--fact gearbox="Osmerby manual 9"' in ran.said


def test_an_answer_that_contradicts_is_explained_and_asked_again(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", "--fact", "registered=2008-05-01", "--json",
              typed="Tarnholt light 6 early\nEuro VI\n.\n")
    assert "These can't be true together" in ran.said
    assert ran.err.count("Which emissions generation is the vehicle?") == 2
    told = {one["fact"] for one in json.loads(ran.out)["facts"] if one["source"] == "told"}
    assert told == {"registered", "gearbox"}


@pytest.mark.parametrize("typed", ["", ".\n", "\n" * 40], ids=["nothing", "a full stop", "don't know for ever"])
def test_without_an_answer_the_kit_is_the_same_as_without_asking(workshop: Path, typed: str) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", typed=typed)
    assert ran.out == run(workshop, "kit", "clutch-replace").out
    assert "The same without questions" not in ran.err


def test_dont_know_leads_to_the_next_question(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", "--json", typed="\n" * 40)
    asked = [one["question"] for one in json.loads(ran.out)["questions"]]
    assert len(asked) > 2
    assert [line for line in ran.err.splitlines() if line.removeprefix("> ") in asked] == asked


def test_the_end_of_input_ends_the_questions_but_not_the_kit(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", typed="2")
    assert ran.code == 0
    assert "Tarnholt light 6 late (told)" in ran.out


def test_numbers_are_not_offered_where_a_number_is_an_answer(workshop: Path) -> None:
    ran = run(workshop, "kit", "rear-hub-reseal", "--ask", typed="\n" * 40)
    axles = ran.err.partition("Which axle arrangement")[2].partition(">")[0]
    assert "  1   4x2\n" in axles
    wheelbase = ran.err.partition("What is the wheelbase, in millimetres?")[2].partition(">")[0]
    assert "  - 3000 to 6800\n" in wheelbase


def test_the_dialogue_fits_eighty_columns(workshop: Path) -> None:
    ran = run(workshop, "kit", "clutch-replace", "--ask", typed="blue\n2\n1\n\n\n")
    assert [line for line in ran.err.splitlines() if len(line) > 80] == []


def test_on_a_terminal_it_reads_as_a_dialogue(workshop: Path) -> None:
    code, screen = on_terminal(
        [*KITBUILDER, "kit", "clutch-replace", "--ask"], workshop,
        [("Which gearbox is fitted?", ""), ("> ", "2\n"), ("emissions generation", ""), ("> ", "blue\n"),
         ("can't be 'blue'", ""), ("> ", "Euro V\n"), ("> ", ".\n")])
    assert code == 0
    talk, _, rest = screen.partition("The same without questions:\n")
    assert "  2   Tarnholt light 6 late\n" in talk
    assert rest.startswith('  kitbuilder kit clutch-replace --fact gearbox="Tarnholt light 6 late" \\\n'
                           '    --fact emissions="Euro V"\n')
    assert "WHAT IS KNOWN" in rest


def test_the_end_key_of_a_terminal_ends_the_questions(workshop: Path) -> None:
    code, screen = on_terminal(
        [*KITBUILDER, "kit", "clutch-replace", "--ask"], workshop, [("> ", "2\n"), ("> ", "\x04")])
    assert code == 0
    assert "Tarnholt light 6 late (told)" in screen


def test_interrupting_the_dialogue_stops_at_once_and_quietly(workshop: Path) -> None:
    # only a terminal that controls its process turns the key into a signal
    control = "import fcntl, os, sys, termios; fcntl.ioctl(0, termios.TIOCSCTTY, 0)" \
              "; os.execv(sys.argv[1], sys.argv[1:])"
    command = [sys.executable, "-c", control, *KITBUILDER, "kit", "clutch-replace", "--ask"]
    code, screen = on_terminal(command, workshop, [("> ", "\x03")])
    assert code == 130
    assert "Traceback" not in screen
    assert "WHAT IS KNOWN" not in screen
