"""When two words are the same but for how they are written."""

import re
import unicodedata
from typing import Final

_ROMAN: Final = {"i": "1", "ii": "2", "iii": "3", "iv": "4", "v": "5", "vi": "6", "vii": "7", "viii": "8", "ix": "9"}


def fold(text: str) -> str:
    """A word without case, accents, spaces and signs: `Part-No.` and `part no` fold to one."""
    plain = unicodedata.normalize("NFKD", text.casefold())
    return "".join(one for one in plain if one.isalnum())


def fold_numbers(text: str) -> str:
    """As `fold`, and Roman numbers that stand alone or at the end in Arabic digits: `Euro VI` and `EURO6` fold to
    one."""
    words = re.findall(r"[^\W\d_]+|\d+", unicodedata.normalize("NFKD", text.casefold()))
    return "".join(_ROMAN.get(word, str(int(word)) if word.isdecimal() and word.isascii() else word) for word in words)
