"""`kitbuilder kit`: the kit list of a job."""

import sys
from collections.abc import Sequence
from typing import Annotated

import msgspec
import typer

from kitbuilder.catalogue.edition import Edition
from kitbuilder.cli.common import (
    CatalogueOption,
    FactOption,
    JobArgument,
    JsonOption,
    QuietOption,
    SeenOption,
    VehicleOption,
    clock,
    group_names,
    opened,
    paper,
    settings_here,
    statements,
    warn,
    write,
    write_json,
)
from kitbuilder.errors import KitbuilderError
from kitbuilder.kit.build import build_kit
from kitbuilder.model.kit import Kit
from kitbuilder.settings import Settings
from kitbuilder.show.kit import kit_text, shell
from kitbuilder.vehicle.statements import INFERRED, TOLD, Statement, follows_from, settle

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder kit gearbox-oil-change --fact gearbox="light automated"
  kitbuilder kit actuator-replace --vehicle "DEMO 004" --source
  kitbuilder kit actuator-replace --vehicle "DEMO 004" --seen emissions="Euro V"
  kitbuilder kit clutch-replace --ask
"""


@app.command(epilog=_EPILOG)
def kit(
    job: JobArgument,
    fact: FactOption = None,
    seen: SeenOption = None,
    vehicle: VehicleOption = None,
    source: Annotated[bool, typer.Option("--source", help="Ask the stock sources: what is where, when, at what price.")] = False,
    ask: Annotated[bool, typer.Option("--ask", help="Ask what is still open, best question first.")] = False,
    catalogue: CatalogueOption = None,
    json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """The kit list of a job: every line that is certain or possible, with what it hangs on."""
    settings = settings_here()
    edition = opened(settings, catalogue)
    edition.job(job)
    told, warnings, failed = known(settings, edition, fact, seen, vehicle)
    built = build_kit(edition, job, told, warnings=warnings)
    if ask:
        built, told = _dialogue(edition, built, told, warnings)
    code = 1 if any(problem.certainty == "certain" for problem in built.problems) else 0
    if source:
        built, code, source_failed = _with_sources(settings, edition, built, code)
        failed = failed or source_failed
    warn(built.warnings, quiet)
    if json:
        write_json(built)
    else:
        part = edition.job(job).job
        titles = {name: finding.title for name, finding in edition.findings.items()}
        standing = settle(edition.space, edition.tables, told)
        inferred = {
            one.name: follows_from(standing, edition.tables, one)
            for one, known in zip(edition.facts, built.facts, strict=True) if known.source == INFERRED}
        write(kit_text(built, part.title, part.stages, group_names(edition), titles, paper(),
                       inferred=inferred, now=clock(settings), hints=_hints(built, source), quiet=quiet))
    raise typer.Exit(4 if failed else code)


def known(settings: Settings, edition: Edition, fact: Sequence[str] | None, seen: Sequence[str] | None,
          vehicle: str | None) -> tuple[list[Statement], list[str], bool]:
    """The statements that options and registers make, what to warn of, and whether a register failed."""
    told = statements(fact, seen)
    warnings = [edition.warning] if edition.warning else []
    if vehicle is None:
        return told, warnings, False
    from kitbuilder.plugins import load_plugins
    from kitbuilder.vehicle.register import look_up

    found = look_up(vehicle, settings, load_plugins(), edition.heading.currency)
    return [*told, *found.statements], [*warnings, *found.warnings], found.failed


def _with_sources(settings: Settings, edition: Edition, built: Kit, code: int) -> tuple[Kit, int, bool]:
    from kitbuilder.errors import WrongUse
    from kitbuilder.model.offer import QuoteRequest
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock import quoting

    if not settings.sources:
        raise WrongUse("There is no stock source; add [sources.NAME] with plugin = \"…\" to kitbuilder.toml.")
    request = QuoteRequest(quoting.wanted_items(edition, built), clock(settings))
    answers = quoting.ask_sources(settings, load_plugins(), request, edition.heading.currency)
    built = quoting.with_stock(edition, built, answers)
    failures = [f"The source {one.source} failed: {one.error}" for one in answers if one.error]
    built = msgspec.structs.replace(built, warnings=(*built.warnings, *failures))
    return built, 1 if quoting.short_for_certain(built) else code, quoting.failed_any(answers, built)


def _hints(built: Kit, source: bool) -> list[str]:
    hints = []
    if built.questions:
        hints.append("Add what you learn with --fact (told) or --seen (seen on the vehicle), or use --ask.")
    if not source:
        hints.append("Add --source to see what is in stock.")
    return hints


def _dialogue(edition: Edition, built: Kit, told: list[Statement],
              warnings: Sequence[str]) -> tuple[Kit, list[Statement]]:
    """Ask question after question on standard error; an empty answer is "don't know"."""
    unknown: set[str] = set()
    said: list[Statement] = []
    print("Answer with a number or in words; Enter alone is \"don't know\", . ends the questions.", file=sys.stderr)
    while questions := [one for one in built.questions if one.fact not in unknown]:
        question = questions[0]
        print(f"\n{question.question}", file=sys.stderr)
        if question.where:
            print(f"  look: {question.where}", file=sys.stderr)
        for number, cell in enumerate(question.answers, 1):
            print(f"  {number}  {cell}", file=sys.stderr)
        answer = _read_answer(question.answers)
        if answer is None:
            break
        if not answer:
            unknown.add(question.fact)
            continue
        statement = Statement(question.fact, answer, TOLD)
        try:
            built = build_kit(edition, built.job, [*told, *said, statement], warnings=warnings)
        except KitbuilderError as error:
            print(f"  {error}", file=sys.stderr)
            continue
        said.append(statement)
    if said:
        options = " ".join(f"--fact {shell(one.fact, one.cell)}" for one in said)
        print(f"\nThe same without questions: kitbuilder kit {built.job} {options}\n", file=sys.stderr)
    return built, [*told, *said]


def _read_answer(answers: Sequence[str]) -> str | None:
    """What was answered: a cell, "" for "don't know", None where the questions are to end."""
    print("> ", end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    text = line.strip()
    if not line or text == ".":
        return None
    listed = not any(" to " in answer for answer in answers)
    if text.isdigit() and listed and text not in answers and 1 <= int(text) <= len(answers):
        return answers[int(text) - 1]
    return text
