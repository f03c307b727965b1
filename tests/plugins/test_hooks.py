"""Every hook is documented, called, and tried here: a hook without an example fails."""

import inspect
import re

import msgspec
import pytest

from kitbuilder import hooks
from kitbuilder.plugins import KINDS, load_plugins
from tests.plugins.installed import install, points

HOOKS = sorted(name for name, value in vars(hooks).items() if hasattr(value, "kitbuilder_spec"))

#: A plug-in for each hook, which registers the kind `tried`.
EXAMPLES = {
    "diaries": """
from kitbuilder import DiaryKind, hookimpl

@hookimpl
def diaries():
    return [DiaryKind("tried", "help", lambda context: None)]
""",
    "stock_sources": """
from kitbuilder import SourceKind, hookimpl

@hookimpl
def stock_sources():
    return [SourceKind("tried", "help", lambda context: None)]
""",
    "vehicle_registers": """
from kitbuilder import RegisterKind, hookimpl

@hookimpl
def vehicle_registers():
    return [RegisterKind("tried", "help", lambda context: None)]
""",
}


def test_the_hooks_are_those_that_are_called_and_those_that_are_tried_here():
    assert set(HOOKS) >= {"stock_sources", "vehicle_registers"}
    assert set(HOOKS) == set(KINDS) == set(EXAMPLES)


@pytest.mark.parametrize("hook", HOOKS)
def test_a_hook_is_documented_and_says_what_it_returns(hook):
    function = getattr(hooks, hook)
    assert len(inspect.getdoc(function) or "") > 20
    assert inspect.signature(function).return_annotation == list[KINDS[hook]]


@pytest.mark.parametrize("hook", HOOKS)
def test_what_a_hook_registers_is_there_by_its_name(hook, site):
    install(site, f"tries_{hook}", EXAMPLES[hook])
    found = load_plugins(points(site))
    assert [(row.registers, row.error) for row in found.rows] == [(("tried",), "")]
    brought = {"diaries": found.diaries, "stock_sources": found.sources, "vehicle_registers": found.registers}
    assert {name: list(kinds) for name, kinds in brought.items()} == {
        name: ["tried"] if name == hook else [] for name in HOOKS}
    kind, distribution = brought[hook]["tried"]
    assert isinstance(kind, KINDS[hook])
    assert distribution == f"tries-{hook.replace('_', '-')}"


def test_what_an_author_meets_in_the_hooks_is_documented():
    met = [value for value in vars(hooks).values() if inspect.isclass(value) and value.__module__ == hooks.__name__]
    assert {one.__name__ for one in met} >= {
        "Context", "StockSource", "VehicleRegister", "Entry", "SourceKind", "RegisterKind"}
    for one in met:
        assert inspect.getdoc(one), one
        if issubclass(one, msgspec.Struct):
            # a field that the docstring doesn't speak of by name or in words is one an author has to guess
            told = _words(_doc(one))
            missing = [field for field in one.__struct_fields__ if _words(field) not in told]
            assert missing == [], one
        else:
            methods = [
                value for name, value in vars(one).items() if inspect.isfunction(value) and not name.startswith("_")]
            assert methods
            assert [method for method in methods if not inspect.getdoc(method)] == []


def _doc(one: type) -> str:
    """A docstring, and that of the class it refers to."""
    text = one.__doc__ or ""
    return text + "".join(getattr(hooks, name).__doc__ for name in re.findall(r"as (\w+)\.", text))


def _words(text: str) -> str:
    return text.lower().replace("`", "").replace("_", " ").rstrip("s")
