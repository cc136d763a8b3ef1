"""Reckons the steps of a sum anew from what they print, as a hand with a calculator would."""

from __future__ import annotations

import ast
import math
import re
from collections.abc import Iterable

import pytest

from fittings.strength.steps import Step

# What the formulas may call; angles are in degrees, as printed.
_FUNCTIONS = {
    "tan": lambda angle: math.tan(math.radians(angle)),
    "sin": lambda angle: math.sin(math.radians(angle)),
    "atan": lambda ratio: math.degrees(math.atan(ratio)),
    "sqrt": math.sqrt,
    "min": min,
    "max": max,
}


def reckoned(numbers: str) -> float:
    """The value of a printed line of numbers; fails on a symbol that was left in it."""
    text = numbers.replace("·", "*").replace("−", "-").replace("²", "**2")
    text = re.sub(r"√(?=\()", "sqrt", text).replace("^", "**")
    names = {node.id for node in ast.walk(ast.parse(text)) if isinstance(node, ast.Name)}
    assert names <= set(_FUNCTIONS), f"{numbers!r} still holds symbols: {names - set(_FUNCTIONS)}"
    return float(eval(text, {"__builtins__": {}}, _FUNCTIONS))


def follow(steps: Iterable[Step]) -> None:
    """Asserts that every step's printed numbers give its value, and that its source is a text."""
    followed = 0
    for step in steps:
        # Six printed digits; a difference of near neighbours loses some of them.
        expected = pytest.approx(step.value, rel=3e-4, abs=2e-3)
        assert reckoned(step.numbers) == expected, f"{step.symbol} = {step.numbers}"
        assert step.source
        assert step.meaning
        followed += 1
    assert followed
