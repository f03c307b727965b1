"""The daemon: runs the night for each site at its hour, one run at a time, and stops cleanly when told to.

Its schedule is rebuilt from the settings at each start; what has been done it knows from the store.
"""

import signal
import threading
from collections.abc import Callable, Mapping
from datetime import UTC, date, datetime, time, timedelta
from pathlib import Path
from typing import Any

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_utc, to_wall
from kitbuilder.night.lock import only_one

#: The hour at the site at which the night runs: after the clocks have changed, where they do.
HOUR = 4
#: A run that couldn't start at its hour (the machine slept, another run went on) is still made within this time.
GRACE_S = 12 * 3600
#: A run that failed is tried again after this time, until it is done or the next one is due.
AGAIN_S = 15 * 60


def newest_due(site: Site, now: datetime) -> tuple[date, datetime]:
    """The day that the newest run is for whose hour has come at the site, and when it came (UTC): the night runs for
    the day that begins."""
    wall = to_wall(now, site.zone)
    day = wall.date() if wall.hour >= HOUR else wall.date() - timedelta(days=1)
    return day, to_utc(datetime.combine(day, time(HOUR)), site.zone)


def at_its_hour(site: Site) -> Any:
    """APScheduler's trigger for a site: each day at its hour on the site's clock."""
    from apscheduler.triggers.cron import CronTrigger

    return CronTrigger(hour=HOUR, timezone=site.zone)


def serve(sites: Mapping[str, Site], lock: Path, clock: Callable[[], datetime],
          done_since: Callable[[Site, date, datetime], bool], run: Callable[[Site, date], bool],
          tell: Callable[[str], None], trigger: Callable[[Site], Any] = at_its_hour, again_s: float = AGAIN_S) -> None:
    """Serve until SIGTERM or SIGINT; a run that goes on then is finished first.

    `done_since`: whether a site's run for a day, of that moment or later, is done; `run` does one and says whether it
    could; `tell` is told what happens. A night missed while nothing served is made up for once, at the start; one that
    failed is tried again every `again_s` seconds. Raises StoreRefuses if another daemon serves this workshop.
    """
    with only_one(lock, "Another daemon serves this workshop"):
        _serve(sites, clock, done_since, run, tell, trigger, again_s)


def _serve(sites: Mapping[str, Site], clock: Callable[[], datetime],
           done_since: Callable[[Site, date, datetime], bool], run: Callable[[Site, date], bool],
           tell: Callable[[str], None], trigger: Callable[[Site], Any], again_s: float) -> None:
    from apscheduler.events import EVENT_JOB_MISSED
    from apscheduler.executors.pool import ThreadPoolExecutor
    from apscheduler.schedulers.background import BackgroundScheduler

    stop = threading.Event()
    before = {number: signal.signal(number, lambda *_: stop.set()) for number in (signal.SIGTERM, signal.SIGINT)}
    scheduler = BackgroundScheduler(
        executors={"default": ThreadPoolExecutor(1)},
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": GRACE_S}, timezone="UTC")

    def night(site: Site) -> None:
        try:
            if stop.is_set() or _made(site):
                return
        except Exception as error:  # whatever it is, the next night is another one
            tell(f"{site.name}: a fault of kitbuilder: {type(error).__name__}: {error}")
        if not stop.is_set():
            when = datetime.now(UTC) + timedelta(seconds=again_s)
            scheduler.add_job(night, "date", run_date=when, args=[site], id=f"{site.name} again", replace_existing=True)
            tell(f"{site.name}: tried again at {when.isoformat(timespec='seconds')}")

    def _made(site: Site) -> bool:
        day, due = newest_due(site, clock())
        if done_since(site, day, due):
            tell(f"{site.name}: the run for {day} is done already")
            return True
        # a run that was broken off before its hour is ended first, and isn't the one that is due
        for _ in range(2):
            tell(f"{site.name}: running for {day}")
            if not run(site, day):
                return False
            if done_since(site, day, due):
                return True
        return False

    scheduler.add_listener(
        lambda event: tell(f"{event.job_id}: missed at {event.scheduled_run_time}"), EVENT_JOB_MISSED)
    for site in sites.values():
        scheduler.add_job(night, trigger(site), args=[site], id=site.name)
        if not done_since(site, *newest_due(site, clock())):
            scheduler.add_job(night, args=[site], id=f"{site.name} made up for")
    try:
        scheduler.start()
        for job in scheduler.get_jobs():
            if job.id in sites:
                tell(f"{job.id}: next at {job.next_run_time.isoformat()}")
        stop.wait()
        tell("stopping; a run that goes on is finished first")
        scheduler.shutdown(wait=True)
        tell("stopped")
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
