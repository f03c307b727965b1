"""Writes keys and texts of TOML."""

import json


def bare_key(text: str) -> str:
    """A key, quoted where it must be."""
    plain = text.replace("-", "").replace("_", "")
    return text if plain.isascii() and plain.isalnum() else quoted(text)


def quoted(text: str) -> str:
    """A TOML basic string: JSON's escapes are among its own, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
