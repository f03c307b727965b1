"""`kitbuilder night`: the run, its report, and the daemon."""

from datetime import date, timedelta
from typing import Annotated

import msgspec
import typer

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.cli.common import JsonOption, QuietOption, paper, write, write_json
from kitbuilder.cli.place import Place, SiteOption, day_or_none, here
from kitbuilder.errors import WrongUse
from kitbuilder.model.work import Report

app = typer.Typer(rich_markup_mode=None, no_args_is_help=True, help="The night run, its report, and the daemon.")

DayOption = Annotated[
    str | None, typer.Option("--for", metavar="DAY", help="The day, as 2026-03-11; without it, tomorrow at the site.")]


def _day(place: Place, zone: str, text: str | None) -> date:
    told = day_or_none(text, "--for")
    return told.date() if told else to_wall(place.now, zone).date() + timedelta(days=1)


@app.command(epilog="Example: kitbuilder night run --for 2026-03-11")
def run(day: DayOption = None, site: SiteOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """Read the diary, build kits, source, hold, propose orders, write pick lists, report. Exit code 4: a source failed."""
    from kitbuilder.night.run import Surroundings, run_night
    from kitbuilder.plugins import load_plugins
    from kitbuilder.show.workshop import report_text

    place = here()
    plugins = load_plugins()
    chosen = [place.site(site)] if site or len(place.sites) == 1 else list(place.sites.values())
    reports = [
        run_night(Surroundings(place.settings, plugins, place.edition, place.store, one,
                               place.settings.folder / "documents", place.now), _day(place, one.zone, day))
        for one in chosen]
    for answer in reports:
        if json:
            write_json(answer)
        elif not quiet:
            write(report_text(answer, paper()))
    place.store.close()
    failed = any(" failed" in text for answer in reports for text in answer.attention)
    unready = any(row.state in ("needs a person", "not ready") for answer in reports for row in answer.bookings)
    raise typer.Exit(4 if failed else 1 if unready else 0)


@app.command(epilog="Example: kitbuilder night report --for 2026-03-11")
def report(day: DayOption = None, site: SiteOption = None, json: JsonOption = False) -> None:
    """The morning report of the last run: first what needs a person."""
    from kitbuilder.show.workshop import report_text
    from kitbuilder.store import runs

    place = here()
    where = place.site(site)
    last = runs.last_done(place.store, where.name, _day(place, where.zone, day) if day else None)
    if last is None:
        raise WrongUse(f"No run of {where.name}{f' for {day}' if day else ''} is done. Start one: kitbuilder night run.")
    answer = msgspec.json.decode(last.report, type=Report)
    if json:
        write_json(answer)
    else:
        write(report_text(answer, paper()))
    place.store.close()


@app.command(epilog="It stops cleanly on SIGTERM; deploy/ has a unit for the service manager.")
def serve() -> None:
    """Run the night for each site at its hour, until told to stop; a night that was missed is made up for once."""
    import sys
    from datetime import UTC, datetime

    from kitbuilder.errors import KitbuilderError
    from kitbuilder.night import daemon
    from kitbuilder.night.run import Surroundings, run_night
    from kitbuilder.plugins import load_plugins
    from kitbuilder.store import runs

    place = here()

    def clock() -> datetime:
        return place.settings.now or datetime.now(UTC)

    def tell(text: str) -> None:
        print(f"{datetime.now(UTC).isoformat(timespec='seconds')} {text}", file=sys.stderr, flush=True)

    def last_done(site: str) -> date | None:
        last = runs.last_done(place.store, site)
        return last.day if last else None

    def run_site(site: Site, day: date) -> None:
        # the settings, the catalogue and the plug-ins may have changed since the last night
        now_here = here()
        try:
            answer = run_night(
                Surroundings(now_here.settings, load_plugins(), now_here.edition, now_here.store, site,
                             now_here.settings.folder / "documents", clock()), day)
            tell(f"{site.name}: done, {len(answer.bookings)} bookings, {len(answer.attention)} things for a person")
        except KitbuilderError as error:
            tell(f"{site.name}: failed: {error}")
        finally:
            now_here.store.close()

    daemon.serve(place.sites, place.settings.folder / ".kitbuilder-daemon.lock", clock, last_done, run_site, tell)
    place.store.close()
