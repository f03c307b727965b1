"""Writes a `Spec` as a catalogue folder, so that the real reader can be tried on it."""

from __future__ import annotations

import csv
import io
import json
import re
from collections.abc import Iterable, Mapping
from datetime import date
from pathlib import Path

from tests.specs import Fact, Fit, FitFile, Include, Item, Job, Layout, Requirement, Spec, Table

FIT_COLUMNS = ("job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise")


def write(spec: Spec, folder: Path) -> None:
    """Write every file of the catalogue into `folder`, which is made if it isn't there."""
    for part in ("jobs", "fits", "combinations"):
        (folder / part).mkdir(parents=True, exist_ok=True)
    _text(folder / "catalogue.toml", 'name = "Invented"\nformat = 1\ncurrency = "EUR"\n')
    _text(folder / "facts.toml", "\n".join(_fact(fact) for fact in spec.facts))
    _text(folder / "roles.toml", _roles(spec))
    if spec.requirements:
        _text(folder / "requirements.toml", "\n".join(_requirement(one) for one in spec.requirements))
    if spec.cautions:
        cautions = [
            f"[cautions.{_key(name)}]\ntext = {_string(text)}\n" for name, text in spec.cautions.items()
        ]
        _text(folder / "cautions.toml", "\n".join(cautions))
    for file in sorted({job.file for job in spec.jobs}):
        _text(folder / file, "\n".join(_job(job) for job in spec.jobs if job.file == file))
    for table in spec.tables:
        _sheet(folder / table.file, *_table_rows(table), table.layout)
    _sheet(folder / "items.csv", *_item_rows(spec.items), spec.items_layout)
    for fit_file in spec.fits:
        _sheet(folder / fit_file.file, *_fit_rows(fit_file), fit_file.layout)


def _text(path: Path, text: str) -> None:
    path.write_bytes(text.encode("utf-8"))


def _string(text: str) -> str:
    """A TOML basic string: JSON's escapes are among TOML's."""
    return json.dumps(text, ensure_ascii=False)


def _key(name: str) -> str:
    return name if re.fullmatch(r"[A-Za-z0-9_-]+", name) else _string(name)


def _strings(texts: Iterable[str]) -> str:
    return "[" + ", ".join(_string(text) for text in texts) + "]"


def _inline(pairs: Mapping[str, str]) -> str:
    """An inline table whose values are TOML already."""
    return (
        "{ " + ", ".join(f"{_key(name)} = {value}" for name, value in pairs.items()) + " }" if pairs else "{}"
    )


def _texts(pairs: Mapping[str, str]) -> str:
    return _inline({name: _string(text) for name, text in pairs.items()})


def _end(value: date | int | None) -> str:
    return value.isoformat() if isinstance(value, date) else str(value)


def _fact(fact: Fact) -> str:
    lines = [f"[facts.{_key(fact.name)}]", f"of = {_string(fact.of)}"]
    if fact.is_range:
        lines += [f"from = {_end(fact.first)}", f"to = {_end(fact.last)}"]
    else:
        lines.append(f"values = {_strings(fact.values)}")
    lines += [f"question = {_string(f'Which {fact.name}?')}", f"where = {_string('On the plate')}"]
    if fact.groups:
        lines.append(f"groups = {_inline({name: _strings(cells) for name, cells in fact.groups.items()})}")
    return "\n".join(lines) + "\n"


def _roles(spec: Spec) -> str:
    parts = []
    for role in spec.roles:
        lines = [
            f"[roles.{_key(role.name)}]",
            f"title = {_string(role.title)}",
            f"sort = {_string(role.sort)}",
        ]
        lines.append(f"takes = {_string(role.takes)}")
        if role.circuit:
            lines.append(f"circuit = {_string(role.circuit)}")
        parts.append("\n".join(lines) + "\n")
    for finding in spec.findings:
        lines = [f"[findings.{_key(finding.name)}]", f"title = {_string(finding.title)}"]
        lines.append(f"chance = {finding.chance}")
        if finding.covers:
            lines.append(f"covers = {_strings(finding.covers)}")
        parts.append("\n".join(lines) + "\n")
    return "\n".join(parts)


def _requirement(one: Requirement) -> str:
    lines = [
        f"[requirements.{_key(one.name)}]",
        f"title = {_string(one.title)}",
        f"kind = {_string(one.kind)}",
    ]
    lines += [f"{name} = {_property(value)}" for name, value in one.equal.items()]
    lines += [f"{name}.min = {_property(value)}" for name, value in one.least.items()]
    for name, specifications in (("listed", one.listed), ("claimed", one.claimed)):
        if specifications:
            lines.append(f"{name} = {_strings(specifications)}")
    return "\n".join(lines) + "\n"


def _property(value: str) -> str:
    """A number as a TOML number, anything else as a string."""
    return value if re.fullmatch(r"\d+(\.\d+)?", value) else _string(value)


def _include(include: Include) -> str:
    pairs = {"job": _string(include.job), "stages": _texts(include.stages)}
    if include.when:
        pairs["when"] = _texts(include.when)
    return _inline(pairs)


def _job(job: Job) -> str:
    stages = [
        _inline({"name": _string(stage), "minutes": str(30 + 15 * n)}) for n, stage in enumerate(job.stages)
    ]
    lines = [
        f"[jobs.{_key(job.name)}]",
        f"title = {_string(f'The job {job.name}')}",
        f"goal = {_string('vehicle moves again')}",
        f"stages = [{', '.join(stages)}]",
        f"roles = {_texts(job.roles)}",
    ]
    if job.cautions:
        lines.append(f"cautions = {_strings(job.cautions)}")
    if job.includes:
        lines.append(f"includes = [{', '.join(_include(include) for include in job.includes)}]")
    return "\n".join(lines) + "\n"


def _table_rows(table: Table) -> tuple[list[str], list[dict[str, str]]]:
    rows = [dict(row) for row in table.rows]
    if not table.shares:
        return list(table.facts), rows
    for row, share in zip(rows, table.shares, strict=True):
        row["share"] = share
    return [*table.facts, "share"], rows


def _item_rows(items: Iterable[Item]) -> tuple[list[str], list[dict[str, str]]]:
    rows = []
    for item in items:
        row = {
            "number": item.number,
            "name": item.name,
            "unit": item.unit,
            "rank": item.rank,
            "kind": item.kind,
        }
        row |= {"listed": " and ".join(item.listed), "claimed": " and ".join(item.claimed)}
        rows.append(row | dict(item.properties))
    return _used(("number", "name", "unit"), rows), rows


def _fit_row(fit: Fit) -> dict[str, str]:
    row = {name: "" if name == "otherwise" else getattr(fit, name) for name in FIT_COLUMNS}
    row["otherwise"] = "yes" if fit.otherwise else ""
    return row | dict(fit.when) | {"note": fit.note}


def _fit_rows(fit_file: FitFile) -> tuple[list[str], list[dict[str, str]]]:
    rows = [_fit_row(fit) for fit in fit_file.fits]
    return _used(("role",), rows), rows


def _used(always: tuple[str, ...], rows: list[dict[str, str]]) -> list[str]:
    """The columns that must be there and those with something in them, in order of first use."""
    found = dict.fromkeys(always)
    for row in rows:
        found |= dict.fromkeys(name for name, cell in row.items() if cell.strip())
    return list(found)


def _sheet(path: Path, columns: list[str], rows: list[dict[str, str]], layout: Layout) -> None:
    """Write one CSV file as its layout says."""
    turn = layout.turn % len(columns)
    columns = columns[turn:] + columns[:turn]
    text = io.StringIO()
    writer = csv.writer(text, delimiter=layout.delimiter, lineterminator=layout.newline)
    writer.writerow(columns)
    for number, row in enumerate(rows):
        for _ in range(layout.blanks.count(number)):
            writer.writerow([""] * len(columns) if layout.filled and len(columns) > 1 else [])
        writer.writerow([row.get(column, "").replace("\n", layout.newline) for column in columns])
    path.write_bytes(text.getvalue().encode("utf-8-sig" if layout.bom else "utf-8"))
