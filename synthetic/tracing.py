"""The rendering stages as C source, written down by running them once.

The stages are pure functions of numbers without data-dependent control flow. Run with `Symbol`s in
place of arrays and `Recorder` in place of numpy, they leave behind the straight-line C that does
the same for one pixel. One text serves a C compiler (many pixels in lanes, which it vectorises) and
a GPU (one pixel a thread); the Python functions stay the only description of a scene.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Any

from fittings.words import Kind
from synthetic import stages
from synthetic.fields import move
from synthetic.packing import NAMES, Numbers
from synthetic.recorder import Recorder, Symbol, c_text
from synthetic.scene import ABSENT_MM, MOST_PROPS
from synthetic.shapes import PROP_FORMS, to_prop
from synthetic.stages import Beam, Landing

OUTPUTS = (
    "r", "g", "b", "plain_r", "plain_g", "plain_b", "depth", "solid", "part", "along", "around",
    "seam", "slot",
)  # fmt: skip
"""What the C function writes per pixel, in the order of `synthetic.render.Layer`."""

_PLAIN = {"piece.along_weld.present": 0.0, "piece.cross_weld.present": 0.0}


class _Row(Numbers):
    """Packed numbers as reads of the C array `p`, some of them replaced by constants."""

    def __init__(self, recorder: Recorder, fixed: dict[str, float], array: str = "p") -> None:
        super().__init__(None)
        self._recorder, self._fixed, self._array = recorder, fixed, array

    __slots__ = ("_array", "_fixed", "_recorder")

    def __getitem__(self, name: str) -> Any:
        if name in self._fixed:
            return self._fixed[name]
        return self._recorder.emit(f"{self._array}[{NAMES[name]}]")


Body = Callable[[Any, Numbers, dict[str, Symbol]], Sequence[Any]]


def _block(
    inputs: Sequence[str],
    outputs: Sequence[str],
    body: Body,
    fixed: dict[str, float] | None = None,
    *,
    lanes: bool,
    array: str = "p",
) -> str:
    """C that reads the pixel variables `inputs`, runs `body`, and sets the variables `outputs`.

    With `lanes`, what is the same for all pixels stands before the loop over them.
    """
    recorder = Recorder()
    values = {name: Symbol(recorder, f"in_{name}") for name in inputs}
    results = body(recorder, _Row(recorder, fixed or {}, array), values)
    reads = [f"const float in_{name} = AT({name});" for name in inputs]
    writes = [f"AT({name}) = {c_text(v)};" for name, v in zip(outputs, results, strict=True)]
    if not lanes:
        return "LANES {\n" + "\n".join([*reads, *recorder.statements(), *writes]) + "\n}\n"
    outer, inner = recorder.parted()
    return "\n".join(["{", *outer, "LANES {", *reads, *inner, *writes, "}}", ""])


_DIRECTION = ("dir_x", "dir_y", "dir_z")
_POINT = ("pt_x", "pt_y", "pt_z")
_HERE = ("at_x", "at_y", "at_z")
_VARIABLES = (
    "across", "down", *_DIRECTION, "start", "limit", "pixel", "depth_now", "distance", *_POINT,
    *_HERE, "free", "near", "footprint", "light",
)  # fmt: skip


def _sent(n: Numbers, v: dict[str, Symbol]) -> Beam:
    return Beam(
        origin=n.several("camera.position_mm", 3),
        direction=(v["dir_x"], v["dir_y"], v["dir_z"]),
        start_mm=0.0,
        limit_mm=v["limit"],
        pixel=v["pixel"],
    )


def _past_props(distance: str, *, lanes: bool) -> str:
    """C that lowers the variable `distance` to that of the nearest prop from the point `_HERE`.

    Which props there are, and of which form, is the same for all pixels of an item: what is absent
    costs nothing, where `synthetic.shapes.props_distance` works out every form of every prop.
    """

    def nearest(xp: Any, n: Numbers, v: dict[str, Symbol], form: Any) -> Sequence[Any]:
        local = to_prop(n, "props.0", (v["at_x"], v["at_y"], v["at_z"]))
        return (xp.minimum(v[distance], form(xp, n, "props.0", local)),)

    stride = NAMES["props.1.shape"] - NAMES["props.0.shape"]
    text = [
        f"for (int k = 0; k < {MOST_PROPS}; k++) {{\n",
        f"const float* q = p + k * {stride};\n",
        f"if (q[{NAMES['props.0.position_mm.2']}] < {ABSENT_MM}f) continue;\n",
    ]
    for below, form in PROP_FORMS:
        text.append(f"if (q[{NAMES['props.0.shape']}] < {below}f) {{\n")
        body = partial(nearest, form=form)
        text.append(_block((*_HERE, distance), (distance,), body, lanes=lanes, array="q"))
        text.append("continue;\n}\n")
    return "".join([*text, "}\n"])


def pixel_source(kind: Kind | None, *, lanes: bool) -> str:
    """C statements that render the pixels of one item of that kind.

    They expect `p` (the item's row), `long_side`, the variables above through the macro AT, the
    loop macro LANES, and EVERY(condition) for leaving a loop; they set the variables in OUTPUTS.
    `lanes` says that LANES is a loop.
    """

    def start(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        side = Symbol(xp, "long_side", uniform=True)
        b = stages.beam(xp, n, v["across"], v["down"], side)
        return (*b.direction, b.start_mm, b.limit_mm, b.pixel, b.start_mm, 1.0e30)

    # `march` and `sunlight` in three parts each, with the props between.
    def step(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        direction = (v["dir_x"], v["dir_y"], v["dir_z"])
        here = move(n.several("camera.position_mm", 3), direction, v["depth_now"])
        return (*here, stages.piece_distance(xp, kind, n, here))

    def go_on(xp: Any, _: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        return (stages.farther(xp, v["limit"], v["depth_now"], v["distance"]),)

    def land(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        place: Landing = stages.landing(xp, n, _sent(n, v), v["depth_now"], v["distance"])
        return (*place.point, place.near_mm, place.footprint_mm, 1.0)

    def towards_sun(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        point = (v["pt_x"], v["pt_y"], v["pt_z"])
        here = move(point, n.several("light.sun", 3), v["near"])
        return (*here, stages.piece_distance(xp, kind, n, here))

    def shadowed(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        return stages.shadowed(xp, n, v["free"], v["near"], v["light"])

    def look(xp: Any, n: Numbers, v: dict[str, Symbol]) -> Sequence[Any]:
        sent = _sent(n, v)
        g = stages.geometry(xp, kind, n, sent, v["depth_now"], v["distance"], v["footprint"])
        rgb = stages.shade(xp, n, g, sent.direction, v["light"], v["footprint"])
        truth = (g.depth_mm, g.solid, g.part, g.along, g.around, g.seam, g.slot)
        return (*rgb, *truth)

    seen = (*_DIRECTION, "limit", "pixel", "depth_now", "distance", "light", "footprint")
    marching = (*_DIRECTION, "limit", "pixel", "depth_now")
    colours, plain, truth = OUTPUTS[:3], OUTPUTS[3:6], OUTPUTS[6:]
    text = [
        _block(
            ("across", "down"),
            (*_DIRECTION, "start", "limit", "pixel", "depth_now", "distance"),
            start,
            lanes=lanes,
        ),
        f"for (int step = 0; step < {stages.MARCH_STEPS}; step++) {{\n",
        _block((*_DIRECTION, "depth_now"), (*_HERE, "distance"), step, lanes=lanes),
        _past_props("distance", lanes=lanes),
        _block(("limit", "depth_now", "distance"), ("depth_now",), go_on, lanes=lanes),
        f"EVERY(AT(distance) <= {stages.ARRIVED}f * AT(depth_now) * AT(pixel)"
        " || AT(depth_now) >= AT(limit))\n}\n",
        _block((*marching, "distance"), (*_POINT, "near", "footprint", "light"), land, lanes=lanes),
        f"for (int step = 0; step < {stages.SHADOW_STEPS}; step++) {{\n",
        _block((*_POINT, "near"), (*_HERE, "free"), towards_sun, lanes=lanes),
        _past_props("free", lanes=lanes),
        _block(("free", "near", "light"), ("near", "light"), shadowed, lanes=lanes),
        f"EVERY(AT(near) >= {stages.SHADOW_REACH}f * p[{NAMES['piece.radius_mm']}]"
        " || AT(light) <= 0.001f || fabsf(AT(pt_x)) + fabsf(AT(pt_y)) >= 1e5f)\n}\n",
        _block(seen, (*colours, *truth), look, lanes=lanes),
    ]
    if kind is None:
        text += [f"LANES {{ AT({a}) = AT({b}); }}\n" for a, b in zip(plain, colours, strict=True)]
    else:
        text.append(_block(seen, plain, lambda xp, n, v: look(xp, n, v)[:3], _PLAIN, lanes=lanes))
    return "".join(text)


def declared() -> tuple[str, ...]:
    """Names of all pixel variables that `pixel_source` uses."""
    return (*_VARIABLES, *OUTPUTS)


_LANES_PER_BLOCK = 64

RENDERED: tuple[Kind | None, ...] = (*(kind for kind in Kind if kind is not Kind.NONE), None)
"""What has a function of its own: each kind of fitting, and None for what has no fitting."""


def function_name(kind: Kind | None) -> str:
    """What the function that renders an item of this kind is called."""
    return f"render_{kind.value if kind else 'none'}"


def c_source(kind: Kind | None) -> str:
    """C of `render_<kind>(p, width, height, out)`, which writes OUTPUTS planes of H · W floats."""
    # Side by side, sine and cosine of one angle become one call that no compiler vectorises.
    lines = ["#include <math.h>", "#define cosf(x) sinf((x) + 1.57079633f)"]
    lines += [f"#define N {_LANES_PER_BLOCK}", "#define AT(v) v[lane]"]
    lines += ['#define LANES _Pragma("GCC ivdep") for (int lane = 0; lane < N; lane++)']
    lines += [
        "#define EVERY(c) { int all = 1; for (int lane = 0; lane < N; lane++) all &= (c); "
        "if (all) break; }"
    ]
    lines += [
        f"void {function_name(kind)}"
        "(const float* restrict p, int width, int height, float* restrict out) {",
        "const float long_side = (float)(width > height ? width : height);",
        "const int total = width * height;",
        "for (int first = 0; first < total; first += N) {",
        *(f"float {name}[N];" for name in declared()),
        "LANES { const int i = first + lane < total ? first + lane : total - 1;",
        "across[lane] = ((float)(i % width) + 0.5f - 0.5f * (float)width) / long_side;",
        "down[lane] = ((float)(i / width) + 0.5f - 0.5f * (float)height) / long_side; }",
        pixel_source(kind, lanes=True),
        "for (int lane = 0; lane < N && first + lane < total; lane++) {",
        *(
            f"out[(long){i} * total + first + lane] = {name}[lane];"
            for i, name in enumerate(OUTPUTS)
        ),
        "}}}",
    ]
    return "\n".join(lines)


def cuda_source() -> str:
    """CUDA kernels: `render_<kind>(rows, numbers, items, width, height, out)`, one thread a pixel;
    `out` is OUTPUTS planes of items · H · W floats."""
    lines = ["#define AT(v) v", "#define LANES", "#define EVERY(c) if (c) break;"]
    for kind in RENDERED:
        lines += [
            f'extern "C" __global__ void {function_name(kind)}'
            "(const float* __restrict__ rows, int numbers, int items, int width, int height, "
            "float* __restrict__ out) {",
            "const int total = width * height;",
            "const int i = blockIdx.x * blockDim.x + threadIdx.x;",
            "if (i >= total) return;",
            "const float* __restrict__ p = rows + (long long)blockIdx.y * numbers;",
            "const float long_side = (float)(width > height ? width : height);",
            *(f"float {name};" for name in declared()),
            "across = ((float)(i % width) + 0.5f - 0.5f * (float)width) / long_side;",
            "down = ((float)(i / width) + 0.5f - 0.5f * (float)height) / long_side;",
            pixel_source(kind, lanes=False),
            "const long long at = (long long)blockIdx.y * total + i;",
            "const long long plane = (long long)items * total;",
            *(f"out[{i} * plane + at] = {name};" for i, name in enumerate(OUTPUTS)),
            "}",
        ]
    return "\n".join(lines)
