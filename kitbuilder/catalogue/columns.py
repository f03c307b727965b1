"""The columns that the sheets of a catalogue may have beside one a fact (kit-rules, section 10)."""

from typing import Final

from kitbuilder.kinds import PROPERTIES

TABLE_COLUMNS: Final = frozenset({"share", "note"})
FIT_COLUMNS: Final = frozenset({"job", "role", "item", "requirement", "amount", "unit", "finding", "otherwise", "note"})
_ITEM_COLUMNS: Final = frozenset({"number", "name", "unit", "rank", "kind", "codes", "listed", "claimed", "note"})
ITEM_COLUMNS: Final = _ITEM_COLUMNS | set(PROPERTIES)
SUPERSESSION_COLUMNS: Final = frozenset({"old", "new", "from", "rule", "note"})

#: A fact named like one couldn't have a column of its own. Properties are columns of items only, which have
#: none for facts: `voltage` may well be a fact of a vehicle.
NAMES_KEPT: Final = TABLE_COLUMNS | FIT_COLUMNS | _ITEM_COLUMNS
