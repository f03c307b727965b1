"""The European List of Waste (Decision 2000/532/EC as amended by Decision 2014/955/EU): codes, titles, hazard mark.

list_of_waste.csv holds what a vehicle workshop meets: groups 08 01 and 08 04, chapters 12 to 17 and 20, each complete.
A code is six digits in pairs, with a `*` behind where the waste is hazardous. Which code a waste gets is for its
producer to say, by its origin and what is in it; local rules come first.
"""

import re
from functools import cache
from pathlib import Path
from typing import Final

_CODE: Final = re.compile(r"([0-9]{2})[\s.\-]*([0-9]{2})[\s.\-]*([0-9]{2})\s*(\*?)")


@cache
def _titles() -> dict[str, str]:
    """Titles by canonical code, read once."""
    lines = Path(__file__).with_name("list_of_waste.csv").read_text("utf-8").splitlines()
    return dict(line.split(";", 1) for line in lines[1:])


def read_code(text: str) -> str:
    """A code in its one form (`13 02 05*`), however it is written (`130205`, `13.02.05 *`).

    Raises ValueError, whose text says what was expected, for what isn't in the list as it is held here, and for a `*`
    on waste that isn't hazardous: that is a slip between twins such as 15 02 02* and 15 02 03.
    """
    found = _CODE.fullmatch(text.strip())
    if found is None:
        raise ValueError("a code of the European List of Waste, such as 13 02 05*")
    plain = " ".join(found.groups()[:3])
    for code in (plain, f"{plain}*"):
        if code in _titles():
            if found[4] and code == plain:
                raise ValueError(f"{plain} without *, for it isn't hazardous: {title(code)}{_twin(plain)}")
            return code
    raise ValueError(f"a code of the European List of Waste{_nearest(plain)}")


def title(code: str) -> str:
    """What the list calls the waste of a code in its one form; KeyError for another."""
    return _titles()[code]


def hazardous(code: str) -> bool:
    """Whether the waste of a code in its one form is hazardous."""
    return code.endswith("*")


def codes() -> tuple[str, ...]:
    """All codes held here, in order."""
    return tuple(_titles())


def _twin(plain: str) -> str:
    """The hazardous twin that a title of the list names (`other than those mentioned in 15 02 02`)."""
    named = re.findall(r"[0-9]{2} [0-9]{2} [0-9]{2}", _titles()[plain])
    return f" ({named[0]}* is)" if named and f"{named[0]}*" in _titles() else ""


def _nearest(plain: str) -> str:
    """The two codes of its group that are nearest in number, with their titles; else the groups held here."""
    import textwrap

    group = [code for code in _titles() if code.startswith(plain[:5])]
    if not group:
        groups = list(dict.fromkeys(code[:5] for code in _titles() if code[:2] == plain[:2]))
        return f" of a group that is held here: {', '.join(groups) or 'those of chapters 08, 12 to 17 and 20'}"
    near = sorted(group, key=lambda code: abs(int(code[6:8]) - int(plain[6:])))[:2]
    return "; near it are " + " and ".join(f"{code} ({textwrap.shorten(_titles()[code], 60)})" for code in sorted(near))
