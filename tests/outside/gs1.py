"""GS1 check digits: published examples.

Sources, all seen:

- gs1.org, "How to calculate a check digit manually" (the sum there is 57);
- GS1 Sweden, "Så beräknas kontrollsiffran" (23);
- GS1 India, "How to calculate the Check Digit" (63);
- python-stdnum, docstring of stdnum/ean.py;
- a barcode maker's page on GTIN-14, which also pads its examples to 14 digits;
- the documentation of the npm package gs1, which has one right and one wrong number.
"""

# The number without its check digit, the digit, where published.
WORKED: tuple[tuple[str, int, str], ...] = (
    ("629104150021", 3, "gs1.org"),
    ("730001100001", 7, "GS1 Sweden"),
    ("890400021003", 7, "GS1 India"),
)

VALID: tuple[str, ...] = (
    "6291041500213",
    "7300011000017",
    "8904000210037",
    "73513537",
    "9780471117094",
    "98412345678908",
    "23456785",
    "123456789012",
    "1234567890128",
)
WRONG_CHECK_DIGIT: tuple[str, ...] = ("23456783",)

# A shorter GTIN with zeros before it stays valid.
PADDED: tuple[tuple[str, str], ...] = (
    ("23456785", "00000023456785"),
    ("123456789012", "00123456789012"),
    ("1234567890128", "01234567890128"),
)

LENGTHS: tuple[int, ...] = (8, 12, 13, 14)

# Element strings, published in the documentation and tests of python-stdnum (stdnum/gs1_128.py) and biip, and in those
# of others; FNC1 is the character 29. Each with its fields by Application Identifier.
STRINGS: tuple[tuple[str, dict[str, str]], ...] = (
    ("0138425876095074", {"01": "38425876095074"}),
    ("013842587609507417181119371", {"01": "38425876095074", "17": "181119", "37": "1"}),
    ("0107032069804988", {"01": "07032069804988"}),
    ("015842587609784310123456\x1d3718", {"01": "58425876097843", "10": "123456", "37": "18"}),
    ("010950400005911817141120107654321D\x1d2110987654d321",
     {"01": "09504000059118", "17": "141120", "10": "7654321D", "21": "10987654d321"}),
)

# Day 00 is the month's last day (GS1 General Specifications; the days are those of biip's documentation).
LAST_DAYS: tuple[tuple[str, str], ...] = (("130200", "2013-02-28"), ("160200", "2016-02-29"))

# The year of two digits lies from 49 years before to 50 years after this one (GS1 General Specifications, 7.12).
CENTURY: tuple[tuple[str, str, str], ...] = (
    ("2026-03-10", "760101", "2076-01-01"),
    ("2026-03-10", "770101", "1977-01-01"),
    ("2026-03-10", "260310", "2026-03-10"),
    ("2026-03-10", "000101", "2000-01-01"),
    ("2051-01-01", "010101", "2101-01-01"),
    ("2051-01-01", "020101", "2002-01-01"),
    ("2099-12-31", "490101", "2149-01-01"),
    ("2099-12-31", "500101", "2050-01-01"),
)
