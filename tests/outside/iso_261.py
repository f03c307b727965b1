"""Metric threads of ISO 261, and their tapping drills.

Sources, and how sure. ISO 261, ISO 262 and ISO 2306 themselves were not seen.

- Coarse pitches. Seen: a chart "M1.6 to M64 (ISO 261)" (mlc.org.uk, 24 April 2026), and the sizes of hexagon bolts of
  ISO 4014 in the data of bd_warehouse 0.4.0 (PyPI), which agree in every one; a tap maker's table of UNI 4535-64 up
  to M20 agrees, too.
- Fine pitches of M8 to M33. Seen: the chart (its most common ones) and a second page ("Basic metric thread chart");
  those in FROM_MEMORY are from memory; M7x0.75, M9x1, M15x1.5 and M17x1.5 also stand among the library's tap holes.
- Tapping drills are diameter less pitch. Seen: the chart says so and has the drills. bd_warehouse's table of tap
  holes (its column for soft material) agrees but for the rows in DRILLS_THAT_DIFFER: M12 and M14 coarse are 0.1 more,
  and two rows are 1 mm off their neighbours. The rows are copied here, as the library needs a whole CAD system.
- `M14` alone means the coarse pitch. Seen: two pages that quote the designation of the standard.
"""

#: Diameter: coarse pitch, as in the chart.
COARSE: dict[str, str] = {
    "1.6": "0.35", "2": "0.4", "2.5": "0.45", "3": "0.5", "4": "0.7", "5": "0.8", "6": "1", "8": "1.25", "10": "1.5",
    "12": "1.75", "14": "2", "16": "2", "18": "2.5", "20": "2.5", "22": "2.5", "24": "3", "27": "3", "30": "3.5",
    "33": "3.5", "36": "4", "39": "4", "42": "4.5", "45": "4.5", "48": "5", "52": "5", "56": "5.5", "60": "5.5",
    "64": "6",
}
#: The sizes of hexagon bolts in bd_warehouse.
BOLTS: tuple[str, ...] = (
    "M1.6-0.35", "M2-0.4", "M2.5-0.45", "M3-0.5", "M3.5-0.6", "M4-0.7", "M5-0.8", "M6-1", "M8-1.25", "M10-1.5",
    "M12-1.75", "M14-2", "M16-2", "M18-2.5", "M20-2.5", "M22-2.5", "M24-3", "M27-3", "M30-3.5", "M33-3.5", "M36-4",
    "M39-4", "M42-4.5", "M45-4.5", "M48-5", "M52-5", "M56-5.5", "M60-5.5", "M64-6",
)
#: Fine pitches, as in the chart and on the second page.
FINE: dict[str, tuple[str, ...]] = {
    "1.6": ("0.2",), "2": ("0.25",), "2.5": ("0.35",), "3": ("0.35",), "4": ("0.5",), "5": ("0.5",), "6": ("0.75",),
    "8": ("1", "0.75"), "10": ("1.25", "1", "0.75"), "12": ("1.5", "1.25", "1"), "14": ("1.5", "1.25", "1"),
    "16": ("1.5",), "18": ("2", "1.5", "1"), "20": ("2", "1.5", "1"), "22": ("2", "1.5", "1"), "24": ("2",),
    "27": ("2",), "30": ("3", "2", "1.5"), "33": ("3", "2", "1.5"), "36": ("3",), "39": ("3",), "42": ("3",),
    "45": ("3",), "48": ("3",), "52": ("4",), "56": ("4",), "60": ("4",), "64": ("4",),
}
#: Diameters and fine pitches in no source that was seen.
FROM_MEMORY: dict[str, tuple[str, ...]] = {
    "1": ("0.2",), "1.2": ("0.2",), "3.5": ("0.35",), "5.5": ("0.5",), "7": ("0.75",), "9": ("1", "0.75"),
    "11": ("1", "0.75"), "15": ("1.5", "1"), "16": ("1",), "17": ("1.5", "1"), "24": ("1.5", "1"),
    "25": ("2", "1.5", "1"), "26": ("1.5",), "27": ("1.5", "1"), "28": ("2", "1.5", "1"), "30": ("1",),
    "32": ("2", "1.5"), "35": ("1.5",), "36": ("2", "1.5"), "38": ("1.5",), "39": ("2", "1.5"),
    "40": ("3", "2", "1.5"), "42": ("4", "2", "1.5"), "45": ("4", "2", "1.5"), "48": ("4", "2", "1.5"),
    "50": ("3", "2", "1.5"), "52": ("3", "2", "1.5"), "55": ("4", "3", "2", "1.5"), "56": ("3", "2", "1.5"),
    "58": ("4", "3", "2", "1.5"), "60": ("3", "2", "1.5"), "62": ("4", "3", "2", "1.5"), "64": ("3", "2", "1.5"),
    "65": ("4", "3", "2", "1.5"),
}
#: Coarse pitches of diameters that the chart hasn't (M3.5 is among the bolts, the rest are from memory).
COARSE_FROM_MEMORY: dict[str, str] = {"1": "0.25", "1.2": "0.25", "3.5": "0.6", "7": "1", "9": "1.25", "11": "1.5"}
#: Threads met on heavy vehicles: ports and unions of air and fluid lines, plugs (common practice, no source).
ON_VEHICLES: tuple[str, ...] = ("M10x1", "M12x1.5", "M14x1.5", "M16x1.5", "M18x1.5", "M20x1.5", "M22x1.5", "M24x1.5",
                                "M26x1.5", "M30x1.5")

#: Thread: drill, as the chart rounds it (to 0.05 for M8 and M10 fine, else to 0.1).
CHART_DRILLS: dict[str, str] = {
    "M6x1": "5", "M8x1.25": "6.8", "M8x1": "7", "M10x1.5": "8.5", "M10x1": "9", "M12x1.75": "10.2", "M12x1.5": "10.5",
    "M14x2": "12", "M14x1.5": "12.5", "M16x2": "14", "M16x1.5": "14.5", "M18x2.5": "15.5", "M18x2": "16",
    "M18x1.5": "16.5", "M20x2.5": "17.5", "M20x1.5": "18.5", "M22x2.5": "19.5", "M22x1.5": "20.5", "M24x3": "21",
    "M24x2": "22", "M27x3": "24", "M30x3.5": "26.5", "M30x2": "28", "M36x4": "32",
}
#: Thread: hole for soft material in bd_warehouse.
LIBRARY_DRILLS: dict[str, str] = {
    "M1.6x0.35": "1.25", "M2x0.4": "1.6", "M2.5x0.45": "2.05", "M3x0.5": "2.5", "M4x0.7": "3.3", "M5x0.8": "4.2",
    "M6x1": "5", "M6x0.75": "5.25", "M7x1": "6", "M7x0.75": "6.25", "M8x1.25": "6.8", "M8x1": "7", "M9x1.25": "7.8",
    "M9x1": "8", "M10x1.5": "8.5", "M10x1.25": "8.8", "M10x1": "9", "M11x1.5": "9.5", "M12x1.5": "10.5",
    "M12x1.25": "10.8", "M14x1.5": "12.5", "M14x1.25": "12.8", "M15x1.5": "13.5", "M16x2": "14", "M16x1.5": "14.5",
    "M17x1.5": "15.5", "M18x2.5": "15.5", "M18x2": "16", "M18x1.5": "16.5", "M20x2.5": "17.5",
}
DRILLS_THAT_DIFFER: dict[str, tuple[str, str]] = {"M12x1.75": ("10.3", "10.2"), "M14x2": ("12.1", "12"),
                                                  "M22x2.5": ("18.5", "19.5")}

SPELLINGS: tuple[tuple[str, str], ...] = (
    ("M14x1.5", "M14x1.5"), ("m14x1.5", "M14x1.5"), ("M 14 x 1.5", "M14x1.5"), ("M14X1.50", "M14x1.5"),
    ("M14×1.5", "M14x1.5"), ("M14", "M14x2"), ("M14x2", "M14x2"), ("M14x2.0", "M14x2"), ("M8 x 1", "M8x1"),
    ("M8", "M8x1.25"), ("M14x1.5-LH", "M14x1.5-LH"), ("M14x1.5 lh", "M14x1.5-LH"),
)
NO_SUCH_THREAD: tuple[str, ...] = ("M13", "M13x1.5", "M14x1.7", "M14x3", "M15", "M26x2", "M70x4", "M6x1.5", "14x1.5",
                                   "G1/4", "1/2-13 UNC", "M", "Mx1", "")
