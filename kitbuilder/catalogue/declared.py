"""Reads the short files: catalogue.toml, requirements.toml and cautions.toml."""

from decimal import Decimal

from kitbuilder.catalogue.toml import Keys
from kitbuilder.kinds import KINDS, PROPERTIES, Property
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
    asked = [one for one in (kind.properties if kind else PROPERTIES) if not kind or kind.properties[one].asked]
    keys.only("title", "kind", *asked, "listed", "claimed")
    name, title = keys.choice("kind", list(KINDS)), keys.text("title")
    listed, claimed = _specifications(keys, "listed"), _specifications(keys, "claimed")
    if kind is None or name is None:
        return None
    equal: dict[str, str] = {}
    least: dict[str, str] = {}
    most: dict[str, str] = {}
    for one in asked:
        if keys.has(one):
            _read_property(keys, kind.properties[one], one, equal, {"min": least, "max": most})
    if wrong := kind.together(equal):
        keys.fault(wrong[0], keys.raw(wrong[0]), wrong[1])
    for one in set(least) & set(most):
        if Decimal(least[one]) > Decimal(most[one]):
            keys.fault(one, keys.raw(one), f"{one}.min no more than {one}.max")
    return Requirement(keys.name, title, name, equal, least, listed, claimed, most)


def _read_property(keys: Keys, known: Property, name: str, equal: dict[str, str],
                   bounds: dict[str, dict[str, str]]) -> None:
    value = keys.raw(name)
    if not isinstance(value, dict):
        _read_value(keys, known, name, (name,), value, equal)
        return
    allowed = [bound for bound, makes_sense in (("min", known.ordered), ("max", known.capped)) if makes_sense]
    if not value or not set(value) <= set(allowed):
        others = "".join(f", or {name}.{bound}" for bound in allowed) or f"; no {name} is more than another"
        keys.fault(name, value, f"a value{others}")
        return
    for bound, one in value.items():
        _read_value(keys, known, name, (name, bound), one, bounds[bound])


def _read_value(keys: Keys, known: Property, name: str, where: tuple[str, ...], value: object,
                target: dict[str, str]) -> None:
    if isinstance(value, bool) or not isinstance(value, str | int | Decimal):
        keys.fault(where, value, "a text or a number")
        return
    try:
        target[name] = known.read(f"{value:f}" if isinstance(value, Decimal) else str(value))
    except ValueError as error:
        keys.fault(where, value, str(error))


def _specifications(keys: Keys, key: str) -> tuple[str, ...]:
    names = keys.names(key)
    for name in names:
        if "and" in name.split():
            keys.fault(key, name, "names without the word 'and', which parts them in the sheets")
    return names
