"""`kitbuilder why`: the reasons of a line, and of a booking's line where it comes from."""

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from kitbuilder.cli.common import (
    CatalogueOption,
    FactOption,
    JsonOption,
    PlateOption,
    QuietOption,
    SeenOption,
    VehicleOption,
    VinOption,
    as_texts,
    cache_folder,
    complete_jobs,
    group_names,
    opened,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)
from kitbuilder.cli.kit import known, read_off
from kitbuilder.errors import WrongUse
from kitbuilder.show.why import why_text

if TYPE_CHECKING:
    from kitbuilder.cli.place import Place
    from kitbuilder.kit.why import Why
    from kitbuilder.model.sourced import Sourcing
    from kitbuilder.model.work import WorkLine
    from kitbuilder.workshop.work import Work

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder why actuator-replace line-fuse --fact gearbox="light automated"
  kitbuilder why clutch-replace clutch-kit --vehicle "DEMO 015"
  kitbuilder why --booking 12 clutch-kit     with where it comes from, and why
"""


@app.command(epilog=_EPILOG)
def why(
    names: Annotated[list[str], typer.Argument(
        metavar="[JOB] ITEM|ROLE", autocompletion=complete_jobs, callback=as_texts,
        help="A job type, and an item number, a requirement or a role of it. With --booking, without the job type.")],
    booking: Annotated[int | None, typer.Option(
        "--booking", metavar="N", help="A booking's kit, and where the line comes from by the last run.")] = None,
    fact: FactOption = None,
    seen: SeenOption = None,
    vehicle: VehicleOption = None,
    vin: VinOption = None,
    plate: PlateOption = None,
    catalogue: CatalogueOption = None,
    json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Why a line is in a kit, or is not: every row that speaks of it, with how its conditions stand.

    Of a booking's line also where it comes from, what the next best way would cost, and why it is late or short.
    """
    from kitbuilder.kit.why import why as reasons

    if booking is not None:
        if any((fact, seen, vehicle, vin, plate)):
            raise WrongUse("--booking N takes what is known from the booking: leave out --fact, --seen, --vehicle, "
                           "--vin and --plate.")
        if len(names) != 1:
            raise WrongUse("--booking N takes one ITEM or ROLE, and no job type.")
        _of_booking(booking, names[0], catalogue, json)
    if len(names) != 2:
        raise WrongUse("Name a job type and an item or a role of it: kitbuilder why JOB ITEM|ROLE; or --booking N "
                       "with an item or a role.")
    job, what = names
    settings = settings_here()
    edition = opened(settings, catalogue)
    edition.job(job)
    told, warnings, failed = known(settings, edition, fact, seen, vehicle, vin, plate)
    answer = reasons(edition, job, what, told, warnings=warnings)
    warn(answer.warnings)
    if json:
        write_json(answer)
    else:
        titles = {name: finding.title for name, finding in edition.findings.items()}
        write(why_text(answer, group_names(edition), titles, paper(), read_off(edition, told)))
    certain = any(problem.certainty == "certain" for problem in answer.problems)
    raise typer.Exit(4 if failed else 1 if certain else 0)


def _of_booking(number: int, what: str, catalogue: Path | None, json: bool) -> None:
    """The reasons of a line of a booking's kit, and where it comes from."""
    from kitbuilder.cli.place import here
    from kitbuilder.night.explained import lines_asked
    from kitbuilder.store import bookings
    from kitbuilder.workshop.work import load

    place = here(catalogue)
    booking = bookings.get(place.store, number)
    work = load(place.store, place.edition, place.site(booking.site), number)
    lines = lines_asked(work, what)
    answer = msgspec.structs.replace(_reasons(place, work, what, lines), sourcing=_sourcing(place, work, lines))
    place.store.close()
    warn(answer.warnings)
    if json:
        write_json(answer)
    else:
        titles = {name: finding.title for name, finding in place.edition.findings.items()}
        write(why_text(answer, group_names(place.edition), titles, paper(), read_off(place.edition, work.statements)))
    raise typer.Exit(1 if any(problem.certainty == "certain" for problem in answer.problems) else 0)


def _reasons(place: "Place", work: "Work", what: str, lines: Sequence["WorkLine"]) -> "Why":
    """Why a line is in the kit; of one that only came by hand, or in another's place, there are no rows."""
    from kitbuilder.kit.why import Why
    from kitbuilder.kit.why import why as reasons

    warnings = [text for text in (place.edition.warning, work.outdated) if text]
    try:
        return reasons(place.edition, work.kit.job, what, work.statements, warnings=warnings)
    except WrongUse:
        if not lines:
            raise
    return Why(
        "kitbuilder.why/1", tuple(warnings), work.kit.job, what, place.edition.name, work.kit.facts, (), (), (), ())


def _sourcing(place: "Place", work: "Work", lines: Sequence["WorkLine"]) -> "Sourcing":
    from kitbuilder.night.explained import sourcing
    from kitbuilder.night.surroundings import Surroundings
    from kitbuilder.plugins import load_plugins

    around = Surroundings(
        place.settings, load_plugins(), place.edition, place.store, place.site(work.booking.site),
        place.settings.folder / "documents", place.now, tuple(place.sites), cache=cache_folder())
    return sourcing(around, work, lines)
