"""`kitbuilder sources`: the stock sources of the settings, and stock of record that lies elsewhere."""

import re
from datetime import datetime
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from kitbuilder.cli.common import (
    JsonOption,
    QuietOption,
    cache_folder,
    clock,
    opened,
    paper,
    settings_here,
    shelf_view,
    warn,
    write,
    write_json,
)
from kitbuilder.errors import KitbuilderError, SourceFailed, WrongUse, offered
from kitbuilder.model.listing import SourceListed, SourcesListed
from kitbuilder.model.offer import QuoteRequest
from kitbuilder.model.stock_elsewhere import Differences
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.show.listing import differences_text, sources_text

if TYPE_CHECKING:
    from kitbuilder.stock.health import Health
    from kitbuilder.stock.quoting import Answer

app = typer.Typer(rich_markup_mode=None)


@app.callback(invoke_without_command=True)
def sources(ctx: typer.Context, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Ask each stock source of the settings for nothing in particular, and show how it answers.

    Exit code 4 if one fails.
    """
    if ctx.invoked_subcommand is not None:
        return
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.health import folder_of, read_health
    from kitbuilder.stock.quoting import ask_sources

    settings = settings_here()
    plugins = load_plugins()
    currency, warnings = _currency(settings)
    now, cache = clock(settings), cache_folder()
    answers = ask_sources(settings, plugins, QuoteRequest((), now), currency, shelf_view(settings), cache)
    rows = tuple(
        _listed(one, answer, read_health(folder_of(cache, settings, one)), now)
        for one, answer in zip(settings.sources, answers, strict=True))
    answer = SourcesListed("kitbuilder.sources/1", warnings, rows)
    warn(warnings)
    if json:
        write_json(answer)
    else:
        write(sources_text(answer, paper()))
    raise typer.Exit(4 if any(row.error for row in rows) else 0)


@app.command(epilog="Example: kitbuilder sources differences main-stock")
def differences(
    source: Annotated[str, typer.Argument(metavar="NAME", help="A source whose stock is kept elsewhere.")],
    json: JsonOption = False, quiet: QuietOption = False,
) -> None:
    """Compare what a source has with what it had before today, less what was fetched from it and booked in since.

    The first time on each day its stock is counted, for the days that come. Exit code 1 if there are differences, 4 if
    the source fails.
    """
    from kitbuilder.cli.place import here
    from kitbuilder.model.offer import Wanted
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock import differences as elsewhere
    from kitbuilder.stock.quoting import ask_sources
    from kitbuilder.store.fetched import fetched

    place = here()
    chosen = [one for one in place.settings.sources if one.name == source]
    if not chosen:
        raise WrongUse(f"The settings have no source {source!r}. "
                       f"{offered(source, [one.name for one in place.settings.sources])}")
    every = list(place.edition.items())
    request = QuoteRequest(tuple(Wanted(one.number, one.unit, one.codes) for one in every), place.now)
    [answer] = ask_sources(msgspec.structs.replace(place.settings, sources=tuple(chosen)), load_plugins(), request,
                           place.edition.heading.currency, shelf_view(place.settings), cache_folder())
    if answer.quote is None:
        raise SourceFailed(f"The source {source} failed: {answer.error}.")
    units = {one.number: one.unit for one in every}
    file = place.settings.folder / "documents" / f"stock-{re.sub('[^A-Za-z0-9_-]', '-', source)}.json"
    counts = elsewhere.read_counts(file)
    now, before = elsewhere.count_of(answer.quote, units, place.now), elsewhere.count_before(counts, place.now)
    elsewhere.keep_count(file, counts, now)
    rows = () if before is None else elsewhere.differences(
        before, now, fetched(place.store, source, before.at, place.now), units)
    unread = tuple(f"{source} can't tell how much there is of {item}: {why}"
                   for item, why in sorted(answer.quote.unreadable.items()))
    told = Differences(
        "kitbuilder.source-differences/1", unread, source, before.at if before else None, place.now, len(now.amounts),
        rows)
    warn(unread)
    if json:
        write_json(told)
    else:
        write(differences_text(told, paper()))
    raise typer.Exit(1 if rows else 0)


def _listed(one: PluginSettings, answer: "Answer", health: "Health", now: datetime) -> SourceListed:
    return SourceListed(
        one.name, one.plugin, answer.does, answer.state, answer.age_s, answer.error,  # type: ignore[arg-type]
        answer.quote.kept if answer.quote else "", health.took_ms, *_told(health.answered, now),
        health.as_of.isoformat() if health.as_of else None, health.failures,
        health.rests_until.isoformat() if health.rests_until else None)


def _told(when: datetime | None, now: datetime) -> tuple[str | None, int | None]:
    return (None, None) if when is None else (when.isoformat(), max(0, int((now - when).total_seconds())))


def _currency(settings: Settings) -> tuple[str, tuple[str, ...]]:
    """The catalogue's currency. Sources can be looked at before there is a sound catalogue: EUR then stands for it."""
    try:
        return opened(settings, None).heading.currency, ()
    except KitbuilderError:
        return "EUR", ("The catalogue can't be read, so its currency isn't known; the sources are asked in EUR.",)
