"""`kitbuilder sources`: the stock sources of the settings."""

import typer

from kitbuilder.cli.common import JsonOption, QuietOption, clock, paper, settings_here, write, write_json
from kitbuilder.model.listing import SourceListed, SourcesListed
from kitbuilder.model.offer import QuoteRequest
from kitbuilder.show.listing import sources_text

app = typer.Typer(rich_markup_mode=None)


@app.command()
def sources(json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Ask each stock source of the settings for nothing in particular, and show how it answers. Exit code 4 if one fails."""
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.quoting import ask_sources

    settings = settings_here()
    plugins = load_plugins()
    answers = ask_sources(settings, plugins, QuoteRequest((), clock(settings)), "EUR")
    rows = tuple(
        SourceListed(one.name, one.plugin, answer.does, answer.state, answer.age_s, answer.error)  # type: ignore[arg-type]
        for one, answer in zip(settings.sources, answers, strict=True))
    answer = SourcesListed("kitbuilder.sources/1", (), rows)
    if json:
        write_json(answer)
    else:
        write(sources_text(answer, paper()))
    raise typer.Exit(4 if any(row.error for row in rows) else 0)
