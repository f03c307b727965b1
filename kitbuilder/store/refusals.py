"""What a database says when it won't, in plain words."""

from typing import Final

#: What kind of trouble PostgreSQL's codes of an error tell (its appendix A); by the code, or its first two signs.
_CODES: Final = {
    "55P03": "busy", "57014": "busy", "40P01": "turn", "40001": "turn", "53100": "full", "25006": "readonly",
    "42P01": "tables", "42703": "tables", "53300": "away", "57P01": "away", "57P02": "away", "57P03": "away",
    "3D000": "nowhere", "28": "nowhere", "08": "away", "XX": "damaged", "23": "refused",
}
#: The same by what SQLite, or a driver that lost its server, says.
_WORDS: Final = (
    ("locked", "busy"), ("disk is full", "full"), ("readonly", "readonly"), ("read-only", "readonly"),
    ("unable to open", "closed"), ("not a database", "damaged"), ("malformed", "damaged"),
    ("no such table", "tables"), ("no such column", "tables"), ("does not exist", "nowhere"),
    ("authentication", "nowhere"), ("server closed the connection", "away"), ("connection refused", "away"),
    ("connection is lost", "away"), ("connection is closed", "away"), ("connection failed", "away"),
)


def trouble(error: BaseException | None, refused: bool = False) -> str:
    """What kind of trouble an error of a driver is: busy, turn (another transaction was first: the same may be tried
    again at once), full, readonly, closed, damaged, tables, nowhere, away, refused, or empty where it isn't known."""
    code = str(getattr(error, "sqlstate", None) or "")
    found = _CODES.get(code) or _CODES.get(code[:2])
    if found:
        return found
    said = str(error).lower()
    return next((kind for words, kind in _WORDS if words in said), "refused" if refused else "")


def in_words(error: BaseException | None, refused: bool, busy_s: float, committing: bool, holder: str = "") -> str:
    """An error of a driver, in plain words. `committing`: it came while a transaction was being made to last, so that
    where the server went away nobody knows whether it was. `holder`: who keeps the store busy, if that is known."""
    reason = _first(" ".join(str(error).split()))
    kind = trouble(error, refused)
    after = ("It isn't known whether what was being done was done; look, or do the same again: what has a key is never "
             "done twice.")
    if kind == "away":
        after = after if committing else "Nothing was changed; try again when it is there."
        return f"The store's database server can't be reached ({reason}). {after}"
    if committing and _has_stopped(error):
        return f"The store's database server has stopped ({reason}). {after}"
    return _TEXTS.get(kind, "The store can't be used: {reason}. Nothing was changed.").format(
        reason=reason, busy_s=f"{busy_s:g}", who=f" ({holder})" if holder else "",
        mend="have it finish, or try again later" if holder else "try again",
        disk="disk of the store's database server" if getattr(error, "sqlstate", None) else "store's disk")


def _has_stopped(error: BaseException | None) -> bool:
    """Whether a server gave up with an error, instead of only what it was doing."""
    return getattr(getattr(error, "diag", None), "severity_nonlocalized", None) in ("FATAL", "PANIC")


_TEXTS: Final[dict[str, str]] = {
    "busy": "The store is busy: another program has held it for {busy_s} s{who}. Nothing was changed; {mend}.",
    "turn": "The store is busy: others were quicker each time. Nothing was changed; try again.",
    "full": "There is no room left on the {disk}. Nothing was changed; make room and try again.",
    "readonly": "The store can only be read, not written. Nothing was changed; look at who may write to its file and "
                "its folder.",
    "closed": "The store's file can't be opened. Look whether its folder is there and may be written to.",
    "damaged": "The store's file is damaged, or is no store of kitbuilder ({reason}). Nothing was changed; put a "
               "back-up in its place.",
    "tables": "The store's tables aren't what they should be ({reason}). Nothing was changed; use a back-up.",
    "nowhere": "The store's database can't be opened: {reason}. Look at its URL in kitbuilder.toml.",
    "refused": "The store refuses what would make it unsound ({reason}). Nothing was changed.",
}


def _first(reason: str) -> str:
    """What a server says first; what follows is where in the statement, which helps nobody here."""
    return reason.partition(" LINE 1:")[0].partition(" DETAIL:")[0].partition(" Is the server running")[0]
