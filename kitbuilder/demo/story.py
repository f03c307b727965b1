"""The demo's story: real commands, run in the demo workshop one after the other, with what they print."""

import contextlib
import os
import shutil
import subprocess
import sys
import sysconfig
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from kitbuilder.demo.workshop import supplier_of
from kitbuilder.errors import WrongUse
from kitbuilder.show.command import command_lines, quoted
from kitbuilder.show.paper import Paper


class Step(msgspec.Struct, frozen=True):
    """One scene: what is told, the command's words, the exit code it is known to end with, which sections of its
    answer are shown (by how their first line begins; none: all), and the file that it reads as typed."""

    tell: str
    words: tuple[str, ...]
    code: int = 0
    sections: tuple[str, ...] = ()
    reads: str = ""


_JOB = ("kit", "actuator-replace")
_LORRY = ("--vehicle", "DEMO 004", "--fact", "place=workshop", "--fact", "access=in the frame")

STORY = (
    Step("A lorry is booked for a new gearbox actuator unit. Its papers give a day of registration and no emissions "
         "generation. What goes on the bench?", (*_JOB, *_LORRY),
         sections=("Replace the actuator", "WHAT IS KNOWN", "CHANGE THE UNIT", "CLOSE UP", "ASK NEXT", "NOT COMPLETE")),
    Step("The day narrows the generation, by the directives' dates, but doesn't settle it: the fuse at the gearbox and "
         "the exhaust joint hang on it. Somebody looks at the engine's plate: Euro V.",
         (*_JOB, *_LORRY, "--seen", "emissions=Euro V"),
         sections=("WHAT IS KNOWN", "CHANGE THE UNIT", "FILL AND BLEED", "COMPLETE")),
    Step("Why that fuse?", ("why", "actuator-replace", "line-fuse", *_LORRY, "--seen", "emissions=Euro V"),
         sections=("Why ", "  - ", "ROWS THAT COUNT", "ROWS THAT DON'T")),
    Step("The customer asks what it costs. Repair, exchange or new: one goal, three ways, with what may turn out.",
         ("options", "a working actuator unit", "--vehicle", "DEMO 004", "--seen", "emissions=Euro V", "--fact",
          "place=workshop", "--fact", "access=in the frame", "--source"), sections=()),
    Step("The same repair in the customer's yard, where no shelf is at hand. Which of the parts that only a finding "
         "would need go along in the van? Those whose carrying costs less than what they save.",
         ("kit", "actuator-repair", "--vehicle", "DEMO 004", "--seen", "emissions=Euro V", "--fact", "place=on-site",
          "--fact", "access=in the frame"), sections=("GOES ALONG",)),
    Step("Another lorry, fully known. What is on the shelf, what must come, and from where?",
         ("kit", "actuator-replace", "--vehicle", "DEMO 001", "--fact", "place=workshop", "--fact",
          "access=in the frame", "--source"), code=1,
         sections=("CHANGE THE UNIT", "COMPLETE")),
    Step("Somebody types what can't be. It is said what disagrees, and by which table.",
         (*_JOB, "--fact", "registered=2008-05-01", "--fact", "emissions=Euro VI"), code=3),
    Step("Whoever keeps the catalogue deletes one row by mistake, the exhaust clamp of Euro VI. The check goes over "
         "every vehicle that can exist, and finds what is missing in each job that needs it.",
         ("catalogue", "check", "--catalogue", "catalogue-with-a-fault"), code=1,
         sections=("actuator-replace", "clutch-replace", "REMARKS", "7 problems")),
    Step("What that row means for the kits, compared with the catalogue as it should be:",
         ("catalogue", "compare", "catalogue", "catalogue-with-a-fault"),
         sections=("Renew the exhaust joint", "Kits of 7")),
    Step("And the catalogue as it should be:", ("catalogue", "check"), sections=("No problem",)),
    Step("Tuesday, three in the afternoon: the run for tomorrow. It reads the diary, builds a kit for each booking of "
         "three days, asks the shelf and both suppliers, plans all bookings together, holds what lies on the shelf and "
         "proposes orders. What needs a person comes first.", ("night", "run"), code=1),
    Step("What was held. There is one clutch actuator OS-22310 for two lorries: booking 5 is off the road and gets it, "
         "though booking 3 starts earlier. The sealant CO-50220 that is past its day is left alone. Of the flange nut, "
         "the old number PS-70130 is used up first, then PS-70131, which takes its place.",
         ("stock", "list", "CO-50220", "OS-22310", "PS-70130", "PS-70131")),
    Step("Why has booking 3 to wait, and what else could have been done?", ("why", "--booking", "3", "clutch-actuator"),
         sections=("WHERE IT COMES FROM",)),
    Step("The order with a cut-off. It takes the wholesaler's later van: even with its fee the clutch kit is cheaper "
         "than from the other supplier, and soon enough for Thursday; the coolant pump rides along.", ("order", "list"),
         sections=("Order 3",)),
    Step("Nothing is ordered by itself: a named person decides.", ("order", "approve", "3", "--by", "R. Tollan")),
    Step("It is sent by the next run, or now. Were the answer lost, the order would be unclear: asked after, never "
         "sent a second time.", ("order", "send")),
    Step("The pick list of booking 7, in bin order; here are some of its rows.", ("pick", "7"),
         sections=("PICK LIST", "  B-02-1-3", "  B-02-1-4", "  D-01", "TOOLS")),
    Step("Booking 8 is of the same visit: what a visit needs once is picked once.", ("pick", "8"),
         sections=("PICK LIST", "  H-02-1-2", "WITH ANOTHER")),
    Step("Booking 7 is picked.", ("pick", "7", "--done", "--by", "D. Quill"), sections=("PICK LIST", "  A-04")),
    Step("The technician scans the tote. One seal in it is of the gearbox without a retarder. Once all is found, the "
         "tote is signed for; the last word is the start gate's.",
         ("check", "7", "--sign", "--by", "P. Anwell"), reads="scans-7.txt"),
    Step("And the lorry that lacks a pipe? Better known now than with the unit on the floor.", ("check", "4", "--gate"),
         code=1),
    Step("The run once more. What was right stays as it is; what people decided shows.", ("night", "run"), code=1,
         sections=("NEEDS A PERSON", "READY BY STAGE")),
    Step("Every change to the shelf is in a ledger, which is added up again:", ("stock", "audit")),
)

NEXT = (
    ("jobs",),
    ("kit", "gearbox-oil-change", "--vehicle", "DEMO 008"),
    ("kit", "clutch-replace", "--ask"),
    ("why", "clutch-replace", "clutch-kit", "--vehicle", "DEMO 015"),
    ("book", "list"),
    ("night", "report"),
    ("pick", "6"),
)
#: What asks the wholesaler, and is better typed while `kitbuilder demo supplier` runs.
WITH_SUPPLIER = (
    ("sources",),
    ("kit", "gearbox-oil-change", "--vehicle", "DEMO 008", "--source"),
)


def tell(folder: Path, named: str, paper: Paper, write: Callable[[str], None]) -> None:
    """Tell the whole story in a demo workshop; `named` is how the reader may call its folder.

    The demo's supplier runs meanwhile. A command that doesn't end as it is known to is said so: the story hides
    nothing.
    """
    write("\n".join(paper.wrap(f"This workshop is invented, and lies in {named}. Its clock stands still.")) + "\n")
    with contextlib.ExitStack() as running:
        try:
            running.enter_context(supplier_of(folder))
        except WrongUse as error:
            write("\n".join(paper.wrap(f"Its wholesaler can't be run here, and shows as failed. {error}")) + "\n")
        for number, step in enumerate(STORY, 1):
            _tell_step(number, step, folder, paper, write)
    _tell_next(named, paper, write)


def _tell_step(number: int, step: Step, folder: Path, paper: Paper, write: Callable[[str], None]) -> None:
    write("\n" + "\n".join(paper.heading(line) for line in paper.wrap(f"{number}. {step.tell}")) + "\n\n")
    write("\n".join(typed_lines(step, paper, "  $ ")) + "\n\n")
    result = _run(step, folder, paper)
    write("\n".join(f"  {line}" if line else "" for line in _shown(result.stdout, step)) + "\n")
    if result.returncode != step.code:
        write(f"  (it ended with exit code {result.returncode}, where {step.code} was expected)\n")
    elif step.code:
        write(f"\n  (exit code {step.code})\n")


def typed_lines(step: Step, paper: Paper, before: str) -> list[str]:
    """A step's command as it is typed, with the file that it reads."""
    lines = command_lines(step.words, paper, before)
    if step.reads:
        lines[-1] += f" < {quoted(step.reads)}"
    return lines


def _tell_next(named: str, paper: Paper, write: Callable[[str], None]) -> None:
    write("\n" + paper.heading("What to type next") + "\n")
    for line in to_reach():
        write(f"  {line}\n")
    write(f"  cd {quoted(named)}\n")
    for words in NEXT:
        write("\n".join(command_lines(words, paper, "  ")) + "\n")
    write("\n" + "\n".join(paper.heading(line) for line in paper.wrap(
        "With the wholesaler: type the first in the same folder in another terminal (Ctrl-C ends it)")) + "\n")
    for words in (("demo", "supplier"), *WITH_SUPPLIER):
        write("\n".join(command_lines(words, paper, "  ")) + "\n")


def to_reach() -> list[str]:
    """What makes a shell find `kitbuilder`, if it doesn't: it may lie in an environment that isn't activated."""
    scripts = Path(sysconfig.get_path("scripts"))
    if shutil.which("kitbuilder") is not None or not (scripts / "kitbuilder").exists():
        return []
    for_shell = "".join("\\" + char if char in '\\"$`' else char for char in str(scripts))
    return [f'export PATH="{for_shell}:$PATH"']


def _run(step: Step, folder: Path, paper: Paper) -> "subprocess.CompletedProcess[str]":
    # two columns are kept for the indent
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8", "COLUMNS": str(paper.width - 2)}
    with contextlib.ExitStack() as opened:
        given = opened.enter_context((folder / step.reads).open("rb")) if step.reads else subprocess.DEVNULL
        # errors and verdicts stand where they would on a terminal
        return subprocess.run(  # noqa: S603  # the words are this file's own
            [sys.executable, "-m", "kitbuilder.cli", *step.words], cwd=folder, env=environment, text=True,
            encoding="utf-8", stdin=given, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, check=False)


def _shown(answer: str, step: Step) -> Iterator[str]:
    left_out = False
    first = True
    for section in answer.rstrip("\n").split("\n\n"):
        if step.sections and not section.startswith(step.sections):
            left_out = True
            continue
        if not first:
            yield ""
        if left_out:
            yield "…"
            yield ""
        yield from section.split("\n")
        left_out = first = False
