"""`kitbuilder kit`: the kit list of a job."""

import sys
from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Annotated

import msgspec
import typer

from kitbuilder.catalogue.edition import Edition
from kitbuilder.cli.common import (
    CatalogueOption,
    FactOption,
    JobArgument,
    JsonOption,
    PlateOption,
    QuietOption,
    SeenOption,
    VehicleOption,
    VinOption,
    cache_folder,
    clock,
    group_names,
    opened,
    paper,
    settings_here,
    shelf_view,
    statements,
    warn,
    write,
    write_json,
)
from kitbuilder.errors import KitbuilderError, WrongUse
from kitbuilder.kit.build import build_kit
from kitbuilder.model.kit import Kit
from kitbuilder.settings import Settings
from kitbuilder.show.command import command_lines
from kitbuilder.show.kit import kit_text
from kitbuilder.show.paper import Paper, terminal_width
from kitbuilder.vehicle.statements import INFERRED, TOLD, Statement, follows_from, settle

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder kit gearbox-oil-change --fact gearbox="light automated"
  kitbuilder kit actuator-replace --vehicle "DEMO 004" --source
  kitbuilder kit clutch-replace --vehicle "DEMO 004" --seen emissions="Euro V"
  kitbuilder kit clutch-replace --vin 000DALSN00M175123 --plate engine=E6-310
  kitbuilder kit clutch-replace --ask
"""


@app.command(epilog=_EPILOG)
def kit(
    job: JobArgument,
    fact: FactOption = None,
    seen: SeenOption = None,
    vehicle: VehicleOption = None,
    vin: VinOption = None,
    plate: PlateOption = None,
    source: Annotated[
        bool, typer.Option("--source", help="Ask the stock sources: what is where, when, at what price.")] = False,
    site: Annotated[str | None, typer.Option(
        "--site", metavar="NAME", help="With --source: the site whose shelf it is, so that others come by their vans; "
        "without it, where there are several, all shelves count as one.")] = None,
    ask: Annotated[bool, typer.Option("--ask", help="Ask what is still open, best question first.")] = False,
    catalogue: CatalogueOption = None,
    json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """The kit list of a job: every line that is certain or possible, with what it hangs on."""
    settings = settings_here()
    edition = opened(settings, catalogue)
    edition.job(job)
    told, warnings, failed = known(settings, edition, fact, seen, vehicle, vin, plate)
    built = build_kit(edition, job, told, warnings=warnings)
    if ask:
        built, said = _dialogue(edition, built, told, warnings)
        told = [*told, *said]
        if said:
            facts = [*(fact or ()), *(f"{one.fact}={one.cell}" for one in said)]
            _say_again(job, {"--vehicle": [vehicle] if vehicle is not None else [],
                             "--vin": [vin] if vin is not None else [], "--plate": plate or (), "--fact": facts,
                             "--seen": seen or ()}, source, catalogue)
    code = 1 if any(problem.certainty == "certain" for problem in built.problems) else 0
    if site is not None and not source:
        raise WrongUse("--site is for --source: it says whose shelf is looked at.")
    if source:
        built, code, source_failed = _with_sources(settings, edition, built, code, site)
        failed = failed or source_failed
    if settings.on_condition is not None:
        from kitbuilder.kit.conditions import read_conditions
        from kitbuilder.kit.on_condition import with_along

        conditions = read_conditions(
            settings, edition.space, edition.heading.currency, others=catalogue is not None)
        built = with_along(edition, built, told, conditions)
    warn(built.warnings)
    if json:
        write_json(built)
    else:
        part = edition.job(job).job
        titles = {line.finding: edition.findings[line.finding].title for line in built.lines if line.finding}
        inferred = {} if quiet else {**_inferred(edition, built, told), **read_off(edition, told)}
        units = {
            row.item: edition.item(row.item).unit
            for line in built.lines if isinstance(line.stock, tuple) for row in line.stock if row.item}
        write(kit_text(built, part.title, part.stages, group_names(edition), titles, paper(),
                       inferred=inferred, now=clock(settings), units=units, hints=_hints(built, source), quiet=quiet))
    raise typer.Exit(4 if failed else code)


def known(settings: Settings, edition: Edition, fact: Sequence[str] | None, seen: Sequence[str] | None,
          vehicle: str | None, vin: str | None = None,
          plate: Sequence[str] | None = None) -> tuple[list[Statement], list[str], bool]:
    """The statements that options, registers and the VIN make, what to warn of, and whether a register failed."""
    told = statements(fact, seen)
    warnings = [edition.warning] if edition.warning else []
    failed = False
    vins: tuple[str, ...] = ()
    if plate:
        from kitbuilder.vehicle.plates import of_plates

        told += of_plates(edition.plates, plate)
    if vehicle is not None:
        from kitbuilder.plugins import load_plugins
        from kitbuilder.vehicle.register import look_up

        found = look_up(vehicle, settings, load_plugins(), edition.heading.currency)
        told += found.statements
        warnings += found.warnings
        failed, vins = found.failed, found.vins
    if vin is not None or vins:
        from kitbuilder.vehicle.vin import by_vin

        built, odd = by_vin(edition.vins, vin, vins)
        told += built
        warnings += odd
    return told, warnings, failed


def _with_sources(settings: Settings, edition: Edition, built: Kit, code: int,
                  site: str | None) -> tuple[Kit, int, bool]:
    from kitbuilder.model.offer import QuoteRequest
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock import quoting

    if not settings.sources:
        raise WrongUse("There is no stock source; add [sources.NAME] with plugin = \"…\" to kitbuilder.toml.")
    now = clock(settings)
    request = QuoteRequest(quoting.wanted_items(edition, built, now.date()), now)
    answers = quoting.ask_sources(
        settings, load_plugins(), request, edition.heading.currency, shelf_view(settings, site), cache_folder())
    built = quoting.with_stock(edition, built, answers, now.date())
    built = msgspec.structs.replace(built, warnings=(*built.warnings, *quoting.told_of(answers)))
    return built, 1 if quoting.short_for_certain(built) else code, quoting.failed_any(answers, built)


def _inferred(edition: Edition, built: Kit, told: Sequence[Statement]) -> dict[str, str]:
    """Of each inferred fact, what it follows from."""
    facts = [fact for fact, one in zip(edition.facts, built.facts, strict=True) if one.source == INFERRED]
    if not facts:
        return {}
    standing = settle(edition.space, edition.tables, told)
    return {fact.name: follows_from(standing, edition.tables, fact) for fact in facts}


def read_off(edition: Edition, told: Sequence[Statement]) -> dict[str, str]:
    """Of each fact that VIN or type plate tells, where it stands in the catalogue what they mean."""
    if not any("vin.csv" in one.place or "plates.csv" in one.place for one in told):
        return {}
    places: dict[str, list[str]] = {}
    source: dict[str, str] = {}
    for one in settle(edition.space, edition.tables, told).stands:  # from the highest rank down
        if source.setdefault(one.fact, one.source) == one.source:
            places.setdefault(one.fact, []).append(one.place)
    words = {"vin.csv": "as built, by its VIN: ", "plate ": "seen: "}
    return {
        fact: word + ", ".join(stands) for fact, stands in places.items() for start, word in words.items()
        if all(place.startswith(start) for place in stands)}


def _hints(built: Kit, source: bool) -> list[str]:
    hints = []
    if built.questions:
        hints.append("Add what you learn with --fact (told) or --seen (seen on the vehicle), or use --ask.")
    if not source:
        hints.append("Add --source to see what is in stock.")
    return hints


def _dialogue(edition: Edition, built: Kit, told: list[Statement],
              warnings: Sequence[str]) -> tuple[Kit, list[Statement]]:
    """Ask question after question on standard error; an empty answer is "don't know". Gives what was answered too."""
    unknown: set[str] = set()
    said: list[Statement] = []
    _say("Answer with a number or in words. Enter alone means \"don't know\". A full stop ends the questions.")
    while questions := [one for one in built.questions if one.fact not in unknown]:
        question = questions[0]
        numbered = _numbered(question.answers)
        _say("")
        _say(question.question)
        if question.where:
            _say(f"Look: {question.where}", 2)
        for number, cell in enumerate(question.answers, 1):
            _say(cell, 6 if numbered else 4, f"  {number}" if numbered else "  -")
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
            _say(str(error), 2)
            continue
        said.append(statement)
    return built, said


def _say(text: str, indent: int = 0, first: str = "") -> None:
    print("\n".join(Paper(terminal_width()).wrap(text, indent, first)), file=sys.stderr)


def _say_again(job: str, options: Mapping[str, Sequence[str]], source: bool, catalogue: Path | None) -> None:
    words = ["kit", job]
    words += [word for option, given in options.items() for one in given for word in (option, one)]
    words += ["--source"] if source else []
    words += ["--catalogue", str(catalogue)] if catalogue is not None else []
    lines = command_lines(words, Paper(terminal_width()), "  ")
    print("\nThe same without questions:", *lines, "", sep="\n", file=sys.stderr)


def _numbered(answers: Sequence[str]) -> bool:
    """Whether answers can be chosen by number: those of a range can't, as a number may be a value of it."""
    return not any(" to " in answer for answer in answers)


def _read_answer(answers: Sequence[str]) -> str | None:
    """What was answered: a cell, "" for "don't know", None where the questions are to end."""
    print("> ", end="", file=sys.stderr, flush=True)
    line = sys.stdin.readline()
    text = line.strip()
    if not line:
        print(file=sys.stderr)
    if not line or text == ".":
        return None
    if text.isdecimal() and _numbered(answers) and text not in answers and 1 <= int(text) <= len(answers):
        return answers[int(text) - 1]
    return text
