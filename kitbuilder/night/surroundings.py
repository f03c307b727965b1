"""What a run works with."""

from collections.abc import Callable
from datetime import datetime
from pathlib import Path
from typing import NamedTuple

from kitbuilder.calendar.site import Site
from kitbuilder.catalogue.edition import Edition
from kitbuilder.plugins import Plugins
from kitbuilder.settings import Settings
from kitbuilder.store.database import Store


class Surroundings(NamedTuple):
    """What a run works with; the clock and everything outside are passed in. `sites`: the names of all sites.
    `after` is told each step that is done."""

    settings: Settings
    plugins: Plugins
    edition: Edition
    store: Store
    site: Site
    documents: Path
    now: datetime
    sites: tuple[str, ...] = ()
    after: Callable[[str], None] = lambda _: None
    cache: Path | None = None
