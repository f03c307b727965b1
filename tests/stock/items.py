"""Items for tests, with what a test says of them."""

from kitbuilder.model.catalogue import Item


def item(number: str, unit: str = "each", codes: tuple[str, ...] = ()) -> Item:
    """An item with nothing else told of it."""
    return Item(number=number, name=f"the {number}", unit=unit, codes=codes)
