"""Coolant: concentrate, to be mixed with water as the maker says, or ready to use (common practice, no source)."""

from typing import Final

from kitbuilder.kinds.figures import read_name

FORMS: Final = ("concentrate", "ready to use")


def read_form(text: str) -> str:
    """Whether a coolant is a concentrate or ready to use; ValueError says what was expected."""
    return read_name(text, FORMS, "a form of coolant")
