"""`kitbuilder catalogue draft`: a first job type from past jobs."""

import re
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli.catalogue_import import (
    MappingOption,
    ProposeOption,
    SheetOption,
    catalogue_files,
    read_bytes,
    write_proposal,
)
from kitbuilder.cli.common import CatalogueOption, JsonOption, QuietOption, paper, settings_here, write, write_json
from kitbuilder.errors import WrongUse
from kitbuilder.settings import Settings, catalogue_folder

if TYPE_CHECKING:
    from kitbuilder.model.bringing_in import RowFault, RowRead

EPILOG = (
    "The past jobs are a sheet with a row for each line that was issued: id (of the job), item, amount, unit, what is "
    "known of the vehicle in a column each fact, and job where it has several types. It is read as `import` reads "
    "one.\n\n"
    "Nothing is written without --write; then jobs/JOB.toml and fits/JOB.csv are new, and roles.toml grows.\n\n"
    "Example: kitbuilder catalogue draft clutch-replace --from past.csv\n\n"
    "Then, what it leaves open answered: kitbuilder catalogue check")


def draft(
    job: Annotated[str, typer.Argument(metavar="JOB", help="The name that the job type is to have.")],
    past: Annotated[Path | None, typer.Option("--from", metavar="PAST.csv", help="The sheet of past jobs.")] = None,
    from_store: Annotated[bool, typer.Option(
        "--from-store", help="Take what the workshop's store has issued to its bookings.")] = False,
    of: Annotated[str | None, typer.Option(
        "--of", metavar="NAME", help="What the records call the job, if not JOB.")] = None,
    title: Annotated[str | None, typer.Option("--title", metavar="TEXT", help="What the job type is called.")] = None,
    mapping: MappingOption = None,
    sheet: SheetOption = None,
    propose: ProposeOption = False,
    write_it: Annotated[bool, typer.Option("--write", help="Write the draft into the catalogue.")] = False,
    catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False,
) -> None:
    """Draft a job type from past jobs: which roles it has, what fills them on which vehicles, how sure that is, and
    what the records leave open."""
    from kitbuilder.bringing_in.draft_job import drafted
    from kitbuilder.bringing_in.sheet_text import write_whole
    from kitbuilder.show.draft import drafted_text

    if not re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", job):
        raise WrongUse(f"{job!r} is no name for a job type. Expected lower-case words with hyphens, as clutch-replace.")
    if (past is None) == (not from_store):
        raise WrongUse("Say where the past jobs are: either --from PAST.csv or --from-store.")
    settings = settings_here()
    folder = catalogue_folder(settings, catalogue)
    files = catalogue_files(folder)
    if past is not None:
        rows, faults = _from_sheet(past, files, mapping, sheet or "", propose)
    else:
        rows, faults = _from_store(settings), ()
    answer = drafted(job, title or job.replace("-", " ").capitalize(), of or job, rows, faults, files)
    if write_it and answer.files and not answer.faults and not answer.catalogue:
        write_whole(folder, {path: text.encode() for path, text in answer.files.items()})
        import msgspec

        answer = msgspec.structs.replace(answer, written=True)
    if json:
        write_json(answer)
    else:
        write(drafted_text(answer, paper(), quiet))
    raise typer.Exit(3 if answer.faults or answer.catalogue else 0)


def _from_sheet(past: Path, files: Mapping[str, bytes], mapping: Path | None, sheet: str,
                propose: bool) -> "tuple[tuple[RowRead, ...], tuple[RowFault, ...]]":
    """The rows of a sheet of past jobs, and what can't be read of it. Raises WrongUse where that would be guessed."""
    from kitbuilder.bringing_in.grid import read_grid
    from kitbuilder.bringing_in.mapping import Mapping as SheetMapping
    from kitbuilder.bringing_in.mapping import read_mapping
    from kitbuilder.bringing_in.propose import propose as proposal_for
    from kitbuilder.bringing_in.rows import read_rows
    from kitbuilder.bringing_in.targets import past_target
    from kitbuilder.bringing_in.vocabulary import read_vocabulary

    meant = past_target(read_vocabulary(files))
    told = read_mapping(mapping.name, read_bytes(mapping)) if mapping else None
    known = told or SheetMapping()
    grid = read_grid(past.name, read_bytes(past), sheet=sheet or known.sheet, encoding=known.encoding,
                     delimiter=known.delimiter, quote=known.quote, names=frozenset(meant.names))
    if told is None:
        proposal = proposal_for(grid, meant)
        told = proposal.mapping
        if propose:
            write_proposal(past, proposal, "past jobs")
        if not proposal.sure:
            made = f"The proposal is in {past.name}.mapping.toml: look" if propose else \
                "Let --propose write a mapping, look"
            open_ = f" {proposal.questions[0]}" if proposal.questions else ""
            raise WrongUse(f"How {past.name} is read would be guessed in part.{open_} {made} it over, and give it with "
                           "--mapping.")
    rows = read_rows(grid, told, meant)
    return rows.read, rows.faults


def _from_store(settings: Settings) -> "tuple[RowRead, ...]":
    """The lines that the store has issued to bookings. Raises WrongUse if there are none."""
    from kitbuilder.amount import show
    from kitbuilder.model.bringing_in import RowRead
    from kitbuilder.store.database import open_store
    from kitbuilder.store.issued import issued_lines

    if settings.store is None:
        raise WrongUse('There is no store; add store = "workshop.db" to kitbuilder.toml.')
    lines = issued_lines(open_store(settings.store))
    if not lines:
        raise WrongUse("The store has issued nothing to any booking yet.")
    return tuple(
        RowRead(line.booking, {**line.facts, "job": line.job, "id": str(line.booking), "item": line.item,
                               "amount": show(line.amount), "unit": line.unit}) for line in lines)
