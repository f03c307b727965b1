"""The fingerprint of a kit: what is in it, and nothing of how that was found."""

import hashlib
from typing import Any

import msgspec

from kitbuilder.model.kit import Kit, Line, NotNeeded, Problem


def canonical(value: Any) -> bytes:
    """Canonical JSON (RFC 8785) of texts, whole numbers, truth values, null, lists and tables of these.

    Keys are sorted by their UTF-16 code units (section 3.2.3); numbers beyond whole ones aren't used here.
    """
    return msgspec.json.encode(_sorted(value))


def _sorted(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _sorted(value[key]) for key in sorted(value, key=lambda key: key.encode("utf-16-be"))}
    if isinstance(value, list | tuple):
        return [_sorted(one) for one in value]
    return value


_LINE = ("stage", "role", "sort", "item", "requirement", "amount", "unit", "finding", "certainty", "when", "acceptable")
_NOTHING = ("stage", "role", "certainty", "when")
_PROBLEM = ("kind", "role", "circuit", "certainty", "when")


def fingerprint(job: str, lines: tuple[Line, ...], nothing: tuple[NotNeeded, ...],
                problems: tuple[Problem, ...]) -> str:
    """The SHA-256, in lower-case hexadecimal, of the canonical JSON of what the kit holds."""
    told = {
        "format": 1,
        "job": job,
        "lines": [_keys(one, _LINE) for one in lines],
        "nothing": [_keys(one, _NOTHING) for one in nothing],
        "problems": [_keys(one, _PROBLEM) for one in problems],
    }
    return hashlib.sha256(canonical(told)).hexdigest()


def _keys(value: msgspec.Struct, keys: tuple[str, ...]) -> dict[str, Any]:
    return {key: getattr(value, key) for key in keys}


def matches(kit: Kit) -> bool:
    """Whether a kit's fingerprint is that of what it holds."""
    return kit.fingerprint == fingerprint(kit.job, kit.lines, kit.nothing, kit.problems)
