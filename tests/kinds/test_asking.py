"""Requirements of the new kinds, from the files of a catalogue to what satisfies them."""

import pytest

from kitbuilder.catalogue.columns import ITEM_COLUMNS
from kitbuilder.kinds import KINDS, PROPERTIES, acceptable, satisfies
from kitbuilder.model.catalogue import Item, Requirement
from tests.catalogue.good_files import changed, content_of, faults_of

REQUIREMENTS, ITEMS = "requirements.toml", "items.csv"
FUSE = 'kind = "blade fuse"\nbody = "medium"\nrating = 15\nvoltage.min = 32\n'


def asking(keys: str) -> dict[str, str]:
    """The good catalogue with another requirement behind its own."""
    return changed((REQUIREMENTS, FUSE, f'{FUSE}\n[requirements.other]\ntitle = "Other"\n{keys}'))


@pytest.mark.parametrize(("keys", "equal", "least", "most"), [
    ('kind = "glycol brake fluid"\nboiling-dry.min = 230\nboiling-wet.min = "155 °C"\n', {},
     {"boiling-dry": "230", "boiling-wet": "155"}, {}),
    ('kind = "glycol brake fluid"\ngrade = "dot 5.1"\nclass = "ISO 4925 class 6"\n', {"grade": "DOT 5.1", "class": "6"},
     {}, {}),
    ('kind = "gear oil"\ncold150.max = -40\nkv100 = { min = 13.5, max = 18.0 }\n', {}, {"kv100": "13.5"},
     {"cold150": "-40", "kv100": "18"}),
    ('kind = "sealant"\nbase = "Anaerobic"\ncure.max = "1 h"\n', {"base": "anaerobic"}, {}, {"cure": "60"}),
    ('kind = "thread tap"\nthread = "M14"\n', {"thread": "M14x2"}, {}, {}),
    ('kind = "sealing ring"\nthread = "M14x1.5"\nmaterial = "Cu"\n', {"thread": "M14x1.5", "material": "copper"},
     {}, {}),
    ('kind = "engine oil"\ngrade = "15w40"\nlisted = ["X 1"]\n', {"grade": "15W-40"}, {}, {}),
    ('kind = "mineral brake fluid"\nclaimed = ["X 2"]\n', {}, {}, {}),
])
def test_a_requirement_reads_to_canonical_forms(keys, equal, least, most):
    one = content_of(asking(keys)).requirements["other"]
    assert (one.equal, one.least, one.most) == (equal, least, most)


@pytest.mark.parametrize(("keys", "column", "words"), [
    ('kind = "glycol brake fluid"\ngrade = "DOT 5"\n', "grade", ("silicone brake fluid, another kind",)),
    ('kind = "glycol brake fluid"\ngrade.min = "DOT 4"\n', "grade", ("a value; no grade is more than another",)),
    ('kind = "glycol brake fluid"\nboiling-dry.max = 230\n', "boiling-dry", ("a value, or boiling-dry.min",)),
    ('kind = "sealant"\ncure.min = 30\n', "cure", ("a value, or cure.max",)),
    ('kind = "gear oil"\nkv100.least = 3\n', "kv100", ("a value, or kv100.min, or kv100.max",)),
    ('kind = "gear oil"\nkv100 = { min = 20, max = 10 }\n', "kv100", ("kv100.min no more than kv100.max",)),
    ('kind = "gear oil"\ncold150.max = "cold"\n', "cold150.max", ("a number of °C, such as -40",)),
    ('kind = "thread tap"\nthread = "M13"\n', "thread", ("next to M13",)),
    ('kind = "blade fuse"\ncolour = "red"\n', "colour", ("a key",)),
])
def test_a_fault_in_a_requirement_is_told(keys, column, words):
    faults = faults_of(asking(keys))
    assert [one.column for one in faults] == [f"requirements.other.{column}"], faults
    assert all(word in faults[0].expected for word in words), faults[0].expected


def test_a_fuse_s_colour_may_be_told_but_not_asked():
    sheet = changed()[ITEMS]
    head, _, rest = sheet.partition("\n")
    rows = [row + (";colour" if not at else ";red" if row.startswith("F-1;") else ";")
            for at, row in enumerate([head, *rest.splitlines()])]
    files = changed() | {ITEMS: "\n".join(rows) + "\n"}
    assert content_of(files).items["F-1"].properties["colour"] == "red"


def test_no_property_is_named_like_another_column_of_items():
    own = {"number", "name", "unit", "rank", "kind", "codes", "listed", "claimed", "note", "weight", "ports"}
    assert not own & set(PROPERTIES)
    assert own | set(PROPERTIES) == ITEM_COLUMNS


def test_every_property_that_is_compared_reads_numbers():
    for kind in KINDS.values():
        for name, one in kind.properties.items():
            if one.ordered or one.capped:
                assert one.read("20") == one.read("20.0") == "20", name


@pytest.mark.parametrize(("figure", "limit", "yes"), [
    ("-42", "-40", True), ("-40", "-40", True), ("-39.9", "-40", False), ("5", "-40", False), ("-100", "-40", True)])
def test_at_most_is_compared_as_numbers(figure, limit, yes):
    oil = Item("A", "Oil", "L", kind="gear oil", properties={"cold150": figure})
    assert satisfies(oil, Requirement("x", "x", "gear oil", most={"cold150": limit})) is yes


def test_a_figure_that_an_item_lacks_is_not_at_most_anything():
    asked = Requirement("x", "x", "sealant", most={"cure": "100000"})
    assert not satisfies(Item("A", "Sealant", "each", kind="sealant"), asked)


def test_what_a_seller_claims_is_apart_from_what_a_maker_lists():
    oils = [Item("A", "Oil", "L", kind="automatic transmission fluid", listed=("X 1",)),
            Item("B", "Oil", "L", kind="automatic transmission fluid", claimed=("X 1",)),
            Item("C", "Oil", "L", kind="gear oil", listed=("X 1",))]
    listed = Requirement("x", "x", "automatic transmission fluid", listed=("X 1",))
    claimed = Requirement("x", "x", "automatic transmission fluid", claimed=("X 1",))
    assert acceptable(listed, oils) == {"volume": ("A",)}
    assert acceptable(claimed, oils) == {"volume": ("A", "B")}


def test_no_kind_stands_in_for_another():
    for asked in KINDS:
        bare = Requirement("x", "x", asked)
        assert [kind for kind in KINDS if satisfies(Item("A", "x", "L", kind=kind), bare)] == [asked]
