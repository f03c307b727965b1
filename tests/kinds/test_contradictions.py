"""What an item's own figures say against what it claims to be, for every kind."""

import pytest

from kitbuilder.kinds import KINDS, contradictions
from kitbuilder.kinds.sealing_ring import read_size
from kitbuilder.model.catalogue import Item

#: Kind, properties as a person writes them, and words of the one sentence against them.
AGAINST = [
    ("gear oil", {"grade": "75w-90", "kv100": "12"}, ("12 mm²/s", "grade 90", "13.5", "18.5", "SAE J306")),
    ("gear oil", {"grade": "250", "kv100": "40.9"}, ("40.9 mm²/s", "grade 250 has 41.0 or more")),
    ("gear oil", {"grade": "85W", "kv100": "10.9"}, ("10.9 mm²/s", "85W needs 11.0 at least")),
    ("gear oil", {"grade": "80W-90", "cold150": "-25"}, ("at -25 °C already", "80W", "-26 °C at the highest")),
    ("engine oil", {"grade": "15W-40", "kv100": "12.4"}, ("12.4 mm²/s", "grade 40", "SAE J300")),
    ("hydraulic fluid", {"grade": "VG 46", "kv40": "51"}, ("51 mm²/s at 40 °C", "VG 46", "41.4 to 50.6", "ISO 3448")),
    ("glycol brake fluid", {"grade": "DOT 4", "boiling-dry": "220"}, ("220 °C dry", "DOT 4 needs 230", "FMVSS 116")),
    ("glycol brake fluid", {"class": "7", "boiling-wet": "170"}, ("170 °C wet", "class 7 needs 180", "ISO 4925")),
    ("glycol brake fluid", {"boiling-dry": "165", "boiling-wet": "240"}, ("higher wet", "exchanged")),
    ("silicone brake fluid", {"grade": "DOT 5", "boiling-wet": "150"}, ("150 °C wet", "DOT 5 needs 180")),
    ("blade fuse", {"body": "medium", "rating": "15", "colour": "red"}, ("red", "15 A is blue", "red is 10 A")),
    ("blade fuse", {"body": "maxi", "rating": "20", "colour": "pink"}, ("pink", "20 A is yellow (ISO 8820-3)")),
    ("sealing ring", {"thread": "M22x1.5", "size": "20x24x1.5"}, ("M22x1.5", "20 mm", "22x27x1.5 (DIN 7603)")),
]


def item(kind: str, properties: dict[str, str]) -> Item:
    return Item("A-1", "Thing", "each", kind=kind,
                properties={name: KINDS[kind].properties[name].read(text) for name, text in properties.items()})


@pytest.mark.parametrize(("kind", "properties", "words"), AGAINST)
def test_a_figure_against_the_claim_is_told_in_one_sentence_with_figures_and_standard(kind, properties, words):
    told = contradictions(item(kind, properties))
    assert len(told) == 1
    assert told[0].startswith("A-1 (Thing): ") and told[0].endswith(".")
    assert all(word in told[0] for word in words), told[0]


@pytest.mark.parametrize(("kind", "properties"), [
    ("gear oil", {"grade": "75W-90", "kv100": "14.5", "cold150": "-42"}),
    ("gear oil", {"kv100": "1"}),
    ("engine oil", {"grade": "15W-40", "kv100": "14"}),
    ("automatic transmission fluid", {"kv100": "7"}),
    ("hydraulic fluid", {"grade": "46", "kv40": "46"}),
    ("glycol brake fluid", {"grade": "DOT 4", "class": "6", "boiling-dry": "265", "boiling-wet": "170"}),
    ("mineral brake fluid", {}),
    ("coolant", {"form": "concentrate"}),
    ("sealant", {"base": "anaerobic", "cure": "24 h"}),
    ("blade fuse", {"body": "maxi", "rating": "50", "colour": "red"}),
    ("blade fuse", {"colour": "red"}),
    ("thread tap", {"thread": "M14x1.5"}),
    ("sealing ring", {"thread": "M14x1.5", "size": "14.2x18x1.5", "material": "Cu"}),
    ("sealing ring", {"size": "14x18x1.5"}),
])
def test_figures_that_agree_or_are_not_there_contradict_nothing(kind, properties):
    assert contradictions(item(kind, properties)) == ()


def test_an_item_without_a_kind_contradicts_nothing():
    assert contradictions(Item("A-1", "Thing", "each")) == ()


@pytest.mark.parametrize(("text", "told"), [
    ("14x18", "inner and outer diameter and thickness in mm, such as 14x18x1.5"),
    ("18x14x1.5", "an inner diameter less than the outer one, and a thickness, such as 14x18x1.5"),
    ("14x18x0", "an inner diameter less than the outer one, and a thickness, such as 14x18x1.5"),
    ("14x18x1,5", "a decimal point: 14x18x1.5"),
])
def test_what_is_no_size_of_a_ring_is_refused(text, told):
    with pytest.raises(ValueError) as refused:
        read_size(text)
    assert str(refused.value) == told


@pytest.mark.parametrize(("kind", "name", "text", "told"), [
    ("sealant", "base", "silicon", "did you mean 'silicone'?"),
    ("sealing ring", "material", "copper ring", "did you mean 'copper'?"),
    ("coolant", "form", "mix", "one of concentrate, ready to use"),
    ("blade fuse", "colour", "grren", "did you mean 'green'?"),
])
def test_an_unknown_name_is_refused_with_the_nearest_or_all(kind, name, text, told):
    with pytest.raises(ValueError) as refused:
        KINDS[kind].properties[name].read(text)
    assert told in str(refused.value)
