"""The European List of Waste: codes and their hazard marks.

Sources, and how sure. The Decisions themselves (2000/532/EC, amended by 2014/955/EU) were not seen.

- Codes and marks of chapters 12 to 17. Seen: the German ordinance that enacts the list,
  Verordnung über das Europäische Abfallverzeichnis (AVV) of 10 December 2001, its text as amended in 2012 in a public
  collection of German federal law, copied below group by group. It is law, so primary for what it says; it is older
  than the amendment of 2014.
- What 2014/955/EU changed in these groups: 16 03 07* (metallic mercury) is new. Seen: a copy of the English list in a
  public source file that has it; that nothing else changed here is what comparing the two shows.
- Titles in English: that same copy (secondary). Where the amendment of 2014 changed words ("hazardous substances" for
  "dangerous substances") the copy has the new ones.
- Groups 08 01, 08 04 and chapter 20. Seen: that same copy alone, and for 08 01 17 to 21 and 08 04 09 to 14 a second one
  with the marks as numbers, which agrees. 08 04 17*, rosin oil: from memory.
- Which code common workshop wastes have. Seen: the guidance of a government, "Vehicle and oily wastes: how to
  classify" (gov.uk), its tables.
"""

#: Group: the last pairs of its codes, as the AVV has them.
AVV: dict[str, str] = {
    "12 01": "01 02 03 04 05 06* 07* 08* 09* 10* 12* 13 14* 15 16* 17 18* 19* 20* 21 99",
    "12 03": "01* 02*",
    "13 01": "01* 04* 05* 09* 10* 11* 12* 13*",
    "13 02": "04* 05* 06* 07* 08*",
    "13 03": "01* 06* 07* 08* 09* 10*",
    "13 04": "01* 02* 03*",
    "13 05": "01* 02* 03* 06* 07* 08*",
    "13 07": "01* 02* 03*",
    "13 08": "01* 02* 99*",
    "14 06": "01* 02* 03* 04* 05*",
    "15 01": "01 02 03 04 05 06 07 09 10* 11*",
    "15 02": "02* 03",
    "16 01": "03 04* 06 07* 08* 09* 10* 11* 12 13* 14* 15 16 17 18 19 20 21* 22 99",
    "16 02": "09* 10* 11* 12* 13* 14 15* 16",
    "16 03": "03* 04 05* 06",
    "16 04": "01* 02* 03*",
    "16 05": "04* 05 06* 07* 08* 09",
    "16 06": "01* 02* 03* 04 05 06*",
    "16 07": "08* 09* 99",
    "16 08": "01 02* 03 04 05* 06* 07*",
    "16 09": "01* 02* 03* 04*",
    "16 10": "01* 02 03* 04",
    "16 11": "01* 02 03* 04 05* 06",
    "17 01": "01 02 03 06* 07",
    "17 02": "01 02 03 04*",
    "17 03": "01* 02 03*",
    "17 04": "01 02 03 04 05 06 07 09* 10* 11",
    "17 05": "03* 04 05* 06 07* 08",
    "17 06": "01* 03* 04 05*",
    "17 08": "01* 02",
    "17 09": "01* 02* 03* 04",
}
NEW_IN_2014: tuple[str, ...] = ("16 03 07*",)

#: A second copy's marks, and what it calls the waste in short.
SECOND_COPY: tuple[tuple[str, bool], ...] = (
    ("08 01 17", True), ("08 01 18", False), ("08 01 19", True), ("08 01 20", False), ("08 01 21", True),
    ("08 01 99", False), ("08 04 09", True), ("08 04 10", False), ("08 04 11", True), ("08 04 12", False),
    ("08 04 13", True),
)

#: What a workshop has, its code, and a word of the list's title for it (gov.uk).
WORKSHOP: tuple[tuple[str, str, str], ...] = (
    ("hydraulic oil, mineral, non-chlorinated", "13 01 10*", "hydraulic"),
    ("hydraulic oil, synthetic", "13 01 11*", "synthetic hydraulic"),
    ("hydraulic oil, other", "13 01 13*", "other hydraulic"),
    ("engine, gear or lubricating oil, mineral and chlorinated", "13 02 04*", "chlorinated engine, gear"),
    ("engine, gear or lubricating oil, mineral, non-chlorinated", "13 02 05*", "non-chlorinated engine, gear"),
    ("engine, gear or lubricating oil, synthetic", "13 02 06*", "synthetic engine, gear"),
    ("engine, gear or lubricating oil, readily biodegradable", "13 02 07*", "biodegradable engine, gear"),
    ("engine, gear or lubricating oil, other", "13 02 08*", "other engine, gear"),
    ("solid waste of an interceptor", "13 05 01*", "grit chambers"),
    ("interceptor sludge", "13 05 03*", "interceptor sludges"),
    ("oily water of an interceptor", "13 05 07*", "oily water"),
    ("fuel oil and diesel", "13 07 01*", "diesel"),
    ("petrol", "13 07 02*", "petrol"),
    ("other fuels, also mixed", "13 07 03*", "other fuels"),
    ("brake fluid", "16 01 13*", "brake fluids"),
    ("antifreeze with hazardous substances", "16 01 14*", "antifreeze"),
    ("antifreeze without", "16 01 15", "antifreeze"),
    ("end-of-life tyres", "16 01 03", "tyres"),
)
#: The same code, however it is written (from memory: notes, forms and sheets differ).
SPELLINGS: tuple[tuple[str, str], ...] = (
    ("130205*", "13 02 05*"), ("130205", "13 02 05*"), ("13 02 05", "13 02 05*"), ("13.02.05*", "13 02 05*"),
    ("13-02-05 *", "13 02 05*"), (" 13 02 05* ", "13 02 05*"), ("160103", "16 01 03"), ("16 0103", "16 01 03"),
)
