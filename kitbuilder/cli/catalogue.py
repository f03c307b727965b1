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

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="Check and compile a catalogue folder.")


@app.command(epilog="Exit code 1 if there is any problem; remarks only warn.")
def check(catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Prove the catalogue over every vehicle that can exist: every gap, clash, unmet requirement, differing circuit."""
    from kitbuilder.proof.check import check_catalogue
    from kitbuilder.show.check import check_text

    edition = opened(settings_here(), catalogue)
    found = check_catalogue(edition, warnings=(edition.warning,) if edition.warning else ())
    warn(found.warnings, quiet)
    if json:
        write_json(found)
    else:
        write(check_text(found, paper()))
    raise typer.Exit(1 if found.problems else 0)


@app.command()
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
    warn(warnings, quiet)
    if json:
        write_json(answer)
    else:
        write(compiled_text(answer, paper()))
