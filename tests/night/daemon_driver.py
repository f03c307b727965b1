"""A daemon of its own whose runs are told by files: `python -m tests.night.daemon_driver FOLDER SECONDS HOW …`.

Each run writes `begun N`; then by the N-th HOW: `ok` it ends, `fails` it says that it couldn't, `raises` it raises,
`waits` it ends once the file `go` is there. A run that ended well writes `ended N`. The trigger fires every SECONDS
seconds (0: in a year).
"""

import sys
import time
from datetime import UTC, date, datetime
from pathlib import Path
from typing import Any

from kitbuilder.calendar.reading import read_sites
from kitbuilder.calendar.site import Site
from kitbuilder.night import daemon
from tests.night.shop import SITE

folder, seconds, hows = Path(sys.argv[1]), float(sys.argv[2]), sys.argv[3:]
going: list[int] = []


def run(site: Site, day: date) -> bool:
    """One run."""
    number = len(list(folder.glob("begun *"))) + 1
    (folder / f"begun {number}").write_text(site.name, "utf-8")
    assert not going, "two runs at a time"
    going.append(number)
    how = hows[min(number, len(hows)) - 1]
    try:
        if how == "fails":
            return False
        if how == "raises":
            raise RuntimeError("out of the blue")
        while how == "waits" and not (folder / "go").exists():
            time.sleep(0.02)
    finally:
        going.pop()
    (folder / f"ended {number}").write_text(site.name, "utf-8")
    return True


def done_since(site: Site, day: date, due: datetime) -> bool:
    """Whether a run of the site ended well; where it fires every so often, since it last fired."""
    ended = [path.stat().st_mtime for path in folder.glob("ended *") if path.read_text("utf-8") == site.name]
    return bool(ended) and (not seconds or time.time() - max(ended) < seconds / 2)


def trigger(site: Site) -> Any:
    """Fires every so often."""
    from apscheduler.triggers.interval import IntervalTrigger

    return IntervalTrigger(days=365) if not seconds else IntervalTrigger(seconds=seconds)


def main() -> None:
    """Serve."""
    import tomllib

    text = "\n".join(SITE.format(name=name, zone="Europe/London") for name in ("marl", "tarn"))
    sites = read_sites("", tomllib.loads(text)["sites"])
    daemon.serve(sites, folder / "lock", lambda: datetime.now(UTC), done_since, run,
                 lambda text: print(text, flush=True), trigger, 0.2)


if __name__ == "__main__":
    main()
