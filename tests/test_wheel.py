"""The wheel: built as a release is, installed without the development packages, away from the source tree."""

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

ROOT = Path(__file__).parent.parent
NEEDED_ONLY_TO_DEVELOP = ("pytest", "hypothesis", "jsonschema", "mypy", "hatchling", "build")

pytestmark = pytest.mark.long


def run(*words: str | Path, cwd: Path) -> str:
    """What a command prints; no source tree is on its path."""
    environment = {name: value for name, value in os.environ.items() if not name.startswith("PYTHON")}
    done = subprocess.run(
        [str(word) for word in words], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode == 0, done.stdout + done.stderr
    return done.stdout


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> Path:
    folder = tmp_path_factory.mktemp("wheel")
    run(sys.executable, "-m", "build", "--wheel", "--no-isolation", "--outdir", folder, ROOT, cwd=folder)
    [made] = folder.glob("*.whl")
    return made


@pytest.fixture(scope="module")
def installed(wheel: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The programs of a fresh environment with the wheel and what it needs, and nothing else."""
    folder = tmp_path_factory.mktemp("installed")
    run(sys.executable, "-m", "venv", folder / "env", cwd=folder)
    programs = folder / "env" / ("Scripts" if os.name == "nt" else "bin")
    run(programs / "python", "-m", "pip", "install", "--quiet", "--disable-pip-version-check", wheel, cwd=folder)
    return programs


def test_the_wheel_holds_what_is_used_and_nothing_else(wheel: Path) -> None:
    names = zipfile.ZipFile(wheel).namelist()
    tops = {name.partition("/")[0] for name in names}
    plugins = {path.name for path in (ROOT / "plugins").iterdir() if (path / "__init__.py").is_file()}
    assert {top for top in tops if not top.endswith(".dist-info")} == {"kitbuilder", *plugins}
    assert [name for name in names if name.endswith(".dist-info/licenses/LICENSE")]
    assert {"kitbuilder/_demo_catalog/catalogue.toml", "kitbuilder/_demo_catalog/fleet.csv"} <= set(names)
    assert [name for name in names if "test_" in name or "benchmark" in name or name.endswith(".pyc")] == []
    sources = {str(path.relative_to(ROOT)) for path in (ROOT / "kitbuilder").rglob("*.py")}
    assert sources <= set(names)


def test_it_starts_without_the_development_packages(installed: Path, tmp_path: Path) -> None:
    listed = run(
        installed / "python", "-m", "pip", "list", "--format=freeze", "--disable-pip-version-check", cwd=tmp_path
    )
    there = {line.partition("==")[0].lower() for line in listed.splitlines()}
    assert "kitbuilder" in there
    assert there.isdisjoint(NEEDED_ONLY_TO_DEVELOP)
    assert run(installed / "kitbuilder", "--version", cwd=tmp_path).startswith("kitbuilder ")
    home = run(installed / "python", "-c", "import kitbuilder; print(kitbuilder.__file__)", cwd=tmp_path)
    assert not Path(home.strip()).is_relative_to(ROOT)


def test_the_demo_and_a_kit_work_there(installed: Path, tmp_path: Path) -> None:
    told = run(installed / "kitbuilder", "demo", "my-demo", cwd=tmp_path)
    assert "No problem in " in told
    assert "was expected" not in told
    kit = run(installed / "kitbuilder", "kit", "clutch-replace", "--vehicle", "DEMO 026", cwd=tmp_path / "my-demo")
    assert "(from the register)" in kit
    lots = run(installed / "kitbuilder", "stock", "list", cwd=tmp_path / "my-demo")
    assert len(lots.splitlines()) > 100


def test_its_entry_points_are_there(installed: Path, tmp_path: Path) -> None:
    plugins = run(installed / "kitbuilder", "plugins", cwd=tmp_path)
    for name in ("fleet-file", "price-file"):
        assert f"  {name} (kitbuilder " in plugins
    assert "failed" not in plugins
