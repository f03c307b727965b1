"""Reads text files with delimiters: any encoding, any of the usual delimiters and quotes."""

import codecs
import csv
import io
from collections.abc import Iterator
from typing import Final

from kitbuilder.bringing_in.fold import fold
from kitbuilder.bringing_in.grid import EXTRA, Grid, GridRow, filled
from kitbuilder.errors import BadData

_DELIMITERS: Final = (",", ";", "\t", "|")
_QUOTES: Final = ('"', "'")
#: How many lines are looked at to find the delimiter.
_LOOKED_AT: Final = 200
#: Marks at the beginning of a text, longest first: UTF-32's begins with UTF-16's.
_MARKS: Final = (
    (codecs.BOM_UTF32_LE, "utf-32"), (codecs.BOM_UTF32_BE, "utf-32"), (codecs.BOM_UTF8, "utf-8-sig"),
    (codecs.BOM_UTF16_LE, "utf-16"), (codecs.BOM_UTF16_BE, "utf-16"))
#: Encodings of one byte a letter that spreadsheet programs still write. Which of them it is can only be guessed.
_OLD: Final = ["cp1252", "cp1250", "cp1251", "cp1253", "cp1254", "cp850", "cp852", "mac_roman", "iso8859_15"]
#: Signs that sheets of the trade have beside letters, and the share of letters that may be beyond ASCII.
_SIGNS: Final = frozenset("€£°²³½¼¾µ±§·×Ø–—„“”‘’…®™«»\xa0")
_MOST_ODD: Final = 0.25
#: A cell longer than this is a quote that was never closed.
_LONGEST: Final = 1_000_000


def read_delimited(file: str, data: bytes, encoding: str, delimiter: str, quote: str, names: frozenset[str]) -> Grid:
    """The rows of a text file. Raises BadData where bytes don't fit the encoding or quotes don't close."""
    why = ""
    if not encoding:
        encoding, why = find_encoding(file, data)
    text = _decode(file, data, encoding)
    if not delimiter or not quote:
        delimiter, quote = find_dialect(text, names, delimiter, quote)
    rows = tuple(GridRow(line, tuple(cells)) for line, cells in _records(file, text, delimiter, quote)
                 if any(map(filled, cells)))
    return Grid(file, rows, encoding=encoding, delimiter=delimiter, quote=quote, why=why)


def find_encoding(file: str, data: bytes) -> tuple[str, str]:
    """The encoding of some bytes; and why, where it isn't plain from the bytes themselves ("")."""
    for mark, name in _MARKS:
        if data.startswith(mark):
            return name, ""
    if b"\0" in data[:1000]:
        # letters of the alphabet have a zero byte before or after them
        little = data[1:1000:2].count(0) >= data[0:1000:2].count(0)
        return ("utf-16-le" if little else "utf-16-be"), "every other byte is zero"
    try:
        data.decode("utf-8")
    except UnicodeDecodeError:
        pass
    else:
        return "utf-8", ""
    western = data.decode("cp1252", "replace")
    if _is_western(western):
        odd = _odd_letters(western)
        return "cp1252", f"what spreadsheet programs write in Western Europe; its letters would be {odd}"
    try:
        from charset_normalizer import from_bytes
    except ImportError:
        raise BadData(f"{file} isn't UTF-8. Save it as UTF-8, name its encoding in the mapping (encoding = "
                      f'"cp1252"), or let it be found out: {EXTRA}.') from None
    best = from_bytes(data, cp_isolation=_OLD).best()
    if best is None:
        raise BadData(f"{file} is in no encoding that is known here. Save it as UTF-8.")
    return best.encoding, f"the likeliest for what is in it; its letters would be {_odd_letters(str(best))}"


def _odd_letters(text: str) -> str:
    return " ".join(sorted({one for one in text if ord(one) > 127})[:8])


def _is_western(text: str) -> bool:
    """Whether a text looks like one of a Western European language: few of its letters are beyond ASCII, and of other
    signs there are only usual ones, none of them inside a word. (What counts letters alone takes short sheets for
    anything; common practice, no source.)"""
    letters = [one for one in text if one.isalpha()]
    if sum(ord(one) > 127 for one in letters) > _MOST_ODD * len(letters):
        return False
    for place, sign in enumerate(text):
        if ord(sign) > 127 and not sign.isalpha():
            inside = text[place - 1:place].isalpha() and text[place + 1:place + 2].isalpha()
            if sign not in _SIGNS or inside:
                return False
    return True


def _decode(file: str, data: bytes, encoding: str) -> str:
    try:
        text = data.decode(encoding)
    except LookupError:
        raise BadData(f"There is no encoding {encoding!r}. Expected one such as utf-8, utf-16 or cp1252.") from None
    except UnicodeDecodeError as error:
        line = data[:error.start].count(b"\n") + 1
        raise BadData(f"{file}, line {line}: byte {data[error.start]:02X} is no {encoding}.") from None
    if "\0" in text:
        line = text[:text.index("\0")].count("\n") + 1
        raise BadData(f"{file}, line {line} holds a zero character: it isn't text in {encoding}.")
    return text.removeprefix("\ufeff")


def find_dialect(text: str, names: frozenset[str], delimiter: str = "", quote: str = "") -> tuple[str, str]:
    """Delimiter and quote under which the first lines make the evenest sheet with the most headings that are known.

    Known headings decide before evenness: cells may hold commas, headings of a catalogue don't.
    """
    lines = io.StringIO(text, newline="")
    sample = "".join(line for _, line in zip(range(_LOOKED_AT), lines, strict=False))
    whole = len(sample) == len(text)
    best, chosen = (-1, -1, -1.0, -1), (",", '"')
    folded = {fold(name) for name in names}
    for one in ([delimiter] if delimiter else _DELIMITERS):
        for mark in ([quote] if quote else _QUOTES):
            if mark != '"' and not sample.startswith(mark) and one + mark not in sample:
                continue
            try:
                rows = [row for row in csv.reader(io.StringIO(sample, newline=""), delimiter=one, quotechar=mark,
                                                  strict=whole) if any(cell.strip() for cell in row)]
            except csv.Error:
                continue
            wide = [len(row) for row in rows]
            usual = max(set(wide), key=lambda size: (wide.count(size), size)) if wide else 0
            known = max((sum(fold(cell) in folded for cell in row) for row in rows[:25]), default=0)
            exact = max((sum(cell.strip() in names for cell in row) for row in rows[:25]), default=0)
            even = wide.count(usual) / len(wide) if usual > 1 else 0.0
            if (exact, known, even, usual) > best:
                best, chosen = (exact, known, even, usual), (one, mark)
    return chosen


def _records(file: str, text: str, delimiter: str, quote: str) -> Iterator[tuple[int, list[str]]]:
    limit = csv.field_size_limit(_LONGEST)
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, quotechar=quote, strict=True)
    before = 0
    try:
        for record in reader:
            yield before + 1, record
            before = reader.line_num
    except csv.Error as error:
        raise BadData(f"{file}, line {before + 1} is no row with {_named(delimiter)} between its cells and {quote} "
                      f"around them ({error}). The mapping can name others: delimiter, quote.") from None
    finally:
        csv.field_size_limit(limit)


def _named(delimiter: str) -> str:
    return {"\t": "tabs", ",": "commas", ";": "semicolons"}.get(delimiter, repr(delimiter))
