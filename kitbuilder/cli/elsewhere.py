"""What goods-in tells a source whose stock is kept elsewhere."""

from typing import TYPE_CHECKING, NamedTuple

from kitbuilder.cli.place import Place
from kitbuilder.errors import StoreRefuses

if TYPE_CHECKING:
    from kitbuilder.plugins import Plugins


class There(NamedTuple):
    """A source that goods come from: whether it is told what was taken from it, or why it can't be (""), and how."""

    source: str
    told: bool
    why: str
    plugins: "Plugins"


def there_of(place: Place, source: str) -> There:
    """The source of a name."""
    from kitbuilder.plugins import load_plugins
    from kitbuilder.stock.issuing import issuer

    plugins = load_plugins()
    found = issuer(place.settings, plugins, place.edition.heading.currency, source)
    return There(source, not isinstance(found, str), found if isinstance(found, str) else "", plugins)


def issued_there(place: Place, there: There, order: int, person: str) -> list[str]:
    """Tell the source what was taken for an order; what isn't issued there, in sentences."""
    from kitbuilder.stock.issuing import not_issued, tell

    if there.why:
        return [f"{there.source} can't be told what was taken ({there.why}): issue it there by hand."]
    if not there.told:
        return []
    try:
        left = tell(place.store, place.settings, there.plugins, place.edition.heading.currency, person, place.now,
                    [order])
    except StoreRefuses:
        return [f"{there.source} isn't told yet, as another process tells just now. The next run does."]
    return [f"{there.source}: {not_issued(row)}" for row in left]
