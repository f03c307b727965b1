"""The public API: what a script or a plug-in imports, and that the bundled plug-ins use nothing else."""

import ast
import subprocess
import sys
import typing
from collections.abc import Collection
from pathlib import Path

import pytest

import kitbuilder
from tests.plugins.installed import ROOT

PLUGINS = ROOT / "plugins"
BUNDLED = sorted(PLUGINS.rglob("*.py"))


def package(file: Path) -> str:
    """The plug-in that a file belongs to."""
    return file.relative_to(PLUGINS).parts[0]



#: Libraries that a bundled plug-in may import; a stranger's would name them as its dependencies.
LIBRARIES = {
    "kitbuilder_http_supplier": {"httpx", "msgspec"},
    "kitbuilder_price_file": {"msgspec"},
    "kitbuilder_sql_stock": {"sqlalchemy"},
}


def beyond_public(source: str, allowed: Collection[str] = ()) -> list[str]:
    """What a module imports beyond the standard library, `allowed` packages and the names of kitbuilder.__all__."""
    found = []
    known = {*sys.stdlib_module_names, *allowed}
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [alias.name for alias in node.names if alias.name.split(".")[0] not in known]
        elif isinstance(node, ast.ImportFrom):
            module = "." * node.level + (node.module or "")
            if module == "kitbuilder":
                found += [f"kitbuilder.{alias.name}" for alias in node.names if alias.name not in kitbuilder.__all__]
            elif module.split(".")[0] not in known:
                found.append(module)
    return found


@pytest.mark.parametrize("file", BUNDLED, ids=["/".join(file.parts[-2:]) for file in BUNDLED])
def test_a_bundled_plugin_imports_what_a_stranger_could(file):
    own = package(file)
    assert beyond_public(file.read_text("utf-8"), {own, *LIBRARIES.get(own, ())}) == []


def test_there_are_bundled_plugins_and_what_is_private_would_be_found():
    assert {package(file) for file in BUNDLED} >= {"kitbuilder_fleet_file", "kitbuilder_price_file"}
    assert beyond_public(
        "import csv\nimport kitbuilder.hooks\nimport msgspec\nfrom kitbuilder import Offer, hooks\n"
        "from kitbuilder.model.offer import Quote\nfrom . import it\nimport other.inside\nfrom pathlib import Path\n",
        ["other"],
    ) == ["kitbuilder.hooks", "msgspec", "kitbuilder.hooks", "kitbuilder.model.offer", "."]


def test_every_bundled_plugin_has_its_entry_point_and_is_packed():
    import tomllib

    project = tomllib.loads((ROOT / "pyproject.toml").read_text("utf-8"))
    modules = {package(file) for file in BUNDLED}
    assert set(project["project"]["entry-points"]["kitbuilder"].values()) == modules
    packed = {Path(one).name for one in project["tool"]["hatch"]["build"]["targets"]["wheel"]["packages"]}
    assert packed == modules | {"kitbuilder"}


@pytest.mark.parametrize("name", kitbuilder.__all__)
def test_a_public_name_resolves_and_keeps_its_name(name):
    value = getattr(kitbuilder, name)
    # functions may have a longer name outside, never another one
    home = name if typing.get_origin(value) is typing.Literal else getattr(value, "__name__", name)
    assert name in (home, f"{home}_amount")
    assert name in dir(kitbuilder)


def test_the_public_names_are_those_that_type_checkers_see():
    tree = ast.parse((ROOT / "kitbuilder/__init__.py").read_text("utf-8"))
    [block] = [node for node in tree.body if isinstance(node, ast.If) and ast.unparse(node.test) == "TYPE_CHECKING"]
    typed = {}
    for node in block.body:
        assert isinstance(node, ast.ImportFrom)
        for alias in node.names:
            typed[alias.asname or alias.name] = getattr(__import__(node.module, fromlist=["_"]), alias.name)
    assert set(typed) == set(kitbuilder.__all__)
    assert len(kitbuilder.__all__) == len(set(kitbuilder.__all__))
    # the same things, not only the same names
    assert {name: getattr(kitbuilder, name) for name in typed} == typed
    [written] = [node.value for node in tree.body
                 if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"]
    # type checkers can't read a list that is worked out
    assert isinstance(written, ast.List)
    assert (ROOT / "kitbuilder/py.typed").is_file()


def test_a_name_that_is_not_public_is_refused():
    with pytest.raises(AttributeError, match="no public name 'fenced'"):
        kitbuilder.fenced  # noqa: B018


def test_importing_the_root_alone_loads_nothing_else():
    code = ("import sys; before = set(sys.modules); import kitbuilder; "
            "print(*sorted(set(sys.modules) - before))")
    answer = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True, timeout=60, check=True)
    loaded = answer.stdout.split()
    assert "kitbuilder" in loaded
    ours = [name for name in loaded if name.split(".")[0] not in sys.stdlib_module_names]
    assert ours == ["kitbuilder"]
    heavy = {"asyncio", "dataclasses", "inspect", "sqlite3", "json", "email", "http", "importlib.metadata", "csv"}
    assert heavy & set(loaded) == set()
