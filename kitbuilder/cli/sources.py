"""`kitbuilder sources`: the stock sources of the settings."""

import typer

from kitbuilder.cli.common import (
    JsonOption,
    QuietOption,
    clock,
    opened,
    paper,
    settings_here,
    shelf_view,
    warn,
    write,
    write_json,
)
from kitbuilder.errors import KitbuilderError
from kitbuilder.model.listing import SourceListed, SourcesListed
from kitbuilder.model.offer import QuoteRequest
from kitbuilder.settings import Settings
from kitbuilder.show.listing import sources_text

app = typer.Typer(rich_markup_mode=None)


@app.command()
def sources(json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Ask each stock source of the settings for nothing in particular, and show how it answers.

    Exit code 4 if one fails.
    """
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.quoting import ask_sources

    settings = settings_here()
    plugins = load_plugins()
    currency, warnings = _currency(settings)
    answers = ask_sources(settings, plugins, QuoteRequest((), clock(settings)), currency, shelf_view(settings))
    rows = tuple(
        SourceListed(one.name, one.plugin, answer.does, answer.state, answer.age_s, answer.error)  # type: ignore[arg-type]
        for one, answer in zip(settings.sources, answers, strict=True))
    answer = SourcesListed("kitbuilder.sources/1", warnings, rows)
    warn(warnings)
    if json:
        write_json(answer)
    else:
        write(sources_text(answer, paper()))
    raise typer.Exit(4 if any(row.error for row in rows) else 0)


def _currency(settings: Settings) -> tuple[str, tuple[str, ...]]:
    """The catalogue's currency. Sources can be looked at before there is a sound catalogue: EUR then stands for it."""
    try:
        return opened(settings, None).heading.currency, ()
    except KitbuilderError:
        return "EUR", ("The catalogue can't be read, so its currency isn't known; the sources are asked in EUR.",)
