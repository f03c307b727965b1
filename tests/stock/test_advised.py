"""What is only advised takes from stock behind all else, and is short for nobody."""

import pytest

from kitbuilder.stock.quoting import short_for_certain, with_stock
from tests.stock.asking import change
from tests.stock.bench import opened, wanting
from tests.stock.test_short import answered, offer


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    return opened(tmp_path_factory.mktemp("bench"))


def told(bench, pool, *advised):
    """A kit of lines of one each of P-1, with what is on the shelf put to them."""
    edition, kit = bench
    kit = wanting(kit, [("1", "each", ["P-1"])] * len(advised))
    kit = change(kit, lines=tuple(
        change(line, advised=True) if one else line for line, one in zip(kit.lines, advised, strict=True)))
    return with_stock(edition, kit, [answered([offer("P-1", pool)])])


def test_it_takes_from_the_shelf_behind_all_else(bench):
    assert [line.short for line in told(bench, 1000, True, False).lines] == ["1", "0"]
    assert [line.short for line in told(bench, 1000, False, False).lines] == ["0", "1"]


def test_it_is_never_what_makes_a_kit_short(bench):
    assert not short_for_certain(told(bench, 1000, True, False))
    assert not short_for_certain(told(bench, 0, True))
    assert short_for_certain(told(bench, 0, True, False))
