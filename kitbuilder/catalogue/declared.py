"""Reads the short files: catalogue.toml, requirements.toml and cautions.toml."""

from decimal import Decimal

from kitbuilder.catalogue.toml import Keys
from kitbuilder.kinds import KINDS, PROPERTIES
from kitbuilder.model.catalogue import Caution, Requirement


def read_heading(keys: Keys) -> tuple[str, str]:
    """The catalogue's name and currency."""
    keys.only("name", "format", "currency")
    number = keys.raw("format")
    if (isinstance(number, bool) or number != 1) and not keys.excused("format"):
        keys.fault("format", number, "format = 1, the only one there is")
    currency = keys.text("currency")
    if currency and not (len(currency) == 3 and currency.isascii() and currency.isalpha() and currency.isupper()):
        keys.fault("currency", currency, "a currency of ISO 4217, such as EUR")
    return keys.text("name"), currency


def read_cautions(keys: Keys) -> dict[str, Caution]:
    """Cautions by name."""
    keys.only("cautions")
    found = {}
    for one in keys.tables("cautions", "caution"):
        one.only("text")
        found[one.name] = Caution(one.name, one.text("text"))
    return found


def read_requirements(keys: Keys) -> dict[str, Requirement]:
    """Requirements by name, their properties in canonical form."""
    keys.only("requirements")
    found = {}
    for one in keys.tables("requirements", "requirement"):
        requirement = _read_requirement(one)
        if requirement is None:
            keys.faults.broken.add(("requirement", one.name))
        else:
            found[one.name] = requirement
    return found


def _read_requirement(keys: Keys) -> Requirement | None:
    kind = KINDS.get(str(keys.raw("kind")))
    keys.only("title", "kind", *(kind.properties if kind else PROPERTIES), "listed", "claimed")
    name, title = keys.choice("kind", list(KINDS)), keys.text("title")
    listed, claimed = _specifications(keys, "listed"), _specifications(keys, "claimed")
    if kind is None or name is None:
        return None
    equal: dict[str, str] = {}
    least: dict[str, str] = {}
    for one in kind.properties:
        if keys.has(one):
            _read_property(keys, name, one, equal, least)
    if wrong := kind.together(equal):
        keys.fault(wrong[0], keys.raw(wrong[0]), wrong[1])
    return Requirement(keys.name, title, name, equal, least, listed, claimed)


def _read_property(keys: Keys, kind: str, name: str, equal: dict[str, str], least: dict[str, str]) -> None:
    known = KINDS[kind].properties[name]
    value = keys.raw(name)
    target, where = equal, [name]
    if isinstance(value, dict):
        target = least
        if set(value) != {"min"} or not known.ordered:
            least_of = f", or {name}.min" if known.ordered else f"; no {name} is more than another"
            keys.fault(name, value, f"a value{least_of}")
            return
        value, where = value["min"], [name, "min"]
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        keys.fault(tuple(where), value, "a text or a number")
        return
    try:
        target[name] = known.read(f"{value:f}" if isinstance(value, Decimal) else str(value))
    except ValueError as error:
        keys.fault(tuple(where), value, str(error))


def _specifications(keys: Keys, key: str) -> tuple[str, ...]:
    names = keys.names(key)
    for name in names:
        if "and" in name.split():
            keys.fault(key, name, "names without the word 'and', which parts them in the sheets")
    return names
