"""`kitbuilder catalogue`: check and compile a catalogue folder."""

from pathlib import Path
from typing import Annotated

import typer

from kitbuilder.catalogue.cache import open_edition
from kitbuilder.catalogue.edition import Edition, open_file
from kitbuilder.cli import catalogue_draft, catalogue_import
from kitbuilder.cli.common import (
    CatalogueOption,
    JsonOption,
    QuietOption,
    cache_folder,
    opened,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)

#: With fewer job types, starting processes takes longer than they save.
_MANY_JOBS = 300

ProcessesOption = Annotated[
    int | None,
    typer.Option("--processes", metavar="N", min=1, help="Processes to check with; many job types: one a core.")]

OldArgument = Annotated[
    Path, typer.Argument(metavar="OLD", help="A catalogue's folder, or an edition file that was compiled from one.")]
NewArgument = Annotated[Path, typer.Argument(metavar="NEW", help="The same, to compare it with.")]

app = typer.Typer(rich_markup_mode=None, epilog="Example: kitbuilder catalogue check --catalogue our-catalogue")


@app.callback(invoke_without_command=True)
def top(ctx: typer.Context) -> None:
    """Check, compile and fill a catalogue folder."""
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


@app.command(
    short_help="Find every problem that any vehicle can meet.",
    epilog="Exit code 1 if there is any problem; remarks only warn.\n\n"
    "Example: kitbuilder catalogue check --catalogue our-catalogue")
def check(catalogue: CatalogueOption = None, processes: ProcessesOption = None, json: JsonOption = False,
          quiet: QuietOption = False) -> None:
    """Go over every vehicle that can exist and tell every problem: where nothing fills a role, or several things do,
    where no item satisfies a requirement, or the roles of one circuit differ. Tell also what each `otherwise` catches,
    and what may be meant otherwise: rows that never apply, rows twice, what nothing uses."""
    from kitbuilder.proof.check import check_catalogue
    from kitbuilder.show.check import check_text

    edition = opened(settings_here(), catalogue)
    found = check_catalogue(
        edition, warnings=(edition.warning,) if edition.warning else (), processes=_processes(edition, processes))
    warn(found.warnings)
    if json:
        write_json(found)
    else:
        write(check_text(found, paper()))
    raise typer.Exit(1 if found.problems else 0)


def _processes(edition: Edition, asked: int | None) -> int:
    """As many processes as asked for; else all cores for a catalogue that is worth their start."""
    if asked is not None:
        return asked
    import os

    cores = len(os.sched_getaffinity(0)) if hasattr(os, "sched_getaffinity") else os.cpu_count() or 1
    return cores if len(edition.heading.jobs) > _MANY_JOBS else 1


@app.command(
    short_help="Tell what a new catalogue changes in the kits.",
    epilog="Differences are no failure: the exit code is 0.\n\n"
    "Example: kitbuilder catalogue compare catalogue-of-may our-catalogue")
def compare(old: OldArgument, new: NewArgument, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Tell which kits differ between two catalogues, for which vehicles and how, over every vehicle that exists in
    both; and what only one of them has: facts, values, vehicles, job types."""
    from kitbuilder.proof.compare import compare_editions
    from kitbuilder.show.compare import compare_text

    editions = [open_file(path) if path.is_file() else open_edition(path, cache_folder()) for path in (old, new)]
    found = compare_editions(*editions, warnings=[one.warning for one in editions if one.warning])
    warn(found.warnings)
    if json:
        write_json(found)
    else:
        write(compare_text(found, paper()))


@app.command(
    short_help="Make the edition that the other commands read.",
    epilog="The other commands do this by themselves when a file has changed.\n\n"
    "Example: kitbuilder catalogue compile --catalogue our-catalogue")
def compile(catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Compile the catalogue to an edition; say where it lies and what it holds."""
    from kitbuilder.model.listing import Compiled
    from kitbuilder.show.listing import compiled_text

    edition = opened(settings_here(), catalogue)
    heading = edition.heading
    warnings = (edition.warning,) if edition.warning else ()
    answer = Compiled(
        "kitbuilder.edition/1", warnings, heading.name, heading.currency, edition.name,
        str(edition.path) if edition.path else None, edition.path.stat().st_size if edition.path else None,
        heading.counts)
    warn(warnings)
    if json:
        write_json(answer)
    else:
        write(compiled_text(answer, paper()))


app.command("import", short_help="Bring a sheet in: CSV, XLSX or ODS.", epilog=catalogue_import.EPILOG)(
    catalogue_import.bring)
app.command("draft", short_help="Draft a job type from past jobs.", epilog=catalogue_draft.EPILOG)(
    catalogue_draft.draft)
