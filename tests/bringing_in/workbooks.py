"""Writes sheets as other programs do: CSV of any dialect, XLSX, ODS."""

import csv
import io
import zipfile
from collections.abc import Sequence
from datetime import date
from xml.sax.saxutils import escape, quoteattr

import xlsxwriter

Rows = Sequence[Sequence[object]]
#: First row, column, last row, from 0.
Merged = Sequence[tuple[int, int, int]]
_ODS = (
    '<?xml version="1.0" encoding="UTF-8"?><office:document-content office:version="1.3" '
    'xmlns:office="urn:oasis:names:tc:opendocument:xmlns:office:1.0" '
    'xmlns:table="urn:oasis:names:tc:opendocument:xmlns:table:1.0" '
    'xmlns:text="urn:oasis:names:tc:opendocument:xmlns:text:1.0" '
    'xmlns:calcext="urn:org:documentfoundation:names:experimental:calc:xmlns:calcext:1.0">'
    "<office:body><office:spreadsheet>{}</office:spreadsheet></office:body></office:document-content>")
_MANIFEST = (
    '<?xml version="1.0" encoding="UTF-8"?><manifest:manifest manifest:version="1.3" '
    'xmlns:manifest="urn:oasis:names:tc:opendocument:xmlns:manifest:1.0"><manifest:file-entry manifest:full-path="/" '
    'manifest:media-type="application/vnd.oasis.opendocument.spreadsheet"/><manifest:file-entry '
    'manifest:full-path="content.xml" manifest:media-type="text/xml"/></manifest:manifest>')


class Error(str):
    """A cell that shows an error."""


def delimited(rows: Rows, delimiter: str = ",", encoding: str = "utf-8", quoting: int = csv.QUOTE_MINIMAL,
              end: str = "\r\n", quote: str = '"') -> bytes:
    out = io.StringIO(newline="")
    csv.writer(out, delimiter=delimiter, quoting=quoting, lineterminator=end, quotechar=quote).writerows(rows)
    return out.getvalue().encode(encoding)


def xlsx(rows: Rows, name: str = "Sheet", others: Sequence[str] = (), merged: Merged = ()) -> bytes:
    out = io.BytesIO()
    book = xlsxwriter.Workbook(out, {"in_memory": True})
    sheet = book.add_worksheet(name)
    as_day = book.add_format({"num_format": "dd.mm.yyyy"})
    for at, row in enumerate(rows):
        for place, cell in enumerate(row):
            if isinstance(cell, Error):
                sheet.write_formula(at, place, "=NA()", None, str(cell))
            elif isinstance(cell, bool):
                sheet.write_boolean(at, place, cell)
            elif isinstance(cell, (int, float)):
                sheet.write_number(at, place, cell)
            elif isinstance(cell, date):
                sheet.write_datetime(at, place, cell, as_day)
            elif cell:
                sheet.write_string(at, place, str(cell))
    for top, place, bottom in merged:
        sheet.merge_range(top, place, bottom, place, rows[top][place])
    for other in others:
        book.add_worksheet(other).write_string(0, 0, "x")
    book.close()
    return out.getvalue()


def ods(rows: Rows, name: str = "Sheet", merged: Merged = ()) -> bytes:
    """A sheet as OpenDocument 1.3 has it; an error is marked as LibreOffice marks it."""
    cells = [[_ods_cell(cell) for cell in row] for row in rows]
    for top, place, bottom in merged:
        spans = f'<table:table-cell table:number-rows-spanned="{bottom - top + 1}" table:number-columns-spanned="1"'
        cells[top][place] = cells[top][place].replace("<table:table-cell", spans, 1)
        for row in range(top + 1, bottom + 1):
            cells[row][place] = "<table:covered-table-cell/>"
    lines = "".join(f"<table:table-row>{''.join(row)}</table:table-row>" for row in cells)
    table = f"<table:table table:name={quoteattr(name)}>{lines}</table:table>"
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as book:
        book.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        book.writestr("META-INF/manifest.xml", _MANIFEST)
        book.writestr("content.xml", _ODS.format(table))
    return out.getvalue()


def _ods_cell(cell: object) -> str:
    if isinstance(cell, Error):
        return ('<table:table-cell table:formula="of:=NA()" office:value-type="string" office:string-value="" '
                f'calcext:value-type="error"><text:p>{cell}</text:p></table:table-cell>')
    if isinstance(cell, bool):
        value = str(cell).lower()
        return f'<table:table-cell office:value-type="boolean" office:boolean-value="{value}"/>'
    if isinstance(cell, (int, float)):
        return f'<table:table-cell office:value-type="float" office:value="{cell}"/>'
    if isinstance(cell, date):
        return f'<table:table-cell office:value-type="date" office:date-value="{cell.isoformat()}"/>'
    if not cell:
        return "<table:table-cell/>"
    paragraphs = "".join(f"<text:p>{_ods_text(line)}</text:p>" for line in str(cell).split("\n"))
    return f'<table:table-cell office:value-type="string">{paragraphs}</table:table-cell>'


def _ods_text(line: str) -> str:
    """Spaces that follow one another, and tabs, have elements of their own (OpenDocument 1.3, part 3, 6.1.2)."""
    text, run = "", 0
    for sign in [*line, ""]:
        if sign == " ":
            run += 1
            continue
        if run:
            text += f'<text:s text:c="{run}"/>'
            run = 0
        text += "<text:tab/>" if sign == "\t" else escape(sign)
    return text
