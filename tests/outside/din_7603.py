"""Sealing rings of DIN 7603: the usual ring for a thread, d x D x s in mm.

Sources are weak, and said so. The standard (May 2001) was seen only in its first page: title, scope, that it is for
pipe joints and plugs of DIN 908; not its tables.

- Seen: a table in a public source file that names DIN 7603, M6 to M20 and M30 with inner diameters 0.2 above the whole
  number; it has M24 as 24.2x30x2, where elsewhere 24x29x2 is sold: M24 is left out.
- Seen: "14x18x1.5 DIN 7603 A" as the name of a ring in a seller's address, quoted in a public repository with the
  note that sources give 14 mm inside and 18 outside, most 1.5 and a few 2 thick; 14x20x1.5 exists beside it.
- From memory: M22 22x27x1.5, M26 26x31x2, M27 27x32x2.
- Materials. Seen: a ring maker's page (copper, aluminium, soft iron, vulcanised fibre, stainless steel).
"""

#: Nominal diameter of the thread: the ring as the table writes it.
SEEN: dict[str, str] = {
    "6": "6.2x10x1", "8": "8.2x12x1", "10": "10.2x14x1", "12": "12.2x16x1.5", "14": "14.2x18x1.5", "16": "16.2x20x1.5",
    "18": "18.2x22x1.5", "20": "20.2x24x1.5", "30": "30.2x36x2",
}
FROM_MEMORY: dict[str, str] = {"22": "22x27x1.5", "26": "26x31x2", "27": "27x32x2"}
LEFT_OUT: tuple[str, ...] = ("24",)
#: Rings that are sold under the standard's name.
SOLD: tuple[tuple[str, str], ...] = (("14x18x1.5", "M14x1.5"), ("14x20x1.5", "M14x1.5"))
MATERIALS: tuple[str, ...] = ("copper", "aluminium", "soft iron", "vulcanised fibre", "stainless steel")
