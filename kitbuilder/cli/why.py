"""`kitbuilder why`: the reasons of a line."""

from typing import Annotated

import typer

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
    group_names,
    opened,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)
from kitbuilder.cli.kit import known, read_off
from kitbuilder.show.why import why_text

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder why actuator-replace line-fuse --fact gearbox="light automated"
  kitbuilder why clutch-replace clutch-kit --vehicle "DEMO 015"
"""


@app.command(epilog=_EPILOG)
def why(
    job: JobArgument,
    what: Annotated[str, typer.Argument(metavar="ITEM|ROLE", help="An item number, a requirement or a role.")],
    fact: FactOption = None,
    seen: SeenOption = None,
    vehicle: VehicleOption = None,
    vin: VinOption = None,
    plate: PlateOption = None,
    catalogue: CatalogueOption = None,
    json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Why a line is in a kit, or is not: every row that speaks of it, with how its conditions stand."""
    from kitbuilder.kit.why import why as reasons

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
