"""The demo's story: real commands, run in the demo workshop one after the other, with what they print."""

import os
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path

import msgspec

from kitbuilder.show.command import command_lines, quoted
from kitbuilder.show.paper import Paper


class Step(msgspec.Struct, frozen=True):
    """One scene: what is told, the command's words, the exit code it is known to end with, and which sections of
    its answer are shown (by how their first line begins; none: all)."""

    tell: str
    words: tuple[str, ...]
    code: int = 0
    sections: tuple[str, ...] = ()


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
    Step("Another lorry, fully known. What is on the shelf, what must come, and from where?",
         ("kit", "actuator-replace", "--vehicle", "DEMO 001", "--fact", "place=workshop", "--fact",
          "access=in the frame", "--source"), code=1,
         sections=("CHANGE THE UNIT", "FILL AND BLEED", "COMPLETE")),
    Step("Somebody types what can't be. It is said what disagrees, and by which table.",
         (*_JOB, "--fact", "registered=2008-05-01", "--fact", "emissions=Euro VI"), code=3),
    Step("Whoever keeps the catalogue deletes one row by mistake, the exhaust clamp of Euro VI. The check goes over "
         "every vehicle that can exist, and finds what is missing in each job that needs it.",
         ("catalogue", "check", "--catalogue", "catalogue-with-a-fault"), code=1,
         sections=("actuator-replace", "clutch-replace", "REMARKS", "6 problems")),
    Step("And the catalogue as it should be:", ("catalogue", "check"), sections=("No problem",)),
)

NEXT = (
    ("jobs",),
    ("kit", "gearbox-oil-change", "--vehicle", "DEMO 008"),
    ("kit", "clutch-replace", "--vehicle", "DEMO 026", "--source"),
    ("kit", "clutch-replace", "--ask"),
    ("why", "clutch-replace", "clutch-kit", "--vehicle", "DEMO 015"),
    ("sources",),
)


def tell(folder: Path, named: str, paper: Paper, write: Callable[[str], None]) -> None:
    """Tell the whole story in a demo workshop; `named` is how the reader may call its folder.

    A command that doesn't end as it is known to is said so: the story hides nothing.
    """
    write("\n".join(paper.wrap(f"This workshop is invented, and lies in {named}. Its clock stands still.")) + "\n")
    for number, step in enumerate(STORY, 1):
        write("\n" + "\n".join(paper.heading(line) for line in paper.wrap(f"{number}. {step.tell}")) + "\n\n")
        write("\n".join(command_lines(step.words, paper, "  $ ")) + "\n\n")
        result = _run(step.words, folder, paper)
        write("\n".join(f"  {line}" if line else "" for line in _shown(result, step)) + "\n")
        if result.returncode != step.code:
            write(f"  (it ended with exit code {result.returncode}, where {step.code} was expected)\n")
        elif step.code:
            write(f"\n  (exit code {step.code})\n")
    write("\n" + paper.heading("What to type next") + "\n")
    write(f"  cd {quoted(named)}\n")
    for words in NEXT:
        write("\n".join(command_lines(words, paper, "  ")) + "\n")


def _run(words: tuple[str, ...], folder: Path, paper: Paper) -> "subprocess.CompletedProcess[str]":
    # two columns are kept for the indent
    environment = {**os.environ, "PYTHONIOENCODING": "utf-8", "COLUMNS": str(paper.width - 2)}
    return subprocess.run(  # noqa: S603  # the words are this file's own
        [sys.executable, "-m", "kitbuilder.cli", *words], cwd=folder, env=environment, text=True, encoding="utf-8",
        stdin=subprocess.DEVNULL, capture_output=True, check=False)


def _shown(result: "subprocess.CompletedProcess[str]", step: Step) -> Iterator[str]:
    sections = result.stdout.rstrip("\n").split("\n\n") if result.stdout else []
    left_out = False
    first = True
    for section in sections:
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
    yield from result.stderr.rstrip("\n").split("\n") if result.stderr else []
