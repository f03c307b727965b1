r"""RFC 8785, JSON Canonicalization Scheme: published examples.

Sources, and how sure. The RFC's own page was not seen; its examples were, in copies that name their
section:

- section 3.2.3, sorting by UTF-16 code units: seen alike in seven public test suites;
- section 3.2.2, numbers, strings and literals: seen alike in several of them;
- "weird": the test data of the RFC author's repository json-canonicalization, testdata/input/weird.json.
  The version read there has seven of the nine keys below, in the same order (no carriage return, no
  newline); all nine, and these very bytes, were seen in a public test suite.

What 3.2.3 is about: U+1F600 is D83D DE00 in UTF-16, so it stands before U+FB33, while by code point
(Python's own order) it stands after. Characters from U+0080 on are written as they are, not escaped.
"""

SORTING_INPUT: str = r"""{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "1": "One",
  "\ud83d\ude00": "Emoji: Grinning Face",
  "\u0080": "Control",
  "\u00f6": "Latin Small Letter O With Diaeresis"
}"""

SORTED_KEYS: tuple[str, ...] = ("\r", "1", "\u0080", "\u00f6", "\u20ac", "\U0001f600", "\ufb33")

SORTED_VALUES: tuple[str, ...] = (
    "Carriage Return",
    "One",
    "Control",
    "Latin Small Letter O With Diaeresis",
    "Euro Sign",
    "Emoji: Grinning Face",
    "Hebrew Letter Dalet With Dagesh",
)

SORTING_CANONICAL: str = (
    '{"\\r":"Carriage Return","1":"One","\u0080":"Control",'
    '"\u00f6":"Latin Small Letter O With Diaeresis","\u20ac":"Euro Sign",'
    '"\U0001f600":"Emoji: Grinning Face","\ufb33":"Hebrew Letter Dalet With Dagesh"}'
)

SAMPLE_INPUT: str = r"""{
  "numbers": [333333333.33333329, 1E30, 4.50, 2e-3, 0.000000000000000000000000001],
  "string": "\u20ac$\u000F\u000aA'\u0042\u0022\u005c\\\"\/",
  "literals": [null, true, false]
}"""

SAMPLE_CANONICAL: str = (
    '{"literals":[null,true,false],"numbers":[333333333.3333333,1e+30,4.5,0.002,1e-27],'
    '"string":"\u20ac$\\u000f\\nA\'B\\"\\\\\\\\\\"/"}'
)

WEIRD_INPUT: str = r"""{
  "\u20ac": "Euro Sign",
  "\r": "Carriage Return",
  "\u000a": "Newline",
  "1": "One",
  "\u0080": "Control\u007f",
  "\ud83d\ude02": "Smiley",
  "\u00f6": "Latin Small Letter O With Diaeresis",
  "\ufb33": "Hebrew Letter Dalet With Dagesh",
  "</script>": "Browser Challenge"
}"""

WEIRD_CANONICAL: bytes = bytes.fromhex(
    "7b225c6e223a224e65776c696e65222c225c72223a2243617272696167652052657475726e222c2231223a224f6e6522"
    "2c223c2f7363726970743e223a2242726f77736572204368616c6c656e6765222c22c280223a22436f6e74726f6c7f22"
    "2c22c3b6223a224c6174696e20536d616c6c204c6574746572204f205769746820446961657265736973222c22e282ac"
    "223a224575726f205369676e222c22f09f9882223a22536d696c6579222c22efacb3223a22486562726577204c657474"
    "65722044616c6574205769746820446167657368227d"
)
