"""Damaged files are told as faults, never as a traceback."""

import random

from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.compiled import compile_content
from kitbuilder.catalogue.content import read_content
from kitbuilder.errors import LoadError
from tests.catalogue.good_files import GOOD

FILES = {path: text.encode() for path, text in GOOD.items()}
#: Bytes that mean something to one of the readers, and some that mean nothing to any.
PIECES = st.one_of(
    st.sampled_from([b'"', b"'", b"[", b"]", b"{", b"}", b"=", b".", b",", b";", b"\t", b"\n", b"\r", b"\\", b"#",
                     b"-", b"0", b"9" * 30,
                     b"\xff", b"\0", b"\xef\xbb\xbf", b"\xc2\xa0", b" or ", b" to ", b"not ", b"from ", b"nan",
                     b"inf", b"1e400", b"true",
                     b"nothing", b"yes", b"\xc2\xb2", b"\xd9\xa1", b"[[", b"]]", b'"""']),
    st.binary(min_size=1, max_size=4))


def outcome(files: dict[str, bytes]) -> str:
    """What became of reading some files; anything but a load error or an edition is a failure of the test."""
    try:
        content = read_content("here", files)
    except LoadError as error:
        assert error.faults
        assert all(fault.file and fault.row >= 0 and fault.expected for fault in error.faults)
        return "faults"
    assert compile_content(content)
    return "read"


@st.composite
def damaged(draw: st.DrawFn) -> dict[str, bytes]:
    files = dict(FILES)
    for _ in range(draw(st.integers(1, 3))):
        path = draw(st.sampled_from(sorted(files)))
        data = files[path]
        start = draw(st.integers(0, len(data)))
        end = min(len(data), start + draw(st.integers(0, 12)))
        shape = draw(st.sampled_from(["delete", "insert", "swap", "repeat", "cut"]))
        if shape == "delete":
            data = data[:start] + data[end:]
        elif shape == "insert":
            data = data[:start] + draw(PIECES) + data[start:]
        elif shape == "swap":
            data = data[:start] + data[end:2 * end - start] + data[start:end] + data[2 * end - start:]
        elif shape == "repeat":
            data = data[:end] + data[start:]
        else:
            data = data[:start]
        files[path] = data
    return files


@settings(max_examples=500, deadline=None)
@given(damaged())
def test_damage_is_read_or_told(files):
    outcome(files)


@settings(max_examples=100, deadline=None)
@given(st.sampled_from(sorted(FILES)), st.binary(max_size=300))
def test_any_bytes_are_read_or_told(path, data):
    outcome(FILES | {path: data})


def test_damage_as_it_is_done_here_is_mostly_told_and_sometimes_harmless():
    dice = random.Random(20)
    seen = set()
    for _ in range(200):
        path = dice.choice(sorted(FILES))
        at = dice.randrange(len(FILES[path]))
        seen.add(outcome(FILES | {path: FILES[path][:at] + FILES[path][at + 1:]}))
    assert seen == {"faults", "read"}


def test_every_single_byte_that_is_lost_is_read_or_told():
    for path, data in FILES.items():
        for at in range(len(data)):
            outcome(FILES | {path: data[:at] + data[at + 1:]})
