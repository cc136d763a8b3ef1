"""The renderer compiled for this machine's processor.

`synthetic.tracing`'s C source is built once with the system's C compiler and kept in the user's
cache folder.

It gives the pictures of the numpy renderer to within rounding, several times faster, and is never
needed: without a compiler `native_stages` is None and numpy does the work.
"""

from __future__ import annotations

import ctypes
import hashlib
import os
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from pathlib import Path

import numpy as np

from fittings.words import Kind
from synthetic.packing import NAMES, Numbers
from synthetic.render import Layer, Stages, as_layer, plain_stages
from synthetic.tracing import OUTPUTS, RENDERED, c_source, function_name

_COMPILE = ("-march=native", "-ffast-math", "-fPIC")
_OPTIMISE_GCC = ("-O1", "-ftree-loop-vectorize", "-fvect-cost-model=dynamic")
"""GCC 12 at -O2 and -O3 takes two to three times as long over our straight lines and then no longer
sees how to do several pixels at once: -O3 was 3.4 times slower on a tee than this."""
_OPTIMISE = ("-O3",)
_AT_ONCE = 2
"""Compilers at a time; each takes up to 1.8 GB."""
_FLOATS = ctypes.POINTER(ctypes.c_float)


class NativeError(Exception):
    """Why there is no compiled renderer, in one line."""


def cache_folder() -> Path:
    """Where compiled renderers are kept: the user's own cache folder."""
    base = os.environ.get("XDG_CACHE_HOME")
    return (Path(base) if base else Path.home() / ".cache") / "seamtriage" / "render"


def _output_of(command: list[str], *, what: str) -> str:
    """What the command prints; NativeError with its last line when it fails."""
    try:
        done = subprocess.run(
            command, capture_output=True, text=True, check=False, stdin=subprocess.DEVNULL
        )
    except OSError as error:
        raise NativeError(f"{what} could not be started: {error}") from error
    if done.returncode != 0:
        last = (done.stderr.strip() or "no message").splitlines()[-1]
        raise NativeError(f"{what} failed: {last}")
    return done.stdout + done.stderr


def library(folder: Path) -> Path:
    """The compiled renderer's file in `folder`, built first where it is missing.

    Its name holds a hash of the source, the options, and what the compiler says about itself and
    this processor, so that a folder may serve several machines. NativeError when there is no
    compiler or it fails, OSError when the folder can't be written.
    """
    compiler = next(filter(None, map(shutil.which, ("cc", "gcc", "clang"))), None)
    if compiler is None:
        raise NativeError("no C compiler found (cc, gcc or clang)")
    sources = [c_source(kind) for kind in RENDERED]
    # Preprocessing nothing, verbosely: version, target, and what "native" stands for here.
    about = [compiler, *_COMPILE, "-v", "-E", "-x", "c", os.devnull]
    told = _output_of(about, what="the C compiler")
    options = (*_COMPILE, *(_OPTIMISE_GCC if "gcc version" in told else _OPTIMISE))
    words = "\n".join([*sources, *options, told])
    path = folder / f"{hashlib.sha256(words.encode()).hexdigest()[:24]}.so"
    if path.exists():
        return path
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    print("seamtriage: compiling the renderer, once (about a minute) …", file=sys.stderr)

    with tempfile.TemporaryDirectory(dir=folder) as scratch:

        def compiled(number: int) -> str:
            text, code = (Path(scratch) / f"{number}{end}" for end in (".c", ".o"))
            text.write_text(sources[number], encoding="utf-8")
            command = [compiler, *options, "-c", str(text), "-o", str(code)]
            _output_of(command, what="compiling the renderer")
            return str(code)

        with ThreadPoolExecutor(_AT_ONCE) as compilers:
            codes = list(compilers.map(compiled, range(len(sources))))
        built = Path(scratch) / "render.so"
        # Linked without -ffast-math, with which GCC would switch this whole process to flushing
        # denormal numbers.
        link = [compiler, "-shared", *codes, "-o", str(built), "-lm"]
        _output_of(link, what="linking the renderer")
        built.replace(path)
    return path


class NativeItems:
    """`item` renders items like `synthetic.render.item_layer`, on one processor core."""

    def __init__(self, path: Path) -> None:
        loaded = ctypes.CDLL(str(path))
        self._functions: dict[Kind | None, Callable[..., None]] = {}
        for kind in RENDERED:
            function = loaded[function_name(kind)]
            function.argtypes = [_FLOATS, ctypes.c_int, ctypes.c_int, _FLOATS]
            function.restype = None
            self._functions[kind] = function

    def item(self, kind: Kind | None, n: Numbers, width: int, height: int) -> Layer:
        """Items of one kind as (B, N) float32 planes, N = width · height."""
        rows = np.ascontiguousarray(n.rows, np.float32)
        if rows.ndim != 2 or rows.shape[1] != len(NAMES):
            raise ValueError(f"rows must be (B, {len(NAMES)}), not {rows.shape}")
        out = np.empty((len(rows), len(OUTPUTS), width * height), np.float32)
        for row, planes in zip(rows, out, strict=True):
            self._functions[kind](
                row.ctypes.data_as(_FLOATS), width, height, planes.ctypes.data_as(_FLOATS)
            )
        return as_layer(out.swapaxes(0, 1))


@cache
def native_stages() -> Stages | None:
    """Stages for `synthetic.render.render` with a compiled "item"; None, with one line on standard
    error the first time, where nothing can be compiled."""
    try:
        items = NativeItems(library(cache_folder()))
    except (NativeError, OSError) as error:
        print(f"seamtriage: {error}; rendering with numpy, which is slower.", file=sys.stderr)
        return None
    return plain_stages() | {"item": items.item}
