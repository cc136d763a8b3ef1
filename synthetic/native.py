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
from functools import cache
from pathlib import Path

import numpy as np

from fittings.words import Kind
from synthetic.packing import NAMES, Numbers
from synthetic.render import Layer, Stages, as_layer, plain_stages
from synthetic.tracing import OUTPUTS, c_source

_COMPILE = ("-O3", "-march=native", "-ffast-math", "-fPIC")
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
    source = c_source()
    # Preprocessing nothing, verbosely: version, target, and what "native" stands for here.
    about = [compiler, *_COMPILE, "-v", "-E", "-x", "c", os.devnull]
    words = "\n".join([source, *_COMPILE, _output_of(about, what="the C compiler")])
    path = folder / f"{hashlib.sha256(words.encode()).hexdigest()[:24]}.so"
    if path.exists():
        return path
    folder.mkdir(parents=True, exist_ok=True, mode=0o700)
    print("seamtriage: compiling the renderer, once (about a minute) …", file=sys.stderr)
    with tempfile.TemporaryDirectory(dir=folder) as scratch:
        text, code, built = (Path(scratch) / f"render{end}" for end in (".c", ".o", ".so"))
        text.write_text(source, encoding="utf-8")
        compile_ = [compiler, *_COMPILE, "-c", str(text), "-o", str(code)]
        _output_of(compile_, what="compiling the renderer")
        # Linked without -ffast-math, with which GCC would switch this whole process to flushing
        # denormal numbers.
        link = [compiler, "-shared", str(code), "-o", str(built), "-lm"]
        _output_of(link, what="linking the renderer")
        built.replace(path)
    return path


class NativeItems:
    """`item` renders items like `synthetic.render.item_layer`, on one processor core."""

    def __init__(self, path: Path) -> None:
        loaded = ctypes.CDLL(str(path))
        self._functions: dict[Kind | None, Callable[..., None]] = {}
        for kind in (*(k for k in Kind if k is not Kind.NONE), None):
            function = loaded[f"render_{kind.value if kind else 'none'}"]
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
