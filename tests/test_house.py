"""The rules of the house: imports go one way, and reading photographs never loads torch."""

from __future__ import annotations

import ast
import json
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
ROOMS = ("fittings", "synthetic", "models", "vision", "ui")


def wrong_imports(room: str, source: str) -> list[str]:
    """Imports in `source`, a module of `room`, that reach a room to the right of it."""
    forbidden = ROOMS[ROOMS.index(room) + 1 :]
    return [
        f"line {line}: {name}"
        for line, name in imported(source)
        if name.partition(".")[0] in forbidden
    ]


def imported(source: str) -> list[tuple[int, str]]:
    """(line, dotted name) of every absolute import in a module's text, wherever it stands."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(source)):
        if isinstance(node, ast.Import):
            found += [(node.lineno, alias.name) for alias in node.names]
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.append((node.lineno, node.module or ""))
        elif isinstance(node, ast.Call) and node.args:
            # importlib.import_module("…") and __import__("…") are imports as well.
            called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            called = node.func.id if isinstance(node.func, ast.Name) else called
            first = node.args[0]
            if (
                called in ("import_module", "__import__")
                and isinstance(first, ast.Constant)
                and isinstance(first.value, str)
            ):
                found.append((node.lineno, first.value))
    return found


def modules_of(room: str) -> list[Path]:
    return sorted((ROOT / room).rglob("*.py"))


@pytest.mark.parametrize("room", ROOMS)
def test_imports_go_one_way(room: str) -> None:
    modules = modules_of(room)
    assert modules, f"no modules found in {room}/"
    wrong = {
        str(path.relative_to(ROOT)): found
        for path in modules
        if (found := wrong_imports(room, path.read_text(encoding="utf-8")))
    }
    assert not wrong


def test_a_wrong_import_would_be_found() -> None:
    assert wrong_imports("fittings", "import vision.reading") == ["line 1: vision.reading"]
    assert wrong_imports("models", "def f():\n    from ui import cli") == ["line 2: ui"]
    assert wrong_imports("synthetic", "import importlib\nimportlib.import_module('models')")
    assert wrong_imports("ui", "import fittings, synthetic, models, vision, ui.cli") == []
    assert wrong_imports("vision", "import visionary, uikit") == []


def test_fittings_need_only_numpy_and_the_standard_library() -> None:
    allowed = {*sys.stdlib_module_names, "numpy", "fittings"}
    for path in modules_of("fittings"):
        names = {name.partition(".")[0] for _, name in imported(path.read_text(encoding="utf-8"))}
        assert names <= allowed, path.name


def test_the_models_room_opens_empty() -> None:
    """So that importing `models.weights` cannot load the network's own packages."""
    assert not (ROOT / "models" / "__init__.py").read_text(encoding="utf-8").strip()


WALK = """
import importlib, json, pkgutil, sys

on_disk = sys.argv[1:]
sys.argv = ["seamtriage"]
report = {"loaded": [], "failed": {}}
names = set(on_disk)
for room in ("vision", "ui"):
    path = importlib.import_module(room).__path__
    names |= {each.name for each in pkgutil.walk_packages(path, room + ".", onerror=lambda _: None)}
for name in sorted(names):
    # BaseException: a page may stop its script and a command may exit; neither goes unseen.
    try:
        importlib.import_module(name)
    except BaseException as error:
        report["failed"][name] = f"{type(error).__name__}: {error}"
    report["loaded"].append(name)
    if "torch" in sys.modules:
        report["failed"][name] = "loaded torch"
        break
print("REPORT " + json.dumps(report))
"""


def dotted_names(room: str) -> set[str]:
    """Every module of the room by its file, so that a folder without __init__.py counts too."""
    return {
        ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")
        for path in modules_of(room)
    }


def test_reading_and_pages_never_load_torch() -> None:
    """A fresh interpreter imports every module of vision and ui; none may fail or load torch."""
    names = dotted_names("vision") | dotted_names("ui")
    done = subprocess.run(
        [sys.executable, "-c", WALK, *sorted(names)],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=240,
        check=False,
    )
    lines = [line for line in done.stdout.splitlines() if line.startswith("REPORT ")]
    assert lines, done.stderr
    report = json.loads(lines[-1].removeprefix("REPORT "))
    assert not report["failed"], done.stderr
    assert set(report["loaded"]) >= names
