"""What bringing in found, as text."""

from collections.abc import Sequence

from kitbuilder.model.bringing_in import Imported, RowFault
from kitbuilder.show.paper import Paper, counted

#: So many faults are told on the screen; --json has them all.
_MOST = 50


def imported_text(answer: Imported, paper: Paper, quiet: bool, write_with: str) -> str:
    """How the sheet is read, what is asked, the first rows, every row that can't be read, and what was done."""
    sheet = f", sheet {answer.sheet}" if answer.sheet else ""
    parts = [paper.wrap(f"{answer.file}{sheet}: {counted(answer.rows, 'row')}, for {answer.into}")]
    if answer.proposed and not answer.mapping:
        lines = [paper.heading("PROPOSED: how it would be read")]
        # what is open is asked below
        for note in (one for one in answer.proposed if one.value != "?"):
            shown = note.value if note.value else "nothing"
            why = f" ({note.why})" if note.why else ""
            lines += paper.wrap(f"{_place(note.place)} = {_visible(shown)}{why}", 4, "  -")
        parts.append(lines)
    if answer.questions:
        lines = [paper.heading("ASKED: it can't be told from the sheet")]
        for question in answer.questions:
            lines += paper.wrap(question, 4, "  -")
        parts.append(lines)
    if answer.preview and not quiet:
        lines = [paper.heading("PREVIEW: as the rows would stand in the catalogue")]
        for row in answer.preview:
            cells = ", ".join(f"{name}: {_visible(cell)}" for name, cell in row.cells.items())
            lines += paper.wrap(f"row {row.row}: {cells}", 4, "  -")
        parts.append(lines)
    if answer.faults:
        parts.append(_faults(answer.faults, paper))
    if answer.catalogue:
        lines = [paper.heading("THE CATALOGUE WOULD BREAK")]
        for text in answer.catalogue[:_MOST]:
            lines += paper.wrap(text, 4, "  -")
        parts.append(lines)
    parts.append(_verdict(answer, paper, quiet, write_with))
    return "\n\n".join("\n".join(part) for part in parts) + "\n"


def _place(place: str) -> str:
    table, _, name = place.partition(".")
    if table == "values":
        column, _, word = name.partition(".")
        return f"{column}: {word}"
    return {"columns": name, "constants": f"{name}, in all rows", "separators": f"{name}: parted by",
            "ignored": "not read", "header_row": "names of the columns in row"}.get(table, table)


def _visible(text: str) -> str:
    return text.replace("\n", "\\n").replace("\t", "\\t")


def _faults(faults: Sequence[RowFault], paper: Paper) -> list[str]:
    rows = len({fault.row for fault in faults})
    lines = [paper.heading(f"CAN'T BE READ: {counted(rows, 'row')}")]
    for fault in faults[:_MOST]:
        place = f"row {fault.row}" + (f", {fault.column}" if fault.column else "")
        read = f"read {_visible(fault.read)!r}; " if fault.read else ""
        lines += paper.wrap(f"{place}: {read}expected {fault.expected}", 4, "  -")
    if len(faults) > _MOST:
        lines += paper.wrap(f"and {len(faults) - _MOST} more; --json tells them all", 4, "  -")
    return lines


def _verdict(answer: Imported, paper: Paper, quiet: bool, write_with: str) -> list[str]:
    there = f" {counted(answer.there, 'row')} stood there already, word for word." if answer.there else ""
    if answer.written:
        return paper.wrap(f"{counted(answer.ready - answer.there, 'row')} written to {answer.written}.{there}")
    if not answer.columns:
        return [*paper.wrap("No row was read yet, and nothing was written."),
                *(paper.wrap(write_with) if write_with and not quiet else ())]
    ready = f"{answer.ready} of {counted(answer.rows, 'row')} can be read."
    lines = paper.wrap(f"{ready}{there} Nothing was written.")
    return lines if quiet or not write_with else lines + paper.wrap(write_with)
