"""`kitbuilder night`: the run, its report, and the daemon."""

from datetime import date, datetime, timedelta
from typing import TYPE_CHECKING, Annotated

import msgspec
import typer

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.cli.common import JsonOption, QuietOption, cache_folder, paper, warn, write, write_json
from kitbuilder.cli.place import Place, SiteOption, day_or_none, here
from kitbuilder.errors import KitbuilderError, WrongUse
from kitbuilder.model.work import Report

if TYPE_CHECKING:
    from kitbuilder.night.surroundings import Surroundings

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="The night run, its report, and the daemon.")

DayOption = Annotated[
    str | None, typer.Option("--for", metavar="DAY", help="The day, as 2026-03-11; without it, tomorrow at the site.")]


class Reports(msgspec.Struct, frozen=True):
    """The reports of several sites, as `--json` has them."""

    format: str
    warnings: tuple[str, ...]
    reports: tuple[Report, ...]


def _day(place: Place, zone: str, text: str | None) -> date:
    told = day_or_none(text, "--for")
    return told.date() if told else to_wall(place.now, zone).date() + timedelta(days=1)


def _around(place: Place, site: Site) -> "Surroundings":
    from kitbuilder.night.surroundings import Surroundings
    from kitbuilder.plugins import load_plugins

    return Surroundings(
        place.settings, load_plugins(), place.edition, place.store, site, place.settings.folder / "documents",
        place.now, tuple(place.sites), cache=cache_folder())


def _chosen(place: Place, name: str | None) -> list[Site]:
    return list(place.sites.values()) if name is None else [place.site(name)]


@app.command(epilog="Example: kitbuilder night run --for 2026-03-11")
def run(day: DayOption = None, site: SiteOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Read the diary, build kits, compare, source, hold, propose orders, write pick lists, report.

    Without --site for all sites. Exit code 1: something isn't ready or needs a person; 4: a source, a register or a
    diary failed.
    """
    from kitbuilder.night.run import run_night

    place = here()
    found, failed = [], []
    for one in _chosen(place, site):
        try:
            found.append(run_night(_around(place, one), _day(place, one.zone, day)))
        except KitbuilderError as error:
            failed.append(error)  # the other sites get their run all the same
    place.store.close()
    if found and (json or not quiet):
        _show(found, json)
    else:
        warn(text for answer in found for text in answer.warnings)
    if failed:
        warn(str(error) for error in failed[:-1])
        raise failed[-1]
    raise typer.Exit(_code(found))


@app.command(epilog="Example: kitbuilder night report --for 2026-03-11")
def report(day: DayOption = None, site: SiteOption = None, json: JsonOption = False) -> None:
    """The morning report of the last run: first what needs a person."""
    from kitbuilder.store import runs

    place = here()
    found = []
    for where in _chosen(place, site):
        last = runs.last_done(place.store, where.name, _day(place, where.zone, day) if day else None)
        if last is None:
            of = f" for {day}" if day else ""
            raise WrongUse(f"No run of {where.name}{of} is done. Start one: kitbuilder night run.")
        found.append(msgspec.json.decode(last.report, type=Report))
    place.store.close()
    _show(found, json)


def _show(found: list[Report], json: bool) -> None:
    from kitbuilder.show.workshop import report_text

    if not json:
        write("\n".join(report_text(one, paper()) for one in found))
    elif len(found) == 1:
        write_json(found[0])
    else:
        write_json(Reports("kitbuilder.reports/1", tuple(text for one in found for text in one.warnings), tuple(found)))
    warn(text for answer in found for text in answer.warnings)


def _code(found: list[Report]) -> int:
    if any(answer.warnings for answer in found):
        return 4
    return int(any(row.state in ("needs a person", "not ready") for answer in found for row in answer.bookings))


@app.command(epilog="It stops cleanly on SIGTERM; deploy/ has a unit for the service manager.")
def serve() -> None:
    """Run the night for each site at its hour, until told to stop; a night that was missed is made up for once."""
    import sys
    from datetime import UTC

    from kitbuilder.night import daemon
    from kitbuilder.night.run import run_night
    from kitbuilder.store import runs

    place = here()

    def tell(text: str) -> None:
        print(f"{datetime.now(UTC).isoformat(timespec='seconds')} {text}", file=sys.stderr, flush=True)

    def done_since(site: Site, day: date, due: datetime) -> bool:
        last = runs.last_done(place.store, site.name, day)
        return last is not None and last.now >= due

    def run_site(site: Site, day: date) -> bool:
        try:
            # the settings, the catalogue and the plug-ins may have changed since the last night
            today = here()
        except KitbuilderError as error:
            tell(f"{site.name}: failed: {error}")
            return False
        try:
            answer = run_night(_around(today, today.sites.get(site.name, site)), day)
            tell(f"{site.name}: done, {len(answer.bookings)} bookings, {len(answer.attention)} things for a person")
        except KitbuilderError as error:
            tell(f"{site.name}: failed: {error}")
            return False
        finally:
            today.store.close()
        return True

    daemon.serve(place.sites, place.settings.folder / ".kitbuilder-daemon.lock",
                 lambda: place.settings.now or datetime.now(UTC), done_since, run_site, tell)
    place.store.close()
