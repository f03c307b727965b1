"""Brake fluids: grades of FMVSS 116, classes of ISO 4925, their least boiling points.

Sources, and how sure.

- FMVSS 116 (49 CFR 571.116), S5.1.1 (dry) and S5.1.2 (wet). Seen, primary: a reading of the standard by the authority
  that made it (NHTSA interpretation 12089.MLS, 24 July 1996): the wet boiling point of DOT 4 must not be less than
  311 °F. Seen, secondary: a fluid's data sheet that quotes both paragraphs for DOT 4 (230 °C [446 °F], 155 °C
  [311 °F]); an oil seller's page and a copy of an encyclopedia article for DOT 3, 4 and 5 in both units. The table of
  the standard itself was not seen. Figures in °F beside it: those of the standard, so each is a second copy.
- DOT 5 against DOT 5.1. Seen: a page that quotes the standard's definition (DOT 5 is silicone-based, 70 % or more by
  weight of a diorgano polysiloxane; DOT 5.1 is glycol-based), and the oil seller's page (the same boiling points).
- Colours. Seen, primary: NHTSA interpretation nht80-4.11, 20 October 1980, which quotes S5.1.14: DOT 5 purple; DOT 3
  and DOT 4 colourless to amber; hydraulic system mineral oil green. So that nobody mixes them.
- ISO 4925: that it has classes 3, 4, 5-1 and 6, and since 2020 class 7. Seen: pages on fluids; the catalogue entry of
  the edition of 2020. Boiling points of classes 6 and 7: from memory; those of 3, 4 and 5-1 are those of DOT 3, 4 and
  5.1 (from memory, too).
- A fluid of DOT 4 may be of class 4 or of class 6. Seen: sellers' lists.
- Copies that are wrong: an old copy of an encyclopedia article gives DOT 5.1 as 270/191; a table on the web has 205
  dry for DOT 4.
"""

#: Grade: (dry, wet) in °C, and the same in °F.
GRADES: dict[str, tuple[tuple[int, int], tuple[int, int]]] = {
    "DOT 3": ((205, 140), (401, 284)),
    "DOT 4": ((230, 155), (446, 311)),
    "DOT 5": ((260, 180), (500, 356)),
    "DOT 5.1": ((260, 180), (500, 356)),
}
SILICONE: tuple[str, ...] = ("DOT 5",)
#: Class of ISO 4925: (dry, wet) in °C.
CLASSES: dict[str, tuple[int, int]] = {
    "3": (205, 140), "4": (230, 155), "5-1": (260, 180), "6": (250, 165), "7": (260, 180)}
WRONG_COPIES: tuple[tuple[str, tuple[int, int]], ...] = (("DOT 5.1", (270, 191)), ("DOT 4", (205, 155)))

SPELLINGS: tuple[tuple[str, str], ...] = (
    ("DOT 4", "DOT 4"), ("dot4", "DOT 4"), ("DOT-4", "DOT 4"), ("FMVSS 116 DOT 4", "DOT 4"), ("Dot  5.1", "DOT 5.1"),
    ("DOT5.1", "DOT 5.1"), ("dot 3", "DOT 3"),
)
CLASS_SPELLINGS: tuple[tuple[str, str], ...] = (
    ("6", "6"), ("class 6", "6"), ("ISO 4925 Class 6", "6"), ("5.1", "5-1"), ("Class 5-1", "5-1"),
    ("iso4925, class 4", "4"),
)
#: Not grades of the standard: what sellers put behind it or make up.
NO_GRADE: tuple[str, ...] = ("DOT 2", "DOT 6", "DOT 4 LV", "DOT 4+", "Super DOT 4", "DOT 4 plus", "DOT", "4", "")
