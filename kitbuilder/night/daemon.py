"""The daemon: runs the night for each site at its hour, one run at a time, and stops cleanly when told to.

Its schedule is rebuilt from the settings at each start; what has been done it knows from the store.
"""

import fcntl
import os
import signal
import threading
from collections.abc import Callable, Mapping
from datetime import date, datetime, timedelta
from pathlib import Path
from typing import IO

from kitbuilder.calendar.site import Site
from kitbuilder.calendar.wall import to_wall
from kitbuilder.errors import StoreRefuses

#: The hour at the site at which the night runs: after the clocks have changed, where they do.
HOUR = 4
#: A run that couldn't start at its hour (the machine slept, another run went on) is still made within this time.
GRACE_S = 12 * 3600


def newest_due(site: Site, now: datetime) -> date:
    """The day that the newest run is for whose hour has come at the site: the night runs for the day that begins."""
    wall = to_wall(now, site.zone)
    return wall.date() if wall.hour >= HOUR else wall.date() - timedelta(days=1)


def serve(sites: Mapping[str, Site], lock: Path, clock: Callable[[], datetime], last_done: Callable[[str], date | None],
          run: Callable[[Site, date], None], tell: Callable[[str], None]) -> None:
    """Serve until SIGTERM or SIGINT; a run that goes on then is finished first.

    `last_done`: the day of a site's last run that is done; `run` does one and raises nothing; `tell` is told what
    happens. A night missed while nothing served is made up for once, at the start. Raises StoreRefuses if another
    daemon serves this workshop already.
    """
    from apscheduler.executors.pool import ThreadPoolExecutor
    from apscheduler.schedulers.background import BackgroundScheduler
    from apscheduler.triggers.cron import CronTrigger

    held = _only_one(lock)
    stop = threading.Event()
    for number in (signal.SIGTERM, signal.SIGINT):
        signal.signal(number, lambda *_: stop.set())
    scheduler = BackgroundScheduler(
        executors={"default": ThreadPoolExecutor(1)},
        job_defaults={"coalesce": True, "max_instances": 1, "misfire_grace_time": GRACE_S}, timezone="UTC")

    def night(site: Site) -> None:
        day = newest_due(site, clock())
        if last_done(site.name) == day:
            tell(f"{site.name}: the run for {day} is done already")
            return
        tell(f"{site.name}: running for {day}")
        run(site, day)

    for site in sites.values():
        scheduler.add_job(night, CronTrigger(hour=HOUR, timezone=site.zone), args=[site], id=site.name)
        done = last_done(site.name)
        if done is None or done < newest_due(site, clock()):
            scheduler.add_job(night, args=[site], id=f"{site.name} made up for")
    scheduler.start()
    for job in scheduler.get_jobs():
        tell(f"{job.id}: next at {job.next_run_time.isoformat()}")
    stop.wait()
    tell("stopping; a run that goes on is finished first")
    scheduler.shutdown(wait=True)
    held.close()
    tell("stopped")


def _only_one(lock: Path) -> IO[str]:
    """Hold the lock of this workshop's daemon; the system lets it go when the process ends, however it does."""
    lock.parent.mkdir(parents=True, exist_ok=True)
    file = open(lock, "a+", encoding="utf-8")  # noqa: SIM115 - it is held as long as the daemon serves
    try:
        fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        file.seek(0)
        other = file.read().strip()
        file.close()
        raise StoreRefuses(f"Another daemon serves this workshop already (process {other}).") from None
    file.truncate(0)
    file.write(str(os.getpid()))
    file.flush()
    return file
