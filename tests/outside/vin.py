"""Vehicle identification numbers: tables, worked examples and published numbers.

Sources, and how sure. ISO 3779 and ISO 3780 themselves were not seen.

- Tables III and IV, and the worked example of Table V (1G4AH59H45G118341): 49 CFR 565.15(c), seen in a web copy of
  an older edition of the regulation. The numbers are published examples; nothing here says of whom they are.
- A second worked example (1J9RP1A36A1644345): "Outline for New Manufacturer Information" of the United States' road
  safety administration, citing 49 CFR 565.15(c)(4); seen in a web copy.
- Further numbers: the public tests of a Rust library (vin_parser), the documentation of an R library (vindecodr).
- No I, O, Q, seventeen places: ISO 3779, from memory; the library vininfo says the same (test_vin.py compares).
- Check digits bind in North America only, makers there begin with 1 to 5 (ISO 3780): from memory; vininfo agrees, and
  counts 7 to it as well, which is left out: a warning that is wrong is worse than one that is missing.
"""

VALUES: dict[str, int] = {
    "A": 1, "B": 2, "C": 3, "D": 4, "E": 5, "F": 6, "G": 7, "H": 8, "J": 1, "K": 2, "L": 3, "M": 4, "N": 5, "P": 7,
    "R": 9, "S": 2, "T": 3, "U": 4, "V": 5, "W": 6, "X": 7, "Y": 8, "Z": 9,
}
WEIGHTS: tuple[int, ...] = (8, 7, 6, 5, 4, 3, 2, 10, 0, 9, 8, 7, 6, 5, 4, 3, 2)

#: Number, its products place by place, their sum, the remainder by 11.
WORKED: tuple[tuple[str, tuple[int, ...], int, int], ...] = (
    ("1G4AH59H45G118341", (8, 49, 24, 5, 32, 15, 18, 80, 0, 45, 56, 7, 6, 40, 12, 12, 2), 411, 4),
    ("1J9RP1A36A1644345", (8, 7, 54, 45, 28, 3, 2, 30, 0, 9, 8, 42, 24, 20, 12, 12, 10), 314, 6),
)
#: Published numbers whose check digit is right.
RIGHT: tuple[str, ...] = ("1M8GDM9AXKP042788", "WDBEA30D3HA391172", "1" * 17)
#: Published numbers from where no check digit is asked for: number, what the digit would be.
NO_CHECK_DIGIT: tuple[tuple[str, str], ...] = (("WP0ZZZ99ZTS392124", "8"),)
