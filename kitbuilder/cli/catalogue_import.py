"""`kitbuilder catalogue import`: bring a sheet into the catalogue."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from kitbuilder.cli.common import (
    CatalogueOption,
    JsonOption,
    QuietOption,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)
from kitbuilder.errors import BadData, WrongUse
from kitbuilder.settings import catalogue_folder

if TYPE_CHECKING:
    from kitbuilder.bringing_in.propose import Proposal
    from kitbuilder.model.bringing_in import Imported

SheetOption = Annotated[
    str | None, typer.Option("--sheet", metavar="NAME", help="Which sheet of a workbook that has several.")]
MappingOption = Annotated[
    Path | None,
    typer.Option("--mapping", metavar="MAP.toml", help="How the sheet is read; --propose makes a first one.")]
ProposeOption = Annotated[
    bool, typer.Option("--propose", help="Write the proposed mapping beside the sheet, to be looked over.")]

EPILOG = (
    "Without --mapping it proposes how to read the sheet, and why. Nothing is written before every row can be read and "
    "the whole catalogue loads with it; then only with --write. Exit code 3: rows can't be read, or something is "
    "asked.\n\n"
    "Example: kitbuilder catalogue import parts.xlsx --into items --propose\n\n"
    "Then, the proposal looked over: kitbuilder catalogue import parts.xlsx --mapping parts.xlsx.mapping.toml --write")


def bring(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A sheet: CSV of any kind, XLSX or ODS.")],
    into: Annotated[str | None, typer.Option(
        "--into", metavar="SHEET",
        help="The catalogue's sheet: items, fits/NAME, combinations/NAME, hazards …")] = None,
    mapping: MappingOption = None,
    sheet: SheetOption = None,
    propose: ProposeOption = False,
    replace: Annotated[bool, typer.Option(
        "--replace", help="Put it in the place of what stands there, instead of adding to it.")] = False,
    write_it: Annotated[bool, typer.Option("--write", help="Write it, if all is well.")] = False,
    catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False,
) -> None:
    """Bring a sheet into the catalogue: show how its rows would stand there, and every row that can't be read."""
    from kitbuilder.bringing_in.bring_in import bring_in, imported, read_for
    from kitbuilder.bringing_in.mapping import read_mapping
    from kitbuilder.bringing_in.propose import propose as proposal_for
    from kitbuilder.bringing_in.sheet_text import write_whole
    from kitbuilder.bringing_in.targets import target_path
    from kitbuilder.show.bringing_in import imported_text

    folder = catalogue_folder(settings_here(), catalogue)
    files = catalogue_files(folder)
    told = read_mapping(mapping.name, read_bytes(mapping)) if mapping else None
    path = target_path(into or (told.into if told else ""), file.name)
    grid, meant = read_for(path, file.name, read_bytes(file), files, sheet or "", told)
    proposal = None if told else proposal_for(grid, meant)
    if propose:
        write_proposal(file, proposal, path)
    if write_it and proposal is not None and not proposal.sure:
        raise WrongUse(
            f"How {file.name} is read would be guessed in part, so nothing was written. Let --propose write a mapping, "
            "look it over, and give it with --mapping.")
    chosen = told or (proposal.mapping if proposal else None)
    assert chosen is not None
    found = None if proposal and proposal.lacking else bring_in(grid, meant, chosen, files, replace)
    written = ""
    if write_it and found is not None and found.well:
        if catalogue_files(folder) != files:
            raise BadData(f"{folder} was changed while the sheet was read; nothing was written. Do it once more.")
        write_whole(folder, {path: found.put.data})
        written = str(folder / path)
    answer = imported(grid, meant, mapping.name if mapping else "", proposal, found, written)
    warn(answer.warnings)
    if json:
        write_json(answer)
    else:
        write(imported_text(answer, paper(), quiet, _next(file, propose, proposal, answer)))
    raise typer.Exit(3 if answer.faults or answer.catalogue or answer.questions else 0)


def _next(file: Path, made: bool, proposal: "Proposal | None", answer: "Imported") -> str:
    """What to type next."""
    beside = f"{file}.mapping.toml"
    if made:
        return f"The mapping is in {beside}. Look it over; then: --mapping {beside}"
    if proposal is not None and not proposal.sure:
        return "--propose writes what is proposed to a mapping file, to be looked over."
    if answer.faults or answer.catalogue:
        return "Mend the sheet, or say in a mapping how it is to be read."
    return "All is well: --write writes it."


def write_proposal(file: Path, proposal: "Proposal | None", meant: str) -> None:
    """Write the proposed mapping beside the sheet. Raises WrongUse where there is one already."""
    from kitbuilder.bringing_in.mapping import mapping_text
    from kitbuilder.bringing_in.sheet_text import write_whole

    if proposal is None:
        raise WrongUse("--propose makes a mapping; --mapping already gives one.")
    beside = file.with_name(f"{file.name}.mapping.toml")
    if beside.exists():
        raise WrongUse(f"{beside.name} is there already. Look it over and give it with --mapping, or move it away.")
    about = (f"How {file.name} is read as {meant}, as kitbuilder proposes it: nothing here counts until you have\n"
             'looked it over and given it with --mapping. "?" stands where you have to decide.')
    write_whole(beside.parent, {beside.name: mapping_text(proposal.mapping, proposal.notes, about).encode()})


def catalogue_files(folder: Path) -> dict[str, bytes]:
    """The catalogue's own files by path. Raises BadData."""
    from kitbuilder.catalogue.folder import own_files

    return {path: read_bytes(folder / path) for path in own_files(folder)}


def read_bytes(path: Path) -> bytes:
    """A file's bytes. Raises BadData."""
    try:
        return path.read_bytes()
    except OSError as error:
        raise BadData(f"{path} can't be read: {error.strerror}.") from None
