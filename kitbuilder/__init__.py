"""Kitbuilder: the complete, right kit for a heavy-vehicle workshop job.

This module is the public API, for scripts and plug-ins; each name is imported when it is first used.

    from pathlib import Path
    from kitbuilder import Statement, build_kit, read_edition

    edition = read_edition(Path("catalogue"))
    kit = build_kit(edition, "actuator-replace", [Statement("emissions", "Euro V", "told")])
"""

import importlib
from typing import TYPE_CHECKING, Any

_HOMES = {
    "kitbuilder.amount": {"parse": "parse_amount", "parse_money": "parse_money", "show": "show_amount",
                          "show_money": "show_money"},
    "kitbuilder.bringing_in.others": {"read_mapped_rows": "read_mapped_rows"},
    "kitbuilder.catalogue.cache": {name: name for name in ("open_edition", "read_edition")},
    "kitbuilder.catalogue.edition": {"Edition": "Edition"},
    "kitbuilder.catalogue.rows": {"SheetRow": "SheetRow", "read_rows": "read_rows"},
    "kitbuilder.errors": {name: name for name in (
        "BadData", "Contradiction", "Fault", "KitbuilderError", "LoadError", "NotSent", "SourceFailed",
        "SourceRests", "WrongUse")},
    "kitbuilder.hooks": {name: name for name in (
        "Context", "Diary", "DiaryKind", "Entry", "Issuer", "OrderTaker", "RegisterKind", "ShelfView", "SourceKind",
        "StockSource", "VehicleRegister", "hookimpl")},
    "kitbuilder.kit.build": {"build_kit": "build_kit"},
    "kitbuilder.kit.lines": {"KitLines": "KitLines"},
    "kitbuilder.kit.places": {"LineFound": "LineFound"},
    "kitbuilder.model.booking": {"DiaryEntry": "DiaryEntry"},
    "kitbuilder.model.kit": {name: name for name in ("Kit", "Line", "NotNeeded", "Problem", "Question")},
    "kitbuilder.model.offer": {name: name for name in (
        "AnsweredLine", "Arrival", "Offer", "OrderAnswer", "OrderItem", "OrderRequest", "Price", "Quote",
        "QuoteRequest", "Slot", "Sureness", "Wanted")},
    "kitbuilder.model.shelf": {"Coming": "Coming", "ShelfLot": "ShelfLot"},
    "kitbuilder.model.stock_elsewhere": {"IssueRequest": "IssueRequest"},
    "kitbuilder.proof.check": {"check_catalogue": "check_catalogue"},
    "kitbuilder.stock.coming": {"less_coming": "less_coming"},
    "kitbuilder.store.view": {"shelf_of": "shelf_of"},
    "kitbuilder.vehicle.statements": {"Statement": "Statement"},
}
_PUBLIC = {public: (home, name) for home, names in _HOMES.items() for name, public in names.items()}

__version__ = "0.1.0"
__all__ = [
    "AnsweredLine",
    "Arrival",
    "BadData",
    "Coming",
    "Context",
    "Contradiction",
    "Diary",
    "DiaryEntry",
    "DiaryKind",
    "Edition",
    "Entry",
    "Fault",
    "IssueRequest",
    "Issuer",
    "Kit",
    "KitLines",
    "KitbuilderError",
    "Line",
    "LineFound",
    "LoadError",
    "NotNeeded",
    "NotSent",
    "Offer",
    "OrderAnswer",
    "OrderItem",
    "OrderRequest",
    "OrderTaker",
    "Price",
    "Problem",
    "Question",
    "Quote",
    "QuoteRequest",
    "RegisterKind",
    "SheetRow",
    "ShelfLot",
    "ShelfView",
    "Slot",
    "SourceFailed",
    "SourceKind",
    "SourceRests",
    "Statement",
    "StockSource",
    "Sureness",
    "VehicleRegister",
    "Wanted",
    "WrongUse",
    "build_kit",
    "check_catalogue",
    "hookimpl",
    "less_coming",
    "open_edition",
    "parse_amount",
    "parse_money",
    "read_edition",
    "read_mapped_rows",
    "read_rows",
    "shelf_of",
    "show_amount",
    "show_money",
]


def __getattr__(name: str) -> Any:
    if name not in _PUBLIC:
        raise AttributeError(f"kitbuilder has no public name {name!r}")
    home, inner = _PUBLIC[name]
    return getattr(importlib.import_module(home), inner)


def __dir__() -> list[str]:
    return [*__all__, "__version__"]


if TYPE_CHECKING:
    from kitbuilder.amount import parse as parse_amount
    from kitbuilder.amount import parse_money, show_money
    from kitbuilder.amount import show as show_amount
    from kitbuilder.bringing_in.others import read_mapped_rows
    from kitbuilder.catalogue.cache import open_edition, read_edition
    from kitbuilder.catalogue.edition import Edition
    from kitbuilder.catalogue.rows import SheetRow, read_rows
    from kitbuilder.errors import (
        BadData,
        Contradiction,
        Fault,
        KitbuilderError,
        LoadError,
        NotSent,
        SourceFailed,
        SourceRests,
        WrongUse,
    )
    from kitbuilder.hooks import (
        Context,
        Diary,
        DiaryKind,
        Entry,
        Issuer,
        OrderTaker,
        RegisterKind,
        ShelfView,
        SourceKind,
        StockSource,
        VehicleRegister,
        hookimpl,
    )
    from kitbuilder.kit.build import build_kit
    from kitbuilder.kit.lines import KitLines
    from kitbuilder.kit.places import LineFound
    from kitbuilder.model.booking import DiaryEntry
    from kitbuilder.model.kit import Kit, Line, NotNeeded, Problem, Question
    from kitbuilder.model.offer import (
        AnsweredLine,
        Arrival,
        Offer,
        OrderAnswer,
        OrderItem,
        OrderRequest,
        Price,
        Quote,
        QuoteRequest,
        Slot,
        Sureness,
        Wanted,
    )
    from kitbuilder.model.shelf import Coming, ShelfLot
    from kitbuilder.model.stock_elsewhere import IssueRequest
    from kitbuilder.proof.check import check_catalogue
    from kitbuilder.stock.coming import less_coming
    from kitbuilder.store.view import shelf_of
    from kitbuilder.vehicle.statements import Statement
