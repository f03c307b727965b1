"""Finds which of our words one of theirs is likely to be."""

import difflib
from collections.abc import Mapping, Sequence
from typing import Final, NamedTuple

from kitbuilder.bringing_in.fold import fold, fold_numbers

#: Units by the codes of UNECE Recommendation 20 (C62 and H87 count pieces), and as sheets of the trade write them
#: (common practice, no source).
UNITS: Final = {
    "c62": "each", "h87": "each", "ea": "each", "pc": "each", "pcs": "each", "pce": "each", "piece": "each",
    "pieces": "each", "stk": "each", "stuck": "each", "st": "each", "pr": "pair", "pairs": "pair", "paar": "pair",
    "set": "set", "sets": "set", "satz": "set", "ltr": "L", "l": "L", "litre": "L", "litres": "L", "liter": "L",
    "mlt": "mL", "ml": "mL", "kgm": "kg", "kgs": "kg", "grm": "g", "gr": "g", "mtr": "m", "metre": "m", "metres": "m",
    "meter": "m", "mmt": "mm"}
_YES: Final = {"true": "yes", "y": "yes", "x": "yes", "1": "yes", "ja": "yes", "false": "no", "n": "no", "0": "no",
               "nein": "no"}
#: How alike two words must be to be offered at all.
_ALIKE: Final = 0.75


class Likely(NamedTuple):
    """One of our words, why it is thought to be meant, and whether nothing else could be."""

    word: str
    why: str
    sure: bool


class Words:
    """Words of ours, to be found by words of theirs."""

    def __init__(self, name: str, known: Sequence[str], titles: Mapping[str, str]) -> None:
        self.known = frozenset(known)
        self._name, self._all = name, list(known)
        self._folded: dict[str, set[str]] = {}
        self._numbered: dict[str, set[str]] = {}
        self._titles: dict[str, set[str]] = {}
        for word in known:
            self._folded.setdefault(fold(word), set()).add(word)
            self._numbered.setdefault(fold_numbers(word), set()).add(word)
        for title, word in titles.items():
            self._titles.setdefault(fold(title), set()).add(word)

    def likely(self, text: str) -> Likely | None:
        """The word that is likely to be meant, or None."""
        if text in self.known:
            return Likely(text, "", True)
        bare = fold(text)
        for words, key, why in ((self._folded, bare, "the same but for case, spaces and signs"),
                                (self._titles, bare, "it is called so"),
                                (self._numbered, fold_numbers(text), "the same, numbers written otherwise")):
            found = words.get(key, ())
            if key and len(found) == 1:
                return Likely(next(iter(found)), why, False)
        table = UNITS if self._name == "unit" else _YES if {"yes"} <= self.known <= {"yes", "no"} else {}
        if bare in table and (table[bare] in self.known or table[bare] == "no"):
            known = table[bare] in self.known
            return Likely(table[bare] if known else "", "a usual way to write it" if known else "the same as nothing",
                          False)
        close = difflib.get_close_matches(text, self._all, 2, _ALIKE) if len(self._all) <= 2000 else []
        if close and (len(close) == 1 or _ratio(text, close[0]) - _ratio(text, close[1]) > 0.1):
            return Likely(close[0], "it only looks alike", False)
        return None


def _ratio(one: str, other: str) -> float:
    return difflib.SequenceMatcher(None, one, other).ratio()
