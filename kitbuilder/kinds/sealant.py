"""Sealant: what it is based on (common practice, no source).

Its other property, `cure`, is the minutes until it bears its full load or may be filled against, as its data sheet
has them: anaerobic for rigid machined flanges, silicone for pressed covers, and neither holds oil at once.
"""

from typing import Final

from kitbuilder.kinds.figures import read_name

BASES: Final = ("anaerobic", "silicone", "polyurethane", "acrylic", "rubber")


def read_base(text: str) -> str:
    """What a sealant is based on; ValueError says what was expected."""
    return read_name(text, BASES, "a base of a sealant")
