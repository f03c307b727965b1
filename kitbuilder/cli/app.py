"""The command line's front door: which commands there are, and how errors end.

A command's module is imported only when the command runs; `--help` is drawn from the table below.
"""

import gc
import importlib
import os
import sys
from collections.abc import Sequence
from typing import Any, NamedTuple

import typer
from typer.core import TyperGroup
from typer.exceptions import TyperException
from typer.main import get_command

from kitbuilder.errors import KitbuilderError


class Entry(NamedTuple):
    """One command: the module of kitbuilder.cli that has it, who it is for, one line of help."""

    module: str
    who: str
    help: str


COUNTER = "At the parts counter"
BAY = "At the bay"
OFFICE = "In the workshop's office"
KEEPER = "For whoever keeps the catalogue"
HOUSE = "For whoever looks after the installation"
NEWCOMER = "To see what this is"

COMMANDS = {
    "demo": Entry("demo", NEWCOMER, "Tell the whole story on an invented workshop; leave it in FOLDER."),
    "jobs": Entry("jobs", COUNTER, "List the job types, and the facts that can be told."),
    "kit": Entry("kit", COUNTER, "The kit list of a job: what it needs, and what is still to ask."),
    "why": Entry("why", COUNTER, "Why a line is in a kit, or is not."),
    "options": Entry("options", COUNTER, "Compare the ways to one goal; the customer's choice sheet."),
    "pick": Entry("pick", COUNTER, "The pick list of a booking, and what was picked."),
    "stock": Entry("stock", COUNTER, "The own shelf: goods in, counts, moves, audit."),
    "check": Entry("check", BAY, "Check the tote before starting; it ends in the start gate."),
    "book": Entry("book", OFFICE, "Bookings: add, list, move, cancel, authorise."),
    "edit": Entry("edit", OFFICE, "Change a booking's kit by hand."),
    "order": Entry("order", OFFICE, "Orders: list, approve, send, settle, receive, return."),
    "night": Entry("night", OFFICE, "The night run, its report, and the daemon."),
    "catalogue": Entry("catalogue", KEEPER, "Check, compare and fill a catalogue folder."),
    "store": Entry("store", HOUSE, "Back the store up, and put a back-up into a new one."),
    "sources": Entry("sources", HOUSE, "The stock sources of the settings, and how they answer now."),
    "plugins": Entry("plugins", HOUSE, "The installed plug-ins, and what they bring."),
}


_COMPLETION = ("install_completion", "show_completion")


class Lazy(TyperGroup):
    """A group whose commands are imported when they are used."""

    def list_commands(self, ctx: Any) -> list[str]:
        """All commands, in the order of the table."""
        return list(COMMANDS)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """The command of a name, or None."""
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"kitbuilder.cli.{COMMANDS[cmd_name].module}")
        command = get_command(module.app)
        command.name = cmd_name
        # typer gives every app the options that install completion; they belong to the whole program
        command.params = [param for param in command.params if param.name not in _COMPLETION]
        for inner in getattr(command, "commands", {}).values():
            # else typer cuts the help of a group's commands to one line each
            inner.short_help = inner.short_help or " ".join(inner.help.split("\n\n")[0].split())
        return command

    def resolve_command(self, ctx: Any, args: list[str]) -> Any:
        """Names the nearest command where there is none of that name."""
        if args and args[0] not in COMMANDS and not args[0].startswith("-"):
            from kitbuilder.errors import WrongUse, offered

            raise WrongUse(
                f"There is no command {args[0]!r}. {offered(args[0], list(COMMANDS))} `kitbuilder --help` lists all.")
        return super().resolve_command(ctx, args)

    def format_commands(self, ctx: Any, formatter: Any) -> None:
        """The commands, by who uses them."""
        for who in dict.fromkeys(entry.who for entry in COMMANDS.values()):
            with formatter.section(who):
                formatter.write_dl([(name, entry.help) for name, entry in COMMANDS.items() if entry.who == who])


app = typer.Typer(
    cls=Lazy, rich_markup_mode=None, pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["--help", "-h"], "max_content_width": 80},
    epilog="Start with: kitbuilder demo my-demo; then cd my-demo; then kitbuilder jobs")


@app.callback(invoke_without_command=True)
def top(
    ctx: typer.Context,
    version: bool = typer.Option(False, "--version", help="Show the version and leave."),
) -> None:
    """The complete, right kit for a heavy-vehicle workshop job, each line with its reason."""
    if version:
        from kitbuilder import __version__

        typer.echo(f"kitbuilder {__version__}")
        raise typer.Exit()
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


def main(args: Sequence[str] | None = None) -> None:
    """Run the command line; every error ends in one short paragraph and an exit code, never in a traceback."""
    # a command is over before collecting garbage would pay
    gc.set_threshold(50_000)
    _streams()
    if os.environ.get("_KITBUILDER_COMPLETE") == "complete_bash":
        from kitbuilder.cli.completion import print_values_for_bash

        if print_values_for_bash():
            return
    try:
        sys.exit(app(args, prog_name="kitbuilder", standalone_mode=False) or 0)
    except KitbuilderError as error:
        _end(str(error), error.exit_code)
    except TyperException as error:
        _end(_misuse(error), 2)
    except Exception as error:
        if os.environ.get("KITBUILDER_TRACE"):
            raise
        _end(f"This is a fault of kitbuilder: {type(error).__name__}: {error}. Please report it; "
             "KITBUILDER_TRACE=1 shows where it arose.", 6)
    finally:
        # the process ends here: the interpreter needn't look for garbage once more on its way out
        gc.freeze()


def _streams() -> None:
    """What a terminal can't show becomes a question mark; what goes to a file or a pipe is UTF-8 on every machine."""
    for stream in (sys.stdin, sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors="replace", encoding=None if stream.isatty() else "utf-8")


def _misuse(error: TyperException) -> str:
    """What typer says of options and arguments that can't be, as a sentence."""
    text = error.format_message()
    if hasattr(error, "possibilities") and hasattr(error, "option_name"):
        text = f"There is no option {error.option_name}."
        if error.possibilities:
            text += f" Did you mean {' or '.join(sorted(error.possibilities))}?"
    context = getattr(error, "ctx", None)
    return f"{text} `{context.command_path} --help` shows how." if context else text


def _end(text: str, code: int) -> None:
    from kitbuilder.show.paper import Paper, terminal_width

    paper = Paper(terminal_width())
    first, *more = text.splitlines() or [""]
    lines = paper.wrap(first)
    for line in more:
        lines += paper.wrap(line.strip(), 4, "  -")
    sys.stdout.flush()
    print("\n".join(lines), file=sys.stderr)
    sys.exit(code)
