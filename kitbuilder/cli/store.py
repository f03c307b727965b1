"""`kitbuilder store`: back the store up, and put a back-up into a new one."""

from pathlib import Path
from typing import Annotated

import typer

from kitbuilder.cli.common import JsonOption, settings_here, write, write_json
from kitbuilder.errors import WrongUse

app = typer.Typer(rich_markup_mode=None, epilog="Example: kitbuilder store backup monday.db")

FileArgument = Annotated[Path, typer.Argument(metavar="FILE", help="The back-up's file.")]


@app.callback(invoke_without_command=True)
def top(ctx: typer.Context) -> None:
    """Back up stock, bookings, holds and orders, and put a back-up back."""
    if ctx.invoked_subcommand is None:
        typer.echo(ctx.get_help())


@app.command(
    epilog="The file is a store itself: it can be named as store in kitbuilder.toml.\n\n"
    "Example: kitbuilder store backup monday.db")
def backup(file: FileArgument, json: JsonOption = False) -> None:
    """Write all that the store holds to a new file, as it is at one moment; others may go on working meanwhile."""
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store.backup import back_up
    from kitbuilder.store.database import open_store

    store = open_store(_address())
    try:
        rows = back_up(store, file)
    finally:
        store.close()
    text = f"{rows} rows are in {file}."
    if json:
        write_json(Done("kitbuilder.done/1", (), text, rows))
    else:
        write(f"{text}\n")


@app.command(
    epilog="To move to PostgreSQL: back up, name the database as store in kitbuilder.toml, restore.\n\n"
    "Example: kitbuilder store restore monday.db")
def restore(file: FileArgument, json: JsonOption = False) -> None:
    """Put a back-up into the store of the settings, which must be new: all of it, audited first, or nothing."""
    from kitbuilder.model.workshop_listing import Done
    from kitbuilder.store import backup as backups
    from kitbuilder.store.database import open_store

    store = open_store(_address())
    try:
        rows = backups.restore(file, store)
    finally:
        store.close()
    text = f"{rows} rows are back."
    if json:
        write_json(Done("kitbuilder.done/1", (), text, rows))
    else:
        write(f"{text}\n")


def _address() -> str:
    settings = settings_here()
    if settings.store is None:
        raise WrongUse('There is no store; add store = "workshop.db" to kitbuilder.toml.')
    return settings.store
