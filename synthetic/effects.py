"""From radiance to the file a phone would have written: exposure, colour, blur, noise, JPEG.

Pictures are (B, 3, H, W), linear before `develop` and display values 0 to 1 (sRGB-like) after it.
"""

from __future__ import annotations

from types import ModuleType
from typing import Any

import numpy as np

from synthetic.fields import Array, hash3
from synthetic.packing import Numbers

REFERENCE_LONG_SIDE_PX = 512.0

# ITU-T T.81 Annex K, tables K.1 and K.2: the example quantisation tables of JPEG (from memory).
_LUMA = np.array([
    16, 11, 10, 16, 24, 40, 51, 61, 12, 12, 14, 19, 26, 58, 60, 55,
    14, 13, 16, 24, 40, 57, 69, 56, 14, 17, 22, 29, 51, 87, 80, 62,
    18, 22, 37, 56, 68, 109, 103, 77, 24, 35, 55, 64, 81, 104, 113, 92,
    49, 64, 78, 87, 103, 121, 120, 101, 72, 92, 95, 98, 112, 100, 103, 99,
], np.float32).reshape(8, 8)  # fmt: skip
_CHROMA = np.full((8, 8), 99, np.float32)
_CHROMA[:4, :4] = [[17, 18, 24, 47], [18, 21, 26, 66], [24, 26, 56, 99], [47, 66, 99, 99]]
_DCT = np.array(
    [
        [
            (np.sqrt(0.125) if k == 0 else 0.5) * np.cos((2 * i + 1) * k * np.pi / 16)
            for i in range(8)
        ]
        for k in range(8)
    ],
    np.float32,
)


def constants() -> dict[str, np.ndarray]:
    """The fixed arrays that `jpeg` needs, to be put on a device once."""
    return {"dct": _DCT, "luma": _LUMA, "chroma": _CHROMA}


def luma(picture: Array) -> Array:
    """(B, 3, H, W) display values → (B, H, W), Rec. 601 weights."""
    return 0.299 * picture[:, 0] + 0.587 * picture[:, 1] + 0.114 * picture[:, 2]


def _column(n: Numbers, name: str) -> Array:
    return n[name][:, :, None, None]


def develop(xp: ModuleType, n: Numbers, linear: Array) -> Array:
    """Exposure, white balance, a film-like shoulder, saturation and contrast."""
    gains = xp.stack([n[f"effects.balance.{i}"][:, 0] for i in range(3)], 1)[:, :, None, None]
    x = linear * gains * _column(n, "effects.exposure")
    x = xp.clip(x, min=0.0)
    x = x * (1.0 + x / 6.0) / (1.0 + x)
    x = xp.clip(x, 1e-6, 1.0) ** (1.0 / 2.2)
    grey = luma(x)[:, None]
    x = grey + (x - grey) * _column(n, "effects.saturation")
    x = 0.5 + (x - 0.5) * _column(n, "effects.contrast")
    height, width = linear.shape[-2], linear.shape[-1]
    ys, xs = pixel_grid(xp, linear, height, width)
    r2 = (xs / width - 0.5) ** 2 + (ys / height - 0.5) ** 2
    return xp.clip(x * (1.0 - _column(n, "effects.vignette") * r2), 0.0, 1.0)


def pixel_grid(xp: ModuleType, like: Array, height: int, width: int) -> tuple[Array, Array]:
    if xp is np:
        ys, xs = np.arange(height, dtype=np.float32), np.arange(width, dtype=np.float32)
    else:
        ys = xp.arange(height, device=like.device, dtype=like.dtype)
        xs = xp.arange(width, device=like.device, dtype=like.dtype)
    return ys[:, None] + 0.0 * xs[None, :], xs[None, :] + 0.0 * ys[:, None]


def _shifted(xp: ModuleType, x: Array, offset: int, axis: int) -> Array:
    """`x` moved by `offset` pixels along `axis`, its edge repeated."""
    if offset == 0:
        return x
    size = x.shape[axis]
    if axis == -1:
        if offset > 0:
            return xp.concat([x[..., :1]] * offset + [x[..., : size - offset]], -1)
        return xp.concat([x[..., -offset:]] + [x[..., -1:]] * -offset, -1)
    if offset > 0:
        return xp.concat([x[..., :1, :]] * offset + [x[..., : size - offset, :]], -2)
    return xp.concat([x[..., -offset:, :]] + [x[..., -1:, :]] * -offset, -2)


def gaussian(xp: ModuleType, x: Array, sigma_px: Array, axis: int, reach: int = 4) -> Array:
    """Gaussian blur along one axis; `sigma_px` is (B, 1, 1, 1)."""
    square = xp.clip(sigma_px, min=0.05) ** 2
    total: Any = 0.0
    norm: Any = 0.0
    for offset in range(-reach, reach + 1):
        weight = xp.exp(-0.5 * offset * offset / square)
        total = total + weight * _shifted(xp, x, offset, axis)
        norm = norm + weight
    return total / norm


def expose(xp: ModuleType, n: Numbers, picture: Array) -> Array:
    """Lens and sensor: blur, noise, and the phone's own sharpening, on display values."""
    height, width = picture.shape[-2], picture.shape[-1]
    scale = max(height, width) / REFERENCE_LONG_SIDE_PX
    x = gaussian(xp, picture, _column(n, "effects.blur_x_px") * scale, -1)
    x = gaussian(xp, x, _column(n, "effects.blur_y_px") * scale, -2)
    ys, xs = pixel_grid(xp, picture, height, width)
    ys, xs = ys[None], xs[None]
    seed = n["noise_seed"][:, :, None]
    common = _bell(xp, xs, ys, seed)
    noise = []
    for i in range(3):
        own = _bell(xp, xs, ys, seed + 20.0 * (i + 1))
        strength = _column(n, "effects.noise")[:, 0] * common
        noise.append(strength + _column(n, "effects.colour_noise")[:, 0] * own)
    x = x + xp.stack(noise, 1) * (0.4 + xp.sqrt(xp.clip(x, min=0.0)))
    soft = gaussian(
        xp,
        gaussian(xp, x, _column(n, "effects.blur_x_px") * 0.0 + 1.2 * scale, -1),
        _column(n, "effects.blur_x_px") * 0.0 + 1.2 * scale,
        -2,
    )
    return xp.clip(x + _column(n, "effects.sharpen") * (x - soft), 0.0, 1.0)


def _bell(xp: ModuleType, xs: Array, ys: Array, seed: Array) -> Array:
    """Roughly normal noise, variance 1, from three uniform hashes."""
    total = (
        hash3(xp, xs, ys, seed) + hash3(xp, xs, ys, seed + 101.0) + hash3(xp, ys, xs, seed + 57.0)
    )
    return (total - 1.5) * 2.0


def jpeg(xp: ModuleType, n: Numbers, picture: Array, fixed: dict[str, Array]) -> Array:
    """What JPEG at the scene's quality leaves of the picture (sides divisible by 16)."""
    quality = xp.clip(_column(n, "effects.jpeg_quality"), 5.0, 98.0)
    factor = xp.where(quality < 50.0, 50.0 / quality, 2.0 - quality / 50.0)
    x = picture * 255.0
    y = luma(x) - 128.0
    cb = 0.564 * (x[:, 2] - y - 128.0)
    cr = 0.713 * (x[:, 0] - y - 128.0)
    y = _block_round(xp, y, fixed["luma"], factor, fixed["dct"])
    small = []
    for c in (cb, cr):
        c = 0.25 * (c[:, ::2, ::2] + c[:, 1::2, ::2] + c[:, ::2, 1::2] + c[:, 1::2, 1::2])
        c = _block_round(xp, c, fixed["chroma"], factor, fixed["dct"])
        b, h, w = c.shape
        c = xp.stack([c, c], 3).reshape(b, h, 2 * w)
        small.append(xp.stack([c, c], 2).reshape(b, 2 * h, 2 * w))
    cb, cr = small
    y = y + 128.0
    rgb = xp.stack([y + 1.403 * cr, y - 0.344 * cb - 0.714 * cr, y + 1.773 * cb], 1)
    on = _column(n, "effects.jpeg_quality") > 1.0
    return xp.where(on, xp.clip(rgb / 255.0, 0.0, 1.0), picture)


def _block_round(xp: ModuleType, x: Array, table: Array, factor: Array, dct: Array) -> Array:
    """Round the DCT of each 8 × 8 block of (B, H, W) to multiples of `table` · `factor`."""
    b, h, w = x.shape
    rows = xp.matmul(x.reshape(b, h // 8, 8, w // 8, 8), dct.T)
    coefficients = xp.matmul(rows.swapaxes(2, 4), dct.T)  # horizontal frequency on axis 2
    step = xp.clip(table.T[:, None, :] * factor[:, :, :, :, None], min=1.0)
    rounded = xp.round(coefficients / step) * step
    rows = xp.matmul(rounded, dct).swapaxes(2, 4)
    return xp.matmul(rows, dct).reshape(b, h, w)
