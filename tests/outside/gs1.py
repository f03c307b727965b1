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
