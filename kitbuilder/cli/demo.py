"""`kitbuilder demo`: the whole story on an invented workshop, and its supplier."""

from pathlib import Path
from typing import Annotated

import typer

from kitbuilder.cli.common import QuietOption, paper, settings_here, write

app = typer.Typer(rich_markup_mode=None)

_EPILOG = """\b
Examples:
  kitbuilder demo my-demo     make the workshop in my-demo, tell the story
  kitbuilder demo supplier    inside a demo's folder: run its wholesaler until
                              Ctrl-C (if no folder is named supplier)
"""


@app.command(epilog=_EPILOG)
def demo(
    folder: Annotated[
        str | None, typer.Argument(metavar="FOLDER", help="Where the demo workshop is made: a new or empty folder, or "
                                   "an earlier demo's, which is laid out anew. Without it, a temporary one.")] = None,
    quiet: QuietOption = False,
) -> None:
    """Make an invented workshop and tell the whole story in it, with real commands, in some ten seconds."""
    from kitbuilder.demo.story import tell
    from kitbuilder.demo.workshop import lay_out

    if folder == "supplier" and not Path(folder).exists():
        _serve(quiet)
        return
    if folder is None:
        import tempfile

        folder = tempfile.mkdtemp(prefix="kitbuilder-demo-")
    lay_out(Path(folder))
    if quiet:
        write(f"{folder}\n")
    else:
        tell(Path(folder), folder, paper(), write)


def _serve(quiet: bool) -> None:
    """Run the supplier of the demo's folder until Ctrl-C, with a line for each question."""
    from kitbuilder.demo.supplier import demo_supplier

    supplier = demo_supplier(settings_here(), None if quiet else lambda line: write(f"{line}\n"))
    if not quiet:
        write(f"The demo's wholesaler answers at {supplier.url}. Ctrl-C ends it.\n")
    supplier.serve()
