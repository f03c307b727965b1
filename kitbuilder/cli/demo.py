"""`kitbuilder demo`: the whole story on an invented workshop."""

from pathlib import Path
from typing import Annotated

import typer

from kitbuilder.cli.common import QuietOption, paper, write

app = typer.Typer(rich_markup_mode=None)


@app.command(epilog="Example: kitbuilder demo my-demo")
def demo(
    folder: Annotated[
        Path | None, typer.Argument(metavar="FOLDER", help="Where the demo workshop is made: a new or empty folder, or "
                                    "an earlier demo's, which is laid out anew. Without it, a temporary one.")] = None,
    quiet: QuietOption = False,
) -> None:
    """Make an invented workshop and tell the whole story in it, with real commands, in some ten seconds."""
    from kitbuilder.demo.story import tell
    from kitbuilder.demo.workshop import lay_out

    if folder is None:
        import tempfile

        folder = Path(tempfile.mkdtemp(prefix="kitbuilder-demo-"))
    lay_out(folder)
    if quiet:
        write(f"{folder}\n")
    else:
        tell(folder, str(folder), paper(), write)
