"""What commands share: their options, opening the catalogue, putting statements together, writing answers."""

import os
import sys
from collections.abc import Iterable, Mapping, Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from kitbuilder.catalogue.cache import open_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.errors import WrongUse, offered
from kitbuilder.settings import Settings, catalogue_folder, find_settings
from kitbuilder.show.paper import Paper, terminal_width
from kitbuilder.vehicle.statements import SEEN, TOLD, Statement

if TYPE_CHECKING:
    from kitbuilder.hooks import ShelfView

CatalogueOption = Annotated[
    Path | None, typer.Option("--catalogue", metavar="DIR", help="The catalogue's folder, if not the settings' one.")]
JsonOption = Annotated[bool, typer.Option("--json", help="Answer with one JSON object.")]
QuietOption = Annotated[bool, typer.Option("--quiet", help="Only the answer: no hints, no advice.")]


def complete_jobs(incomplete: str) -> list[tuple[str, str]]:
    """Job types that begin so, for the shell's completion."""
    jobs = _for_completion()
    return [(name, title) for name, title, _ in (jobs.heading.jobs if jobs else ()) if name.startswith(incomplete)]


def complete_facts(incomplete: str) -> list[str]:
    """`fact=value` pairs that begin so, for the shell's completion."""
    edition = _for_completion()
    found: list[str] = []
    for fact in edition.facts if edition else ():
        if "=" in incomplete:
            found += [f"{fact.name}={word}" for word in (*fact.values, *fact.groups)]
        else:
            found.append(f"{fact.name}=")
    return [word for word in found if word.startswith(incomplete)]


def _for_completion() -> Edition | None:
    try:
        return opened(find_settings(Path.cwd()), None)
    except Exception:  # a completion that fails offers nothing; the command itself will say what is wrong
        return None


def _text(word: str) -> str:
    """A word whose bytes are no text gets question marks, as on the screen; it then is an unknown name like others."""
    return word.encode("utf-8", "replace").decode("utf-8")


def as_texts(words: list[str]) -> list[str]:
    """The same for several words."""
    return [_text(word) for word in words]


JobArgument = Annotated[
    str, typer.Argument(metavar="JOB", help="A job type; `kitbuilder jobs` lists them.", callback=_text,
                        autocompletion=complete_jobs)]
FactOption = Annotated[
    list[str] | None,
    typer.Option("--fact", metavar="NAME=VALUE", help="Something told of the vehicle or the job; may be repeated.",
                 autocompletion=complete_facts)]
SeenOption = Annotated[
    list[str] | None,
    typer.Option("--seen", metavar="NAME=VALUE", help="Something seen on the vehicle; it outranks what is told.",
                 autocompletion=complete_facts)]
VehicleOption = Annotated[
    str | None, typer.Option(
        "--vehicle", metavar="REG", help="A registration or a VIN, looked up in the vehicle registers.")]
VinOption = Annotated[
    str | None, typer.Option(
        "--vin", metavar="VIN", help="The VIN: by the catalogue's patterns it tells how the vehicle was built.")]
PlateOption = Annotated[
    list[str] | None, typer.Option(
        "--plate", metavar="COMPONENT=NUMBER",
        help="A number read off a component's type plate, by the catalogue's patterns; may be repeated.")]


def settings_here() -> Settings:
    """The settings that hold in the current folder."""
    return find_settings(Path.cwd())


def cache_folder() -> Path:
    """The user's cache folder for editions."""
    from platformdirs import user_cache_path

    return user_cache_path("kitbuilder", appauthor=False)


def opened(settings: Settings, named: Path | None) -> Edition:
    """The edition to use."""
    return open_edition(catalogue_folder(settings, named), cache_folder())


def clock(settings: Settings) -> datetime:
    """Now: the demo's standing clock, else the machine's. Read once, at this edge."""
    return settings.now or datetime.now(UTC)


def shelf_view(settings: Settings, site: str | None = None) -> "ShelfView | None":
    """The view of the own shelf that sources get: of a site, by default the only one of the settings; where there are
    several, of all. None where the settings name no store. Raises WrongUse for a site that they don't have."""
    names = list(settings.sites) if isinstance(settings.sites, Mapping) else []
    if site is not None and site not in names:
        raise WrongUse(f"There is no site {site!r}. {offered(site, names)}")
    if settings.store is None:
        return None
    from kitbuilder.store.view import StoreShelf

    return StoreShelf(settings.store, site or (names[0] if len(names) == 1 else None), known=names)


def statements(facts: Sequence[str] | None, seen: Sequence[str] | None) -> list[Statement]:
    """Statements from the options. Raises WrongUse for a pair without an equals sign."""
    return [*_pairs(seen, SEEN, "--seen"), *_pairs(facts, TOLD, "--fact")]


def _pairs(texts: Iterable[str] | None, source: str, option: str) -> list[Statement]:
    found = []
    for text in texts or ():
        name, sign, cell = text.partition("=")
        if not sign:
            raise WrongUse(
                f"{option} {text!r} lacks an equals sign. Expected {option} NAME=VALUE, as emissions=\"Euro V\".")
        found.append(Statement(name.strip(), cell.strip(), source))
    return found


def paper() -> Paper:
    """The paper to write on: as wide as the terminal, bold only where it shows."""
    tty = sys.stdout.isatty()
    return Paper(terminal_width(), tty and not os.environ.get("NO_COLOR") and os.environ.get("TERM") != "dumb")


def write(text: str) -> None:
    """Write an answer to standard output, at once."""
    try:
        sys.stdout.write(text)
        sys.stdout.flush()
    except BrokenPipeError:
        # the reader of the pipe has seen enough; the rest goes nowhere, and the exit code says what it would have
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def write_json(value: msgspec.Struct) -> None:
    """Write an answer as one JSON object."""
    write(msgspec.json.format(msgspec.json.encode(value), indent=2).decode() + "\n")


def warn(warnings: Iterable[str]) -> None:
    """Write warnings to standard error; `--quiet` doesn't silence them: an answer that lacks something says so."""
    for text in warnings:
        print("\n".join(Paper(terminal_width()).wrap(f"warning: {text}")), file=sys.stderr)


def group_names(edition: Edition) -> dict[str, dict[tuple[str, ...], str]]:
    """For each fact, the names of its groups by their cells."""
    return {
        fact.name: {tuple(fact.cells(values)): name for name, values in reversed(fact.groups.items())}
        for fact in edition.facts
    }
