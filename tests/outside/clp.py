"""Hazards by CLP (Regulation (EC) No 1272/2008): pictograms, hazard statements, order of precedence.

Sources, and how sure.

- Article 26(1), order of precedence. Seen, primary: the article in its German wording (a copy of the consolidated
  regulation), in Czech and in Slovak; they say the same.
- Statements. Seen: the list of a university (H200 to H319) and a laboratory's (H340 to H373), a customs guide of the
  European Commission (H200 to H340) and a consultant's list "according to the 4th ATP" (H200 to H312); EUH statements:
  a public source file. Of Annex III itself only the heading and the first statements were seen.
- EUH430 and EUH431. Seen, primary: Annex I, Table 4.2.3 (a copy of the consolidated regulation of 1 September 2025).
  EUH380 and EUH381: that they exist and what they are about was seen; their words, and EUH211, EUH212 and EUH440 to
  EUH451, are from memory.
- H206 to H208, H232: codes seen in a Polish list; their words from memory.
- Names of the pictograms: as the authority's guidance calls them (seen in summaries).
- Which statements stand behind GHS07: from memory of Annex I.
"""

PICTOGRAMS: dict[str, str] = {
    "GHS01": "exploding bomb", "GHS02": "flame", "GHS03": "flame over circle", "GHS04": "gas cylinder",
    "GHS05": "corrosion", "GHS06": "skull and crossbones", "GHS07": "exclamation mark", "GHS08": "health hazard",
    "GHS09": "environment",
}
#: Code and words, each seen in one of the lists.
STATEMENTS: dict[str, str] = {
    "H200": "Unstable explosives", "H201": "Explosive; mass explosion hazard",
    "H202": "Explosive, severe projection hazard", "H203": "Explosive; fire, blast or projection hazard",
    "H204": "Fire or projection hazard", "H205": "May mass explode in fire", "H220": "Extremely flammable gas",
    "H221": "Flammable gas", "H222": "Extremely flammable aerosol", "H223": "Flammable aerosol",
    "H224": "Extremely flammable liquid and vapour", "H225": "Highly flammable liquid and vapour",
    "H226": "Flammable liquid and vapour", "H228": "Flammable solid",
    "H229": "Pressurised container: May burst if heated", "H230": "May react explosively even in the absence of air",
    "H231": "May react explosively even in the absence of air at elevated pressure and/or temperature",
    "H240": "Heating may cause an explosion", "H241": "Heating may cause a fire or explosion",
    "H242": "Heating may cause a fire", "H250": "Catches fire spontaneously if exposed to air",
    "H251": "Self-heating: may catch fire", "H252": "Self-heating in large quantities; may catch fire",
    "H260": "In contact with water releases flammable gases which may ignite spontaneously",
    "H261": "In contact with water releases flammable gases", "H270": "May cause or intensify fire; oxidiser",
    "H271": "May cause fire or explosion; strong oxidiser", "H272": "May intensify fire; oxidiser",
    "H280": "Contains gas under pressure; may explode if heated",
    "H281": "Contains refrigerated gas; may cause cryogenic burns or injury", "H290": "May be corrosive to metals",
    "H300": "Fatal if swallowed", "H301": "Toxic if swallowed", "H302": "Harmful if swallowed",
    "H304": "May be fatal if swallowed and enters airways", "H310": "Fatal in contact with skin",
    "H311": "Toxic in contact with skin", "H312": "Harmful in contact with skin",
    "H314": "Causes severe skin burns and eye damage", "H315": "Causes skin irritation",
    "H317": "May cause an allergic skin reaction", "H318": "Causes serious eye damage",
    "H319": "Causes serious eye irritation", "H330": "Fatal if inhaled", "H331": "Toxic if inhaled",
    "H332": "Harmful if inhaled", "H334": "May cause allergy or asthma symptoms or breathing difficulties if inhaled",
    "H335": "May cause respiratory irritation", "H336": "May cause drowsiness or dizziness",
    "H340": "May cause genetic defects", "H341": "Suspected of causing genetic defects", "H350": "May cause cancer",
    "H350i": "May cause cancer by inhalation", "H351": "Suspected of causing cancer", "H360F": "May damage fertility",
    "H360D": "May damage the unborn child", "H360FD": "May damage fertility. May damage the unborn child",
    "H360Fd": "May damage fertility. Suspected of damaging the unborn child",
    "H360Df": "May damage the unborn child. Suspected of damaging fertility",
    "H361f": "Suspected of damaging fertility", "H361d": "Suspected of damaging the unborn child",
    "H361fd": "Suspected of damaging fertility. Suspected of damaging the unborn child",
    "H362": "May cause harm to breast-fed children", "H370": "Causes damage to organs",
    "H371": "May cause damage to organs", "H372": "Causes damage to organs through prolonged or repeated exposure",
    "H373": "May cause damage to organs through prolonged or repeated exposure",
    "EUH001": "Explosive when dry", "EUH014": "Reacts violently with water",
    "EUH018": "In use may form flammable/explosive vapour-air mixture", "EUH019": "May form explosive peroxides",
    "EUH029": "Contact with water liberates toxic gas", "EUH031": "Contact with acids liberates toxic gas",
    "EUH032": "Contact with acids liberates very toxic gas", "EUH044": "Risk of explosion if heated under confinement",
    "EUH066": "Repeated exposure may cause skin dryness or cracking", "EUH070": "Toxic by eye contact",
    "EUH071": "Corrosive to the respiratory tract",
    "EUH204": "Contains isocyanates. May produce an allergic reaction",
    "EUH210": "Safety data sheet available on request",
    "EUH430": "May cause endocrine disruption in the environment",
    "EUH431": "Suspected of causing endocrine disruption in the environment",
}
#: From memory, Annex III.
FROM_MEMORY: dict[str, str] = {
    "H400": "Very toxic to aquatic life", "H410": "Very toxic to aquatic life with long lasting effects",
    "H411": "Toxic to aquatic life with long lasting effects",
    "H412": "Harmful to aquatic life with long lasting effects",
    "H413": "May cause long lasting harmful effects to aquatic life",
    "H302+H312": "Harmful if swallowed or in contact with skin", "H300+H330": "Fatal if swallowed or if inhaled",
    "H301+H311+H331": "Toxic if swallowed, in contact with skin or if inhaled",
    "H310+H330": "Fatal in contact with skin or if inhaled",
}
#: Pictograms, statements, and the letter of Article 26(1) that they break ("" where they break none).
PRECEDENCE: tuple[tuple[tuple[str, ...], tuple[str, ...], str], ...] = (
    (("GHS06", "GHS07"), ("H301", "H315"), "b"),
    (("GHS06",), ("H301", "H315"), ""),
    (("GHS05", "GHS07"), ("H314", "H315"), "c"),
    (("GHS05", "GHS07"), ("H318", "H315"), "c"),
    (("GHS05", "GHS07"), ("H318", "H302"), ""),
    (("GHS05", "GHS07"), ("H318", "H315", "H317"), ""),
    (("GHS02", "GHS07"), ("H222", "H229", "H319", "H336"), ""),
    (("GHS07",), ("H319",), ""),
    (("GHS02", "GHS04"), ("H220", "H280"), ""),
    (("GHS08", "GHS07"), ("H304", "H336"), ""),
    (("GHS08", "GHS07"), ("H334", "H317", "H319"), "d"),
    (("GHS08", "GHS07"), ("H334", "H317", "H335"), ""),
    (("GHS08", "GHS07"), ("H351", "H317"), ""),
)
