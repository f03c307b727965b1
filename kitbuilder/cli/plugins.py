"""`kitbuilder plugins`: the installed plug-ins."""

import typer

from kitbuilder.cli.common import JsonOption, QuietOption, paper, write, write_json
from kitbuilder.model.listing import PluginListed, PluginsListed
from kitbuilder.show.listing import plugins_text

app = typer.Typer(rich_markup_mode=None)


@app.command()
def plugins(json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Load every installed plug-in and show what it brings, or why it failed. Exit code 1 if one failed."""
    from kitbuilder.plugins import load_plugins

    rows = tuple(
        PluginListed(row.name, row.distribution, row.version, row.registers, row.error or None)
        for row in load_plugins().rows)
    answer = PluginsListed("kitbuilder.plugins/1", (), rows)
    if json:
        write_json(answer)
    else:
        write(plugins_text(answer, paper()))
    raise typer.Exit(1 if any(row.error for row in rows) else 0)
