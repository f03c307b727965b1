"""Tells sources whose stock is kept elsewhere what was taken from them, so that it is issued there.

What is told was marked and committed before. What fails for certain is told again later; what is unclear too, as the
source takes each key once.
"""

from collections.abc import Collection
from datetime import datetime

from kitbuilder import amount
from kitbuilder.errors import NotSent, SourceFailed
from kitbuilder.hooks import Context, Issuer
from kitbuilder.model.stock_elsewhere import IssueRow
from kitbuilder.plugins import Plugins, fenced, made, printing_aside
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.store import issues
from kitbuilder.store.database import Store
from kitbuilder.store.outbox import sending

#: What a source says in `does` if it can be told what was taken.
ISSUE = "issue"


def issuer(settings: Settings, plugins: Plugins, currency: str, source: str) -> Issuer | str:
    """A source as one that is told what was taken from it, or why it isn't; "" where it is none of that sort, as far as
    anybody knows."""
    one = _of(settings, source)
    if one is None or one.plugin not in plugins.sources:
        return ""
    kind, _ = plugins.source(one.plugin)
    if not kind.elsewhere:
        return ""
    try:
        context = Context(one.name, one.keys, settings.folder, currency, one.deadline_s)
        found = fenced(lambda: made(kind.make, context, "sources"), one.deadline_s)
    except SourceFailed as failed:
        return str(failed)
    # what `does` says is what a source promises
    return found if ISSUE in found.does else ""  # type: ignore[return-value]


def tell(store: Store, settings: Settings, plugins: Plugins, currency: str, who: str, now: datetime,
         only: Collection[int] = ()) -> list[IssueRow]:
    """Tell what isn't issued yet, or `only` what came under some orders; what still isn't afterwards.

    A source that failed once isn't called for the rest, so that it costs its deadline once. Raises StoreRefuses if
    another process sends or tells.
    """
    def still_open() -> list[IssueRow]:
        return [one for one in issues.issues(store) if not only or one.order in only]

    if not still_open():
        return []
    with sending(store), printing_aside():
        issues.broken_off(store, who, now)
        failed: dict[str, str] = {}
        for row in still_open():
            if row.source in failed:
                continue
            source = issuer(settings, plugins, currency, row.source)
            if issues.begin(store, row.id, who, now):
                state, said = _told(source, row, settings)
                issues.ended(store, row.id, state, said, who, now)
                if said:
                    failed[row.source] = said
        return still_open()


def _told(source: Issuer | str, row: IssueRow, settings: Settings) -> tuple[str, str]:
    one = _of(settings, row.source)
    if isinstance(source, str):
        return row.state, source or "the settings have no source of this name any more that can be told"
    assert one is not None
    try:
        fenced(lambda: source.issue(row.request), one.deadline_s)
    except SourceFailed as failed:
        certain = isinstance(failed.__cause__, NotSent) and row.state == "waiting"
        return "waiting" if certain else "unclear", str(failed)
    return "issued", ""


def _of(settings: Settings, source: str) -> PluginSettings | None:
    return next((one for one in settings.sources if one.name == source), None)


def not_issued(row: IssueRow) -> str:
    """What was taken and isn't issued, as a sentence."""
    told = row.request
    what = f"{amount.show(told.quantity)} {told.unit} of {told.item}" + (f", lot {told.lot}," if told.lot else "")
    how = {"waiting": "isn't issued there", "unclear": "may not be issued there", "issuing": "is being issued there"}
    why = f" ({row.said})" if row.said else ""
    return (f"{what} that {told.who} took for {told.reference}, {how[row.state]}{why}. The next run tries again; if "
            f"you do it there by hand, say so: kitbuilder sources issued {row.id} --by NAME.")
