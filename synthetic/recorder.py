"""Writing a calculation down as C by running it once with symbols in place of numbers.

A stage of the renderer is handed a `Recorder` in place of numpy and `Symbol`s in place of arrays;
every operation leaves one line of C behind.
"""

from __future__ import annotations

from typing import Any, NamedTuple


class Line(NamedTuple):
    """One C variable: `template.format(*operands)` gives its value. `uniform` says that the value
    is the same for all pixels of an item."""

    name: str
    template: str
    operands: tuple[Any, ...]
    truth: bool
    uniform: bool


class Symbol:
    """A number that is not known yet: the name of a C variable."""

    __slots__ = ("name", "recorder", "truth", "uniform")

    def __init__(
        self, recorder: Recorder, name: str, *, truth: bool = False, uniform: bool = False
    ) -> None:
        self.recorder, self.name, self.truth, self.uniform = recorder, name, truth, uniform

    def _two(self, sign: str, other: Any, swap: bool = False, truth: bool = False) -> Any:
        a, b = (other, self) if swap else (self, other)
        return self.recorder.binary(sign, a, b, truth)

    def __add__(self, other: Any) -> Any:
        return self._two("+", other)

    def __radd__(self, other: Any) -> Any:
        return self._two("+", other, swap=True)

    def __sub__(self, other: Any) -> Any:
        return self._two("-", other)

    def __rsub__(self, other: Any) -> Any:
        return self._two("-", other, swap=True)

    def __mul__(self, other: Any) -> Any:
        return self._two("*", other)

    def __rmul__(self, other: Any) -> Any:
        return self._two("*", other, swap=True)

    def __truediv__(self, other: Any) -> Any:
        return self._two("/", other)

    def __rtruediv__(self, other: Any) -> Any:
        return self._two("/", other, swap=True)

    def __neg__(self) -> Any:
        return self.recorder.call("-", self)

    def __lt__(self, other: Any) -> Any:
        return self._two("<", other, truth=True)

    def __le__(self, other: Any) -> Any:
        return self._two("<=", other, truth=True)

    def __gt__(self, other: Any) -> Any:
        return self._two(">", other, truth=True)

    def __ge__(self, other: Any) -> Any:
        return self._two(">=", other, truth=True)

    def __and__(self, other: Any) -> Any:
        return self._two("&", other, truth=True)

    def __rand__(self, other: Any) -> Any:
        return self._two("&", other, swap=True, truth=True)

    def __or__(self, other: Any) -> Any:
        return self._two("|", other, truth=True)

    def __ror__(self, other: Any) -> Any:
        return self._two("|", other, swap=True, truth=True)

    def __invert__(self) -> Any:
        return self.recorder.emit("!{}", self, truth=True)

    def __bool__(self) -> bool:
        raise TypeError("a stage must not branch on a value; use xp.where")


class Recorder:
    """Stands for numpy in a stage; every operation becomes one line of C."""

    def __init__(self) -> None:
        self.lines: list[Line] = []
        self._known: dict[str, Symbol] = {}

    def emit(self, template: str, *operands: Any, truth: bool = False) -> Symbol:
        """A variable holding the expression; the same expression is computed once."""
        expression = template.format(*(c_text(value) for value in operands))
        if expression not in self._known:
            name = f"t{len(self._known)}"
            uniform = all(v.uniform for v in operands if isinstance(v, Symbol))
            self.lines.append(Line(name, template, operands, truth, uniform))
            self._known[expression] = Symbol(self, name, truth=truth, uniform=uniform)
        return self._known[expression]

    def statements(self) -> list[str]:
        """The lines as C declarations, in order."""
        return [_declared(line, [c_text(value) for value in line.operands]) for line in self.lines]

    def parted(self) -> tuple[list[str], list[str]]:
        """The lines as C declarations: first what is the same for all pixels, then the rest, for a
        loop over lanes.

        A loop that chooses by a truth value from outside of it is not vectorised by every compiler
        (GCC 12 refuses). So each such value is laid out once per lane in the array `flag`, behind
        the compiler's back.
        """
        once = [line for line in self.lines if line.uniform]
        flags: dict[str, int] = {}
        inner = []
        for line in self.lines:
            if not line.uniform:
                texts = []
                for value in line.operands:
                    if isinstance(value, Symbol) and value.uniform and value.truth:
                        row = flags.setdefault(value.name, len(flags))
                        texts.append(f"(flag[{row}][lane] > 0.5f)")
                    else:
                        texts.append(c_text(value))
                inner.append(_declared(line, texts))
        outer = [_declared(line, [c_text(value) for value in line.operands]) for line in once]
        if flags:
            outer.append(f"float flag[{len(flags)}][N];")
            outer += [f"LANES flag[{i}][lane] = (float){name};" for name, i in flags.items()]
            outer.append('__asm__("" : "+m"(flag));')
        return outer, inner

    def binary(self, sign: str, a: Any, b: Any, truth: bool) -> Any:
        if not truth:
            if sign == "*" and (_is(a, 0.0) or _is(b, 0.0)):
                return 0.0  # the stages write 0 · x for zeros of x's shape; x is finite
            if (sign == "*" and _is(a, 1.0)) or (sign == "+" and _is(a, 0.0)):
                return b
            if (sign in "*/" and _is(b, 1.0)) or (sign in "+-" and _is(b, 0.0)):
                return a
        return self.emit(f"{{}} {sign} {{}}", a, b, truth=truth)

    def call(self, function: str, *values: Any) -> Any:
        return self.emit(f"{function}({', '.join(['{}'] * len(values))})", *values)

    def where(self, condition: Any, a: Any, b: Any) -> Any:
        if not isinstance(condition, Symbol):
            return a if condition else b
        truth = isinstance(a, Symbol) and a.truth
        return self.emit("{} ? {} : {}", condition, a, b, truth=truth)

    def minimum(self, a: Any, b: Any) -> Any:
        return self.call("fminf", a, b)

    def maximum(self, a: Any, b: Any) -> Any:
        return self.call("fmaxf", a, b)

    def clip(self, x: Any, low: Any = None, high: Any = None, *, min: Any = None) -> Any:
        low = min if low is None else low
        if low is not None:
            x = self.call("fmaxf", x, low)
        return x if high is None else self.call("fminf", x, high)

    def hypot(self, a: Any, b: Any) -> Any:
        return self.call("sqrtf", a * a + b * b)

    def atan2(self, a: Any, b: Any) -> Any:
        return self.call("atan2f", a, b)

    def sqrt(self, x: Any) -> Any:
        return self.call("sqrtf", x)

    def exp(self, x: Any) -> Any:
        return self.call("expf", x)

    def log(self, x: Any) -> Any:
        return self.call("logf", x)

    def sin(self, x: Any) -> Any:
        return self.call("sinf", x)

    def cos(self, x: Any) -> Any:
        return self.call("cosf", x)

    def floor(self, x: Any) -> Any:
        return self.call("floorf", x)

    def abs(self, x: Any) -> Any:
        return self.call("fabsf", x)


def _declared(line: Line, texts: list[str]) -> str:
    kind = "int" if line.truth else "float"
    return f"const {kind} {line.name} = {line.template.format(*texts)};"


def _is(value: Any, number: float) -> bool:
    return not isinstance(value, Symbol) and float(value) == number


def c_text(value: Any) -> str:
    """A symbol's name, or a number as a C literal."""
    if isinstance(value, Symbol):
        return value.name
    if isinstance(value, bool):
        return str(int(value))
    text = f"{float(value):.9g}"
    return (text if any(c in text for c in ".en") else text + ".0") + "f"
