"""The renderer on a GPU: `synthetic.tracing`'s CUDA kernels, compiled once and launched on torch's
stream. Needs an NVIDIA GPU and the CUDA build of torch (which brings the compiler library)."""

from __future__ import annotations

import ctypes
import hashlib
from pathlib import Path
from typing import Any

import torch
from cuda.bindings import driver, nvrtc

from fittings.words import Kind
from synthetic.packing import Numbers
from synthetic.render import Layer, as_layer
from synthetic.tracing import OUTPUTS, cuda_source

_THREADS = 128
_OPTIONS = ("-ftz=true", "-prec-div=false", "-prec-sqrt=false", "-fmad=true")


def _checked(result: tuple) -> Any:
    error, *values = result
    if int(error) != 0:
        raise RuntimeError(f"CUDA: {error!r}")
    return values[0] if len(values) == 1 else values


def compile_kernels(architecture: str, cache: Path) -> bytes:
    """Machine code for an architecture such as "sm_90"; kept in `cache` under the source's hash."""
    source = cuda_source()
    key = hashlib.sha256("\n".join([source, architecture, *_OPTIONS]).encode()).hexdigest()[:24]
    path = cache / f"{key}.cubin"
    if path.exists():
        return path.read_bytes()
    program = _checked(nvrtc.nvrtcCreateProgram(source.encode(), b"render.cu", 0, [], []))
    options = [f"--gpu-architecture={architecture}".encode(), *(o.encode() for o in _OPTIONS)]
    result = nvrtc.nvrtcCompileProgram(program, len(options), options)
    if int(result[0]) != 0:
        log = b" " * _checked(nvrtc.nvrtcGetProgramLogSize(program))
        nvrtc.nvrtcGetProgramLog(program, log)
        raise RuntimeError(f"the render kernels did not compile:\n{log.decode()[:4000]}")
    code = b" " * _checked(nvrtc.nvrtcGetCUBINSize(program))
    _checked(nvrtc.nvrtcGetCUBIN(program, code))
    cache.mkdir(parents=True, exist_ok=True)
    temporary = path.with_suffix(f".{id(code)}.part")
    temporary.write_bytes(code)
    temporary.rename(path)
    return code


class CudaItems:
    """`item` renders items like `synthetic.render.item_layer`, on one CUDA device."""

    def __init__(self, device: torch.device, cache: Path = Path("runs/kernels")) -> None:
        self.device = device
        torch.zeros(1, device=device)  # makes the device's context
        major, minor = torch.cuda.get_device_capability(device)
        code = compile_kernels(f"sm_{major}{minor}", cache)
        with torch.cuda.device(device):
            self._module = _checked(driver.cuModuleLoadData(code))
            self._kernels: dict[Kind | None, Any] = {
                kind: _checked(
                    driver.cuModuleGetFunction(
                        self._module, f"render_{kind.value if kind else 'none'}".encode()
                    )
                )
                for kind in (*(k for k in Kind if k is not Kind.NONE), None)
            }

    def item(self, kind: Kind | None, n: Numbers, width: int, height: int) -> Layer:
        rows = n.rows.contiguous()
        items, numbers = rows.shape
        out = torch.empty((len(OUTPUTS), items, width * height), device=self.device)
        values = (rows.data_ptr(), numbers, items, width, height, out.data_ptr())
        types = (ctypes.c_void_p, *(ctypes.c_int,) * 4, ctypes.c_void_p)
        with torch.cuda.device(self.device):
            stream = driver.CUstream(torch.cuda.current_stream(self.device).cuda_stream)
            blocks = -(-width * height // _THREADS)
            _checked(
                driver.cuLaunchKernel(
                    self._kernels[kind], blocks, items, 1, _THREADS, 1, 1, 0, stream,
                    (values, types), 0,
                )
            )  # fmt: skip
        return as_layer(out)
