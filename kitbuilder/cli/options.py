"""`kitbuilder options`: the ways to one goal, and the customer's choice sheet."""

from collections.abc import Sequence
from datetime import datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.catalogue.edition import Edition
from kitbuilder.cli.common import (
    CatalogueOption,
    FactOption,
    JsonOption,
    QuietOption,
    SeenOption,
    VehicleOption,
    cache_folder,
    clock,
    complete_jobs,
    opened,
    paper,
    settings_here,
    shelf_view,
    warn,
    write,
    write_json,
)
from kitbuilder.cli.kit import known
from kitbuilder.errors import WrongUse, offered
from kitbuilder.settings import Settings
from kitbuilder.vehicle.statements import Statement

if TYPE_CHECKING:
    from kitbuilder.model.options import Options
    from kitbuilder.workshop.asked import Asked, When
    from kitbuilder.workshop.charges import Charges

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder options actuator-replace --fact gearbox="light automated"
  kitbuilder options actuator-replace --vehicle "DEMO 004" --source
  kitbuilder options actuator-replace --vehicle "DEMO 004" --sheet choice.html
"""


@app.command(epilog=_EPILOG)
def options(
    job: Annotated[str, typer.Argument(
        metavar="JOB", help="One of the job types that share a goal, or the goal itself.",
        autocompletion=complete_jobs)],
    fact: FactOption = None,
    seen: SeenOption = None,
    vehicle: VehicleOption = None,
    source: Annotated[
        bool, typer.Option("--source", help="Ask the stock sources: the finish then waits for what isn't there.")
    ] = False,
    cost: Annotated[
        bool, typer.Option("--cost", help="Show what the parts cost the house; asks the stock sources.")] = False,
    start: Annotated[
        str | None, typer.Option("--start", metavar="TIME",
                                 help="When work starts at the site, as 2026-03-11T07:30; without it, now.")] = None,
    site: Annotated[
        str | None, typer.Option("--site", metavar="NAME",
                                 help="A site of the settings; not needed where there is one.")] = None,
    sheet: Annotated[
        Path | None, typer.Option("--sheet", metavar="FILE",
                                  help="Write the customer's choice sheet, as FILE.txt or FILE.html.")] = None,
    catalogue: CatalogueOption = None,
    json: JsonOption = False,
    quiet: QuietOption = False,
) -> None:
    """Compare the ways to one goal: prices, labour, findings, the earliest finish.

    Job types that share a goal are its ways. Prices are what the customer is charged. The chance of a second
    strip-down is that of at least one finding turning out, not covered by another, of whose parts one isn't at hand
    when its stage starts: the vehicle then stands open, or is stripped again. A finding may turn the job into another
    way: what that adds from there on is counted.
    """
    from kitbuilder.workshop.charges import read_charges
    from kitbuilder.workshop.options import compare

    settings = settings_here()
    edition = opened(settings, catalogue)
    charges = read_charges(_named(settings), settings.labour, edition.heading.currency)
    _check_sheet(sheet, charges)
    when = _when(settings, start, site)
    told, warnings, failed = known(settings, edition, fact, seen, vehicle)
    asked = None
    if source or cost:
        asked = _asked(settings, edition, job, told, when, cost)
        from kitbuilder.stock.quoting import told_of

        warnings = [*warnings, *told_of(asked.answers)]
        failed = failed or any(one.error for one in asked.answers)
    found = compare(edition, job, told, charges, when, asked, warnings)
    warn(found.warnings)
    if sheet is not None:
        _write_sheet(sheet, found, settings, charges, when, vehicle or "")
    if json:
        write_json(found)
    else:
        from kitbuilder.show.options import options_text

        titles = {name: finding.title for name, finding in edition.findings.items()}
        write(options_text(found, titles, paper(), hints=_hints(found, charges), quiet=quiet))
        if sheet is not None:
            write(f"\nThe customer's choice sheet is in {sheet}.\n")
    raise typer.Exit(4 if failed else _code(found))


def _code(found: "Options") -> int:
    """1 where the catalogue fails in some way, or no way can be finished with what the sources have."""
    stuck = found.asked and found.start is not None and all(way.choice.finish is None for way in found.ways)
    return 1 if stuck or any(way.problems for way in found.ways) else 0


def _named(settings: Settings) -> str:
    return settings.file.name if settings.file else "kitbuilder.toml"


def _check_sheet(sheet: Path | None, charges: "Charges") -> None:
    if sheet is None:
        return
    if sheet.suffix not in (".txt", ".html"):
        raise WrongUse(f"--sheet {str(sheet)!r}: a choice sheet is a text or a page. "
                       "Expected a name that ends with .txt or .html.")
    if charges.rate is None or not charges.tax:
        raise WrongUse("A choice sheet shows labour and tax, and the settings don't say them. "
                       "Add [labour] with rate = \"92.00\" (an hour) and tax = \"20\" (per cent) to kitbuilder.toml.")


def _when(settings: Settings, start: str | None, site: str | None) -> "When | None":
    """Site and start; None where the settings have no site and none is asked for."""
    from kitbuilder.calendar.reading import read_sites
    from kitbuilder.calendar.wall import to_utc
    from kitbuilder.workshop.asked import When

    sites = read_sites(_named(settings), settings.sites)
    if not sites:
        if start is None and site is None:
            return None
        raise WrongUse("There is no site; add [sites.NAME] with zone and shifts to kitbuilder.toml.")
    if site is None and len(sites) > 1:
        raise WrongUse(f"Which site? Name it with --site: {', '.join(sites)}.")
    if site is not None and site not in sites:
        raise WrongUse(f"There is no site {site!r}. {offered(site, list(sites))}")
    where = sites[site] if site is not None else next(iter(sites.values()))
    if start is None:
        return When(where, clock(settings))
    try:
        wall = datetime.fromisoformat(start)
        whole = ":" in start  # a day alone would pass for midnight
    except ValueError:
        whole = False
    if not whole:
        raise WrongUse(f"--start {start!r} is no day and time. Expected one such as 2026-03-11T07:30.")
    if wall.tzinfo is not None:
        raise WrongUse("--start is the time at the site; leave the zone out.")
    return When(where, to_utc(wall, where.zone))


def _asked(settings: Settings, edition: Edition, job: str, told: Sequence[Statement], when: "When | None",
           cost: bool) -> "Asked":
    from kitbuilder.model.offer import QuoteRequest
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.quoting import ask_sources
    from kitbuilder.workshop.asked import Asked
    from kitbuilder.workshop.options import wanted_of

    if not settings.sources:
        raise WrongUse("There is no stock source; add [sources.NAME] with plugin = \"…\" to kitbuilder.toml.")
    now = clock(settings)
    request = QuoteRequest(wanted_of(edition, job, told, when, now), now)
    answers = ask_sources(
        settings, load_plugins(), request, edition.heading.currency, shelf_view(settings), cache_folder())
    return Asked(answers, now, cost)


def _write_sheet(sheet: Path, found: "Options", settings: Settings, charges: "Charges", when: "When | None",
                 vehicle: str) -> None:
    from kitbuilder.show.choice_sheet import sheet_html, sheet_text
    from kitbuilder.workshop.options import choice_sheet

    value = choice_sheet(found, charges, vehicle, clock(settings), when)
    text = sheet_html(value) if sheet.suffix == ".html" else sheet_text(value)
    try:
        sheet.write_text(text, "utf-8")
    except OSError as error:
        raise WrongUse(f"The choice sheet can't be written to {sheet}: {error.strerror}.") from None


def _hints(found: "Options", charges: "Charges") -> list[str]:
    hints = []
    if any(way.choice.hangs_on for way in found.ways):
        hints.append("Add what you learn with --fact (told) or --seen (seen on the vehicle) to narrow the figures.")
    if not found.asked:
        hints.append("Add --source to see what is there and what must arrive first.")
    if charges.rate is None or not charges.tax:
        hints.append("Labour and tax come from [labour] of kitbuilder.toml: rate (an hour) and tax (per cent).")
    return hints
