"""The mapping file: how a sheet of somebody else's is read as one of the catalogue's."""

import tomllib
from collections.abc import Mapping as AnyMapping
from collections.abc import Sequence

import msgspec

from kitbuilder.bringing_in.formats import DAY_FORMATS, SERIALS
from kitbuilder.bringing_in.toml_text import bare_key, quoted
from kitbuilder.errors import BadData, one_of
from kitbuilder.model.bringing_in import Noted

#: What stands where a person has to decide.
ASKED = "?"


class Mapping(msgspec.Struct, frozen=True, forbid_unknown_fields=True):
    """How a sheet is read. `columns` says for each of our columns which of theirs it is; `values`, by our column, what
    their words are in ours; `separators`, by our column, what parts the names in one cell; `empty` are words that
    stand for nothing; `skip_rows` are rows that aren't the sheet's own (totals); every column of
    theirs is either in `columns` or `ignored`."""

    into: str = ""
    sheet: str = ""
    header_row: int = 0
    skip_rows: tuple[int, ...] = ()
    encoding: str = ""
    delimiter: str = ""
    quote: str = ""
    decimal: str = "."
    thousands: str = ""
    days: str = "YYYY-MM-DD"
    serial_days: str = ""
    empty: tuple[str, ...] = ()
    ignored: tuple[str, ...] = ()
    columns: dict[str, str] = {}
    constants: dict[str, str] = {}
    values: dict[str, dict[str, str]] = {}
    separators: dict[str, str] = {}


_OPENS = {
    "into": "which of the catalogue's files this is to be",
    "decimal": "the sign before the decimals",
    "days": f"how days are written: {', '.join(DAY_FORMATS)}",
    "serial_days": f"days as bare numbers: counted from {' or '.join(SERIALS)}",
}


def read_mapping(file: str, data: bytes) -> Mapping:
    """The mapping in a file's bytes. Raises BadData with what is wrong, also for a question that is still open in what
    holds for the whole sheet; open values (`"Kiste" = "?"`) only stop the rows that have them."""
    try:
        mapping = msgspec.convert(tomllib.loads(data.decode("utf-8-sig")), Mapping)
    except UnicodeDecodeError:
        raise BadData(f"{file} isn't UTF-8 text.") from None
    except tomllib.TOMLDecodeError as error:
        raise BadData(f"{file} is no TOML: {error}.") from None
    except msgspec.ValidationError as error:
        raise BadData(f"{file} is no mapping: {_told(str(error))}") from None
    for name, what in _OPENS.items():
        if getattr(mapping, name) == ASKED:
            raise BadData(f"{file} leaves {name} open. Say {what}.")
    wrong = [name for name, text in (*mapping.columns.items(), *mapping.constants.items()) if text == ASKED]
    if wrong:
        raise BadData(f"{file} leaves open: {', '.join(wrong)}. Name a column of the sheet under [columns], or one "
                      "word for all rows under [constants].")
    if mapping.days not in DAY_FORMATS:
        raise BadData(f"{file}, days: read {mapping.days!r}; expected {one_of(mapping.days, DAY_FORMATS)}.")
    if mapping.serial_days not in ("", *SERIALS):
        raise BadData(f"{file}, serial_days: read {mapping.serial_days!r}; expected {' or '.join(SERIALS)}.")
    if mapping.decimal not in (".", ",") or mapping.thousands == mapping.decimal or len(mapping.thousands) > 1:
        raise BadData(f"{file}: decimal is '.' or ',', thousands another sign or nothing.")
    return mapping


def _told(text: str) -> str:
    if text.startswith("Object contains unknown field"):
        name = text.split("`")[1]
        return f"{name!r} is no key of a mapping; expected {one_of(name, Mapping.__struct_fields__)}."
    return f"{text}."


def mapping_text(mapping: Mapping, notes: Sequence[Noted], about: str) -> str:
    """A mapping as a file that a person looks over: beside each line, why it is proposed."""
    why = {note.place: ("" if note.sure else "look at this: ") + note.why for note in notes if note.why}
    lines = [f"# {line}" for line in about.splitlines()]
    for name in Mapping.__struct_fields__[:-4]:
        value = getattr(mapping, name)
        if value in ("", 0, ()):
            continue
        shown = [quoted(one) if isinstance(one, str) else str(one) for one in value] if isinstance(value, tuple) else []
        text = f"[{', '.join(shown)}]" if shown else str(value) if isinstance(value, int) else quoted(value)
        lines.append(_line(name, text, why.get(name)))
    for name in ("columns", "constants", "separators"):
        lines += _table(name, getattr(mapping, name), why)
    for column, words in mapping.values.items():
        lines += _table(f"values.{bare_key(column)}", words, why)
    return "\n".join(lines) + "\n"


def _table(name: str, words: AnyMapping[str, str], why: AnyMapping[str, str]) -> list[str]:
    if not words:
        return []
    told = {"columns": "  # ours = theirs"}.get(name, "  # theirs = ours" if name.startswith("values.") else "")
    bare = name.replace('"', "")
    return ["", f"[{name}]{told}",
            *(_line(bare_key(key), quoted(value), why.get(f"{bare}.{key}")) for key, value in words.items())]


def _line(key: str, value: str, why: str | None) -> str:
    return f"{key} = {value}" + (f"  # {' '.join(why.split())}" if why else "")
