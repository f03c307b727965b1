"""`kitbuilder catalogue`: check and compile a catalogue folder."""

import typer

from kitbuilder.cli.common import (
    CatalogueOption,
    JsonOption,
    QuietOption,
    opened,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)

app = typer.Typer(rich_markup_mode=None, epilog="Example: kitbuilder catalogue check --catalogue our-catalogue")


@app.callback(invoke_without_command=True)
def top(ctx: typer.Context) -> None:
    """Check and compile a catalogue folder."""
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


@app.command(
    short_help="Find every problem that any vehicle can meet.",
    epilog="Exit code 1 if there is any problem; remarks only warn.\n\n"
    "Example: kitbuilder catalogue check --catalogue our-catalogue")
def check(catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Go over every vehicle that can exist and tell every problem: where nothing fills a role, or several things do,
    where no item satisfies a requirement, or the roles of one circuit differ."""
    from kitbuilder.proof.check import check_catalogue
    from kitbuilder.show.check import check_text

    edition = opened(settings_here(), catalogue)
    found = check_catalogue(edition, warnings=(edition.warning,) if edition.warning else ())
    warn(found.warnings)
    if json:
        write_json(found)
    else:
        write(check_text(found, paper()))
    raise typer.Exit(1 if found.problems else 0)


@app.command(
    short_help="Make the edition that the other commands read.",
    epilog="The other commands do this by themselves when a file has changed.\n\n"
    "Example: kitbuilder catalogue compile --catalogue our-catalogue")
def compile(catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Compile the catalogue to an edition; say where it lies and what it holds."""
    from kitbuilder.model.listing import Compiled
    from kitbuilder.show.listing import compiled_text

    edition = opened(settings_here(), catalogue)
    heading = edition.heading
    warnings = (edition.warning,) if edition.warning else ()
    answer = Compiled(
        "kitbuilder.edition/1", warnings, heading.name, heading.currency, edition.name,
        str(edition.path) if edition.path else None, edition.path.stat().st_size if edition.path else None,
        heading.counts)
    warn(warnings)
    if json:
        write_json(answer)
    else:
        write(compiled_text(answer, paper()))
