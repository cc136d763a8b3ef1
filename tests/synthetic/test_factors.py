"""No dead factor: every number of a scene reaches a pixel."""

from __future__ import annotations

import dataclasses
import re
import typing
from enum import Enum
from typing import Any

import pytest

from fittings.words import Kind
from synthetic.packing import NAMES
from synthetic.recorder import Recorder, Symbol
from synthetic.scene import Effects, Scene
from synthetic.tracing import OUTPUTS, pixel_source

# Of a scene's fields, the words: they say what a piece is called and how it was made, and the
# numbers beside them decide the picture. `kind` chooses the distance function.
WORDS = {
    "pieces.construction", "pieces.kind", "pieces.label", "pieces.skin.name", "pieces.marks.name",
    "pieces.along_weld.finish", "pieces.cross_weld.finish", "wear.skin.name", "wear.marks.name",
    "ground.name", "light.name", "version",
}  # fmt: skip


def reaching(source: str) -> set[int]:
    """Numbers of the row that the outputs of traced statements depend on, directly or not."""
    needs: dict[str, set[str]] = {}
    reads: dict[str, set[int]] = {}
    block = 0
    for line in source.splitlines():
        block += line.startswith("LANES")

        def own(name: str, block: int = block) -> str:
            return f"{block}.{name}" if re.match(r"(t\d+|in_\w+)$", name) else name

        target = re.match(r"(?:const (?:int|float) (\w+)|AT\((\w+)\)) = (.*);", line)
        if target:
            name = own(target[1] or target[2])
            words = re.findall(r"[a-z_]\w*", re.sub(r"AT\((\w+)\)", r"\1", target[3]))
            needs.setdefault(name, set()).update(own(word) for word in words)
            reads.setdefault(name, set()).update(map(int, re.findall(r"p\[(\d+)\]", target[3])))
    found: set[int] = set()
    seen: set[str] = set()
    todo = list(OUTPUTS)
    while todo:
        name = todo.pop()
        if name not in seen:
            seen.add(name)
            found |= reads.get(name, set())
            todo += needs.get(name, ())
    return found


def test_every_number_of_a_scene_reaches_a_pixel() -> None:
    kinds = (*(kind for kind in Kind if kind is not Kind.NONE), None)
    reached = set.union(*(reaching(pixel_source(kind, lanes=False)) for kind in kinds))
    dead = {name for name, index in NAMES.items() if index not in reached}
    # Effects come after these statements; `test_every_effect_changes_the_picture` tries them.
    in_effects = {name for name in NAMES if name.startswith("effects.")}
    assert dead == in_effects
    assert {name.split(".")[1] for name in dead} == {f.name for f in dataclasses.fields(Effects)}


def test_a_dead_number_would_be_found() -> None:
    source = "LANES {\nconst float t0 = p[5];\nconst float t1 = p[6];\nAT(r) = t1;\n}\n"
    assert reaching(source) == {6}


def unpacked(hint: Any, path: str = "") -> set[str]:
    """Dotted names of the fields of a dataclass that `packing` leaves out."""
    if dataclasses.is_dataclass(hint):
        hints = typing.get_type_hints(hint)
        prefix = path + "." if path else ""
        return set().union(*(unpacked(each, prefix + name) for name, each in hints.items()))
    if typing.get_origin(hint) is tuple:
        return unpacked(typing.get_args(hint)[0], path)
    return {path} if issubclass(hint, (str, Enum)) else set()


def test_only_words_are_left_out_of_the_numbers() -> None:
    assert unpacked(Scene) == WORDS


def test_a_stage_that_branches_on_a_value_is_refused() -> None:
    with pytest.raises(TypeError, match=r"xp\.where"):
        bool(Symbol(Recorder(), "x") > 1.0)
