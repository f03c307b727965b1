"""Hazards as a safety data sheet names them: GHS pictograms, signal words, hazard statements (CLP).

Regulation (EC) No 1272/2008: pictograms of Annex V, statements of Annex III, order of precedence of Article 26. They
belong to a product's safety data sheet and its revision, and are copied from it; nothing here works them out from
what kind of thing an item is. Statements that depend on a name or an organ are given without it.
"""

import re
from collections.abc import Collection, Sequence
from typing import Final

from kitbuilder.errors import one_of

PICTOGRAMS: Final = {
    "GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle", "GHS04": "gas cylinder",
    "GHS05": "corrosion", "GHS06": "skull and crossbones", "GHS07": "exclamation mark", "GHS08": "health hazard",
    "GHS09": "environment",
}
SIGNALS: Final = ("danger", "warning")

_PHYSICAL: Final = {
    "H200": "Unstable explosives.",
    "H201": "Explosive; mass explosion hazard.",
    "H202": "Explosive, severe projection hazard.",
    "H203": "Explosive; fire, blast or projection hazard.",
    "H204": "Fire or projection hazard.",
    "H205": "May mass explode in fire.",
    "H206": "Fire, blast or projection hazard; increased risk of explosion if desensitising agent is reduced.",
    "H207": "Fire or projection hazard; increased risk of explosion if desensitising agent is reduced.",
    "H208": "Fire hazard; increased risk of explosion if desensitising agent is reduced.",
    "H220": "Extremely flammable gas.",
    "H221": "Flammable gas.",
    "H222": "Extremely flammable aerosol.",
    "H223": "Flammable aerosol.",
    "H224": "Extremely flammable liquid and vapour.",
    "H225": "Highly flammable liquid and vapour.",
    "H226": "Flammable liquid and vapour.",
    "H228": "Flammable solid.",
    "H229": "Pressurised container: May burst if heated.",
    "H230": "May react explosively even in the absence of air.",
    "H231": "May react explosively even in the absence of air at elevated pressure and/or temperature.",
    "H232": "May ignite spontaneously if exposed to air.",
    "H240": "Heating may cause an explosion.",
    "H241": "Heating may cause a fire or explosion.",
    "H242": "Heating may cause a fire.",
    "H250": "Catches fire spontaneously if exposed to air.",
    "H251": "Self-heating: may catch fire.",
    "H252": "Self-heating in large quantities; may catch fire.",
    "H260": "In contact with water releases flammable gases which may ignite spontaneously.",
    "H261": "In contact with water releases flammable gases.",
    "H270": "May cause or intensify fire; oxidiser.",
    "H271": "May cause fire or explosion; strong oxidiser.",
    "H272": "May intensify fire; oxidiser.",
    "H280": "Contains gas under pressure; may explode if heated.",
    "H281": "Contains refrigerated gas; may cause cryogenic burns or injury.",
    "H290": "May be corrosive to metals.",
}
_HEALTH: Final = {
    "H300": "Fatal if swallowed.",
    "H301": "Toxic if swallowed.",
    "H302": "Harmful if swallowed.",
    "H304": "May be fatal if swallowed and enters airways.",
    "H310": "Fatal in contact with skin.",
    "H311": "Toxic in contact with skin.",
    "H312": "Harmful in contact with skin.",
    "H314": "Causes severe skin burns and eye damage.",
    "H315": "Causes skin irritation.",
    "H317": "May cause an allergic skin reaction.",
    "H318": "Causes serious eye damage.",
    "H319": "Causes serious eye irritation.",
    "H330": "Fatal if inhaled.",
    "H331": "Toxic if inhaled.",
    "H332": "Harmful if inhaled.",
    "H334": "May cause allergy or asthma symptoms or breathing difficulties if inhaled.",
    "H335": "May cause respiratory irritation.",
    "H336": "May cause drowsiness or dizziness.",
    "H340": "May cause genetic defects.",
    "H341": "Suspected of causing genetic defects.",
    "H350": "May cause cancer.",
    "H350i": "May cause cancer by inhalation.",
    "H351": "Suspected of causing cancer.",
    "H360": "May damage fertility or the unborn child.",
    "H360F": "May damage fertility.",
    "H360D": "May damage the unborn child.",
    "H360FD": "May damage fertility. May damage the unborn child.",
    "H360Fd": "May damage fertility. Suspected of damaging the unborn child.",
    "H360Df": "May damage the unborn child. Suspected of damaging fertility.",
    "H361": "Suspected of damaging fertility or the unborn child.",
    "H361f": "Suspected of damaging fertility.",
    "H361d": "Suspected of damaging the unborn child.",
    "H361fd": "Suspected of damaging fertility. Suspected of damaging the unborn child.",
    "H362": "May cause harm to breast-fed children.",
    "H370": "Causes damage to organs.",
    "H371": "May cause damage to organs.",
    "H372": "Causes damage to organs through prolonged or repeated exposure.",
    "H373": "May cause damage to organs through prolonged or repeated exposure.",
}
_ENVIRONMENT: Final = {
    "H400": "Very toxic to aquatic life.",
    "H410": "Very toxic to aquatic life with long lasting effects.",
    "H411": "Toxic to aquatic life with long lasting effects.",
    "H412": "Harmful to aquatic life with long lasting effects.",
    "H413": "May cause long lasting harmful effects to aquatic life.",
    "H420": "Harms public health and the environment by destroying ozone in the upper atmosphere.",
}
_SUPPLEMENTAL: Final = {
    "EUH001": "Explosive when dry.",
    "EUH006": "Explosive with or without contact with air.",
    "EUH014": "Reacts violently with water.",
    "EUH018": "In use may form flammable/explosive vapour-air mixture.",
    "EUH019": "May form explosive peroxides.",
    "EUH029": "Contact with water liberates toxic gas.",
    "EUH031": "Contact with acids liberates toxic gas.",
    "EUH032": "Contact with acids liberates very toxic gas.",
    "EUH044": "Risk of explosion if heated under confinement.",
    "EUH066": "Repeated exposure may cause skin dryness or cracking.",
    "EUH070": "Toxic by eye contact.",
    "EUH071": "Corrosive to the respiratory tract.",
    "EUH201": "Contains lead. Should not be used on surfaces liable to be chewed or sucked by children.",
    "EUH201A": "Warning! Contains lead.",
    "EUH202": "Cyanoacrylate. Danger. Bonds skin and eyes in seconds. Keep out of the reach of children.",
    "EUH203": "Contains chromium (VI). May produce an allergic reaction.",
    "EUH204": "Contains isocyanates. May produce an allergic reaction.",
    "EUH205": "Contains epoxy constituents. May produce an allergic reaction.",
    "EUH206": "Warning! Do not use together with other products. May release dangerous gases (chlorine).",
    "EUH207": "Warning! Contains cadmium. Dangerous fumes are formed during use. See information supplied by the "
              "manufacturer. Comply with the safety instructions.",
    "EUH208": "Contains a sensitising substance. May produce an allergic reaction.",
    "EUH209": "Can become highly flammable in use.",
    "EUH209A": "Can become flammable in use.",
    "EUH210": "Safety data sheet available on request.",
    "EUH211": "Warning! Hazardous respirable droplets may be formed when sprayed. Do not breathe spray or mist.",
    "EUH212": "Warning! Hazardous respirable dust may be formed when used. Do not breathe dust.",
    "EUH380": "May cause endocrine disruption in humans.",
    "EUH381": "Suspected of causing endocrine disruption in humans.",
    "EUH401": "To avoid risks to human health and the environment, comply with the instructions for use.",
    "EUH430": "May cause endocrine disruption in the environment.",
    "EUH431": "Suspected of causing endocrine disruption in the environment.",
    "EUH440": "Accumulates in the environment and living organisms including in humans.",
    "EUH441": "Strongly accumulates in the environment and living organisms including in humans.",
    "EUH450": "Can cause long-lasting and diffuse contamination of water resources.",
    "EUH451": "Can cause very long-lasting and diffuse contamination of water resources.",
}
#: Ways of uptake that one statement may name together (`H302+H312`).
_TOGETHER: Final = tuple(
    "+".join(ways) for level in "012" for ways in (
        (f"H30{level}", f"H31{level}"), (f"H30{level}", f"H33{level}"), (f"H31{level}", f"H33{level}"),
        (f"H30{level}", f"H31{level}", f"H33{level}")))
STATEMENTS: Final = {**_PHYSICAL, **_HEALTH, **_ENVIRONMENT, **_SUPPLEMENTAL}

#: Statements for which the exclamation mark stands (Annex I), those of irritation and of skin sensitisation apart.
_IRRITATION: Final = frozenset({"H315", "H319"})
_SENSITISATION: Final = frozenset({"H317"})
_EXCLAMATION: Final = _IRRITATION | _SENSITISATION | {"H302", "H312", "H332", "H335", "H336", "H420"}


def read_pictogram(text: str) -> str:
    """The code of a pictogram in its one form (`GHS02`, also from `ghs 2`); ValueError says what was expected."""
    found = re.fullmatch(r"GHS\s*0?([1-9])", text.strip(), re.IGNORECASE)
    if found is None:
        raise ValueError("a pictogram, GHS01 to GHS09")
    return f"GHS0{found[1]}"


def read_signal(text: str) -> str:
    """The signal word in lower case; ValueError says what was expected."""
    signal = text.strip().lower()
    if signal not in SIGNALS:
        raise ValueError(f"a signal word: {one_of(signal, SIGNALS)}")
    return signal


def read_statement(text: str) -> str:
    """The code of a hazard statement in its one form (`H360FD`, `EUH066`, `H302+H312`).

    Case doesn't matter but in the letters behind H360 and H361, which differ in nothing else. ValueError says what
    was expected.
    """
    code = "+".join(re.sub(r"^(eu)?h\s*", lambda lead: lead[0].strip().upper(), part.strip(), flags=re.IGNORECASE)
                    for part in text.split("+"))
    code = code if code in STATEMENTS or not code.startswith("EUH") else code.upper()
    if code not in STATEMENTS and code not in _TOGETHER:
        meant = next((f"; did you mean {one!r}?" for one in STATEMENTS if one.casefold() == code.casefold()), "")
        raise ValueError(f"a hazard statement of CLP, Annex III, such as H222, EUH066 or H302+H312{meant}")
    return code


def statement_text(code: str) -> str:
    """The words of a statement by its code in its one form; KeyError for another."""
    first, *others = (STATEMENTS[part].rstrip(".") for part in code.split("+"))
    rest = [words.split(" ", 1)[1] for words in others]
    if not rest:
        return f"{first}."
    # Two ways are joined by 'or', of three the first two by a comma, as in Annex III.
    return f"{first}{''.join(f', {words}' for words in rest[:-1])} or {rest[-1]}."


def contradictions(pictograms: Collection[str], statements: Sequence[str]) -> tuple[str, ...]:
    """Where pictograms can't stand together on one label by the order of precedence (CLP, Article 26(1)).

    A sentence each. Codes are in their one form. What depends on more than codes (which pictograms are optional, what
    the classification is) is left to the sheet.
    """
    if "GHS07" not in pictograms:
        return ()
    again = "(CLP, Article 26): look at the safety data sheet again."
    found = [f"GHS07 doesn't stand beside GHS06 {again}"] if "GHS06" in pictograms else []
    for_it = _EXCLAMATION & {part for code in statements for part in code.split("+")}
    told = " and ".join(sorted(for_it))
    if "GHS05" in pictograms and for_it and for_it <= _IRRITATION:
        found.append(f"GHS07 doesn't stand for {told} alone beside GHS05 {again}")
    elif {"GHS08", "H334"} <= {*pictograms, *statements} and for_it and for_it <= _IRRITATION | _SENSITISATION:
        found.append(f"GHS07 doesn't stand for {told} alone beside GHS08 for H334 {again}")
    return tuple(found)
