"""Stock of record that lies elsewhere: what a day's report tells of it.

It is counted first thing on each day; what it is compared with, and so what is told, stays the same all day.
"""

import re
from collections.abc import Iterable, Sequence
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo

import msgspec

from kitbuilder.calendar.site import Site
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import StoreRefuses
from kitbuilder.model.offer import QuoteRequest, Wanted
from kitbuilder.model.stock_elsewhere import Difference, ElsewhereReport
from kitbuilder.model.work import Report
from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock import differences as elsewhere
from kitbuilder.stock.issuing import not_issued, tell
from kitbuilder.stock.quoting import Answer, ask_sources
from kitbuilder.store.database import Store
from kitbuilder.store.fetched import fetched
from kitbuilder.store.issues import issues


class Counted(msgspec.Struct, frozen=True):
    """A source as it was counted: the count now and that of the day before (None: there is none), the differences, the
    items that it can't tell of, with the reasons."""

    now: elsewhere.Count
    before: elsewhere.Count | None
    differences: tuple[Difference, ...]
    unread: dict[str, str]


class Counting(msgspec.Struct, frozen=True):
    """What counting needs: the settings and plug-ins, the catalogue, the store, the folder in which counts are kept,
    the folder of what sources keep."""

    settings: Settings
    plugins: Plugins
    edition: Edition
    store: Store
    documents: Path
    cache: Path | None

    def sources(self) -> list[PluginSettings]:
        """The sources whose stock is kept elsewhere."""
        kinds = self.plugins.sources
        return [one for one in self.settings.sources if one.plugin in kinds and kinds[one.plugin][0].elsewhere]

    def file(self, source: str) -> Path:
        """Where the counts of a source are kept."""
        return self.documents / f"stock-{re.sub('[^A-Za-z0-9_-]', '-', source)}.json"

    def count(self, source: PluginSettings, now: datetime, before: Sequence[Answer] = ()) -> Counted | str:
        """Count a source, and keep the count if it is the day's first; or why it can't be. `before`: as `ask_sources`
        takes it; the day is that of `now` in its zone."""
        every = list(self.edition.items())
        request = QuoteRequest(tuple(Wanted(one.number, one.unit, one.codes) for one in every), now)
        # without a view of the shelf: what is ordered and not yet taken still lies there
        [answer] = ask_sources(msgspec.structs.replace(self.settings, sources=(source,)), self.plugins, request,
                               self.edition.heading.currency, None, self.cache, before)
        if answer.quote is None:
            return answer.error or "it failed"
        counts = elsewhere.read_counts(self.file(source.name))
        count = elsewhere.count_of(answer.quote, {one.number: one.unit for one in every}, now)
        elsewhere.keep_count(self.file(source.name), counts, count)
        return self.compared(source.name, counts, count, answer.quote.unreadable)

    def of_today(self, source: str, now: datetime) -> Counted | None:
        """The day's first count, if there is one."""
        counts = elsewhere.read_counts(self.file(source))
        count = next((one for one in counts if one.at.date() == now.date()), None)
        return self.compared(source, counts, count, {}) if count else None

    def compared(self, source: str, counts: list[elsewhere.Count], count: elsewhere.Count,
                 unread: dict[str, str]) -> Counted:
        """A count against that of the day before, less what was taken since."""
        before = elsewhere.count_before(counts, count.at)
        units = {one.number: one.unit for one in self.edition.items()}
        return Counted(count, before, () if before is None else elsewhere.differences(
            before, count, fetched(self.store, source, before.at, count.at), units), unread)


def with_elsewhere(report: Report, counting: Counting, site: Site, now: datetime,
                   answers: Iterable[Answer]) -> Report:
    """A report with what is to be told of each source whose stock is kept elsewhere; as it is where there is none. One
    that hung in the run (`answers`) isn't waited for."""
    sources = counting.sources()
    if not sources:
        return report
    here = now.astimezone(ZoneInfo(site.zone))
    open_issues = issues(counting.store, site.name)
    found = []
    for one in sources:
        counted = counting.of_today(one.name, here) or counting.count(one, here, tuple(answers))
        waiting = tuple(not_issued(row) for row in open_issues if row.source == one.name)
        if isinstance(counted, str):
            found.append(ElsewhereReport(one.name, None, None, (), waiting, counted))
        else:
            since = counted.before.at if counted.before else None
            found.append(ElsewhereReport(one.name, since, counted.now.at, counted.differences, waiting))
    return msgspec.structs.replace(report, elsewhere=tuple(found))


def issue_elsewhere(counting: Counting, who: str, now: datetime) -> None:
    """Tell the sources what was taken from them and isn't issued there yet. It is no step of a run: what is told stands
    in the store. Where another process tells just now, it does."""
    if not counting.sources():
        return
    try:
        tell(counting.store, counting.settings, counting.plugins, counting.edition.heading.currency, who, now)
    except StoreRefuses:
        pass  # what stays open is told by the report
