"""The columns that the sheets of a catalogue may have beside one a fact (kit-rules, section 10)."""

from typing import Final

from kitbuilder.kinds import PROPERTIES

TABLE_COLUMNS: Final = frozenset({"share", "note"})
FIT_COLUMNS: Final = frozenset(
    {"job", "role", "item", "requirement", "amount", "least", "unit", "finding", "otherwise", "note"})
WASTE_COLUMNS: Final = frozenset({"job", "role", "what", "code", "amount", "unit", "note"})
VIN_COLUMNS: Final = frozenset({"pattern", "serial", "note"})
PLATE_COLUMNS: Final = frozenset({"component", "pattern", "note"})
_ITEM_COLUMNS: Final = frozenset({"number", "name", "unit", "rank", "kind", "codes", "listed", "claimed", "note"})
ITEM_COLUMNS: Final = _ITEM_COLUMNS | {"weight", "ports"} | set(PROPERTIES)
EXCHANGE_COLUMNS: Final = frozenset({"item", "deposit", "days", "state", "arrives", "circuit", "note"})
HAZARD_COLUMNS: Final = frozenset({"item", "sheet", "revised", "signal", "pictograms", "statements", "note"})
SELLING_COLUMNS: Final = frozenset({"item", "price", "per", "note"})
SUPERSESSION_COLUMNS: Final = frozenset(
    {"old", "new", "from", "rule", "set", "old_amount", "new_amount", "group", "note"})

#: A fact named like one couldn't have a column of its own. Properties are columns of items only, which have
#: none for facts: `voltage` may well be a fact of a vehicle, and so may `weight`.
NAMES_KEPT: Final = TABLE_COLUMNS | FIT_COLUMNS | WASTE_COLUMNS | VIN_COLUMNS | PLATE_COLUMNS | _ITEM_COLUMNS
