"""On which line a key of a TOML file is found, in the layouts that people write."""

import tomllib

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.places import places

LAYOUTS = {
    "headers": ("[facts.a]\nof = 1\n\n[facts.b]\n\nof = 2\n", {
        ("facts",): 1, ("facts", "a"): 1, ("facts", "a", "of"): 2, ("facts", "b"): 4, ("facts", "b", "of"): 6}),
    "dotted keys": ("facts.a.of = 1\nfacts . b . of=2\n[x]\ny.z = 3\n", {
        ("facts", "a"): 1, ("facts", "a", "of"): 1, ("facts", "b"): 2, ("facts", "b", "of"): 2, ("x", "y", "z"): 4}),
    "inline tables": ('x = { a = 1, "b c" = { d = 2 } }\ny = {}\n', {
        ("x", "a"): 1, ("x", "b c"): 1, ("x", "b c", "d"): 1, ("y",): 2}),
    "lists over lines": ("x = [ # one\n  1,\n\n  2, 3,\n  # four\n  4\n]\ny = 1\n", {
        ("x", 0): 2, ("x", 1): 4, ("x", 2): 4, ("x", 3): 6, ("y",): 8}),
    "lists of inline tables": ('x = [\n  { a = 1, b = "]" },\n  { a = [\n1] },\n]\n', {
        ("x", 0): 2, ("x", 0, "b"): 2, ("x", 1): 3, ("x", 1, "a"): 3, ("x", 1, "a", 0): 4}),
    "lists of tables": ("[[a.b]]\nc = 1\n[a.b.d]\ne = 1\n[[a.b]]\nc = 2\n[a.b.d]\ne = 2\n[[a.b.f]]\ng = 3\n", {
        ("a", "b"): 1, ("a", "b", 0): 1, ("a", "b", 0, "c"): 2, ("a", "b", 0, "d", "e"): 4, ("a", "b", 1): 5,
        ("a", "b", 1, "c"): 6, ("a", "b", 1, "d"): 7, ("a", "b", 1, "d", "e"): 8, ("a", "b", 1, "f", 0, "g"): 10}),
    "quoted keys": ('["a b".\'c.d\']\n"e\\"f" = 1\n"" = 2\n\'x = y\' = 3\n', {
        ("a b", "c.d"): 1, ("a b", "c.d", 'e"f'): 2, ("a b", "c.d", ""): 3, ("a b", "c.d", "x = y"): 4}),
    "texts that look like TOML": (
        'a = """\n[b]\nc = 1 \\"""\n"""\nd = \'\'\'\n[e]\n\'\'\'\nf = "[g] # \\" h = 1"\ni = "" # j = 2\n', {
        ("a",): 1, ("d",): 5, ("f",): 8, ("i",): 9}),
    "quotes before the closing ones": ('a = """x"""""\nb = """"y"""\nc = \'\'\'\'z\'\'\'\'\nd = """"""\ne = 1\n', {
        ("a",): 1, ("b",): 2, ("c",): 3, ("d",): 4, ("e",): 5}),
    "days and times": ("a = 2000-10-01\nb = 2000-10-01 10:00:00Z # x\nc = [2000-10-01 10:00:00, 10:00:00]\nd = 1\n", {
        ("a",): 1, ("b",): 2, ("c", 1): 3, ("d",): 4}),
    "tables below before above": ("[a.b.c]\nx = 1\n[a]\ny = 2\n", {
        ("a", "b", "c", "x"): 2, ("a",): 1, ("a", "y"): 4}),
    "remarks and space": ("# [a]\n\t[ a . b ] # c = 1\n  c=1#d\n\n", {("a", "b"): 2, ("a", "b", "c"): 3}),
}


@pytest.mark.parametrize("name", LAYOUTS)
def test_every_key_is_found_on_its_line(name):
    text, lines = LAYOUTS[name]
    assert _paths(tomllib.loads(text)) == set(places(text))
    assert {path: places(text)[path] for path in lines} == lines


def _paths(value: object, path: tuple[str | int, ...] = ()) -> set[tuple[str | int, ...]]:
    inner = value.items() if isinstance(value, dict) else enumerate(value) if isinstance(value, list) else ()
    return ({path} if path else set()).union(*(_paths(one, (*path, key)) for key, one in inner))


NAMES = st.sampled_from(["a", "b-1", '"c d"', "'e.f'", '"g\\u00e4"', '""', "'['"])
SCALARS = st.sampled_from(["1", "-1.5e3", "true", '"]"', "'}'", '"""\n] = \n"""', "'''\n[x]\n'''", "2000-10-01",
                           "10:00:00.5", '"\\""'])
SPACES = st.sampled_from(["", " ", "\t"])
BREAKS = st.sampled_from(["", "\n", " # ] } \" '\n", "\n\n  "])


@st.composite
def values(draw: st.DrawFn, depth: int = 2) -> str:
    shape = draw(st.integers(0, 2)) if depth else 0
    if shape == 1:
        inner = [draw(BREAKS) + draw(values(depth - 1)) + draw(BREAKS) for _ in range(draw(st.integers(0, 3)))]
        return f"[{','.join(inner)}{draw(st.sampled_from(['', ',']) if inner else st.just(''))}{draw(BREAKS)}]"
    if shape == 2:
        keys = draw(st.lists(NAMES, max_size=3, unique=True))
        return "{" + ",".join(f" {key}{draw(SPACES)}={draw(SPACES)}{draw(values(depth - 1))} " for key in keys) + "}"
    return draw(SCALARS)


@st.composite
def documents(draw: st.DrawFn) -> str:
    lines = []
    for _ in range(draw(st.integers(0, 8))):
        lines.append(draw(BREAKS))
        key = draw(SPACES) + f"{draw(SPACES)}.{draw(SPACES)}".join(draw(st.lists(NAMES, min_size=1,
                                                                                 max_size=3))) + draw(SPACES)
        lines.append(draw(st.sampled_from([f"[{key}]", f"[[{key}]]"]))
                     if draw(st.booleans()) else f"{key}={draw(values())}")
        lines.append(draw(st.sampled_from(["\n", " # x = 1\n", "\n\n"])))
    return "".join(lines)


@settings(max_examples=300)
@given(documents())
def test_whatever_the_standard_library_reads_has_a_line_for_every_path(text):
    try:
        table = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return
    assert _paths(table) == set(places(text))


@pytest.mark.parametrize("text", ["a = 1\n[b\n", "a = 1\nb = [1, 2", "a = 1\nb = {", "a = 1\n= 2", "a = 1\nb 2"])
def test_what_is_lost_in_a_text_that_is_no_toml_does_not_lose_the_rest(text):
    assert places(text)[("a",)] == 1
