"""`kitbuilder sources`: the stock sources of the settings, and stock of record that lies elsewhere."""

from datetime import datetime
from typing import TYPE_CHECKING, Annotated
from zoneinfo import ZoneInfo

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
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.show.listing import sources_text

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
    from kitbuilder.model.stock_elsewhere import Differences
    from kitbuilder.night.elsewhere import Counting
    from kitbuilder.plugins import load_plugins
    from kitbuilder.show.elsewhere import differences_text

    place = here()
    chosen = next((one for one in place.settings.sources if one.name == source), None)
    if chosen is None:
        raise WrongUse(f"The settings have no source {source!r}. "
                       f"{offered(source, [one.name for one in place.settings.sources])}")
    counting = Counting(place.settings, load_plugins(), place.edition, place.store,
                        place.settings.folder / "documents", cache_folder())
    # a day is the workshop's, not that of Greenwich
    now = place.now.astimezone(ZoneInfo(next(iter(place.sites.values())).zone))
    counted = counting.count(chosen, now)
    if isinstance(counted, str):
        raise SourceFailed(f"The source {source} failed: {counted}.")
    unread = tuple(f"{source} can't tell how much there is of {item}: {why}"
                   for item, why in sorted(counted.unread.items()))
    told = Differences(
        "kitbuilder.source-differences/1", unread, source, counted.before.at if counted.before else None, now,
        len(counted.now.amounts), counted.differences)
    warn(unread)
    if json:
        write_json(told)
    else:
        write(differences_text(told, paper()))
    place.store.close()
    raise typer.Exit(1 if counted.differences else 0)


@app.command(epilog="Example: kitbuilder sources issues")
def issues(json: JsonOption = False, quiet: QuietOption = False) -> None:
    """What was taken from stock kept elsewhere and isn't issued there yet. Each run of the night tries again.

    Exit code 1 if there is anything.
    """
    from kitbuilder import amount
    from kitbuilder.cli.place import here
    from kitbuilder.model.stock_elsewhere import IssueListed, IssuesListed
    from kitbuilder.show.elsewhere import issues_text
    from kitbuilder.store.issues import issues as open_issues

    place = here()
    rows = tuple(IssueListed(
        one.id, one.source, one.order, one.request.item, one.request.lot, amount.show(one.request.quantity),
        one.request.unit, one.request.taken_at, one.request.who, one.state, one.said)
        for one in open_issues(place.store))
    told = IssuesListed("kitbuilder.source-issues/1", (), rows)
    if json:
        write_json(told)
    else:
        write(issues_text(told, paper()))
    place.store.close()
    raise typer.Exit(1 if rows else 0)


@app.command(epilog='Example: kitbuilder sources issued 3 --by "A. Person"')
def issued(
    issue: Annotated[int, typer.Argument(metavar="ISSUE", help="Its number, as `kitbuilder sources issues` shows it.")],
    by: Annotated[str | None, typer.Option("--by", metavar="NAME", help="Who issued it there.")] = None,
    json: JsonOption = False,
) -> None:
    """Say that you issued something by hand where the stock is kept, so that it isn't issued again."""
    from kitbuilder.cli.place import here, who
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store.issues import by_hand

    if by is None:
        raise WrongUse("That something was issued by hand is said by a named person: --by NAME.")
    place = here()
    by_hand(place.store, issue, who(by), place.now)
    text = f"Issue {issue} is done: it isn't told there again."
    if json:
        write_json(Done("kitbuilder.done/1", (), text, issue))
    else:
        write(text + "\n")
    place.store.close()


def _listed(one: PluginSettings, answer: "Answer", health: "Health", now: datetime) -> SourceListed:
    return SourceListed(
        one.name, one.plugin, answer.does, answer.state, answer.age_s, answer.error,  # type: ignore[arg-type]
        answer.quote.kept if answer.quote else "", health.took_ms, *_told(health.answered, now),
        health.as_of.isoformat() if health.as_of else None, health.failures,
        health.rests_until.isoformat() if health.rests_until else None, len(health.lately),
        sum(one.failed for one in health.lately), max((one.took_ms for one in health.lately), default=None))


def _told(when: datetime | None, now: datetime) -> tuple[str | None, int | None]:
    return (None, None) if when is None else (when.isoformat(), max(0, int((now - when).total_seconds())))


def _currency(settings: Settings) -> tuple[str, tuple[str, ...]]:
    """The catalogue's currency. Sources can be looked at before there is a sound catalogue: EUR then stands for it."""
    try:
        return opened(settings, None).heading.currency, ()
    except KitbuilderError:
        return "EUR", ("The catalogue can't be read, so its currency isn't known; the sources are asked in EUR.",)
