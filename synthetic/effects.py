"""From radiance to the file that reaches a reader: lens, phone, screenshot, messenger.

Pictures are (B, 3, H, W), linear before `develop` and display values 0 to 1 (sRGB-like) after it.
In order: `develop` (veil, exposure, tone), `expose` (blur, noise, denoising, sharpening), the
phone's own JPEG, `framed` (bars, stamp), `rescaled` (small and large again), JPEG once more.
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
    """Stray light, exposure, white balance, tone curve, saturation, contrast, vignette."""
    height, width = linear.shape[-2], linear.shape[-1]
    ys, xs = pixel_grid(xp, linear, height, width)
    down, across = (ys + 0.5) / height - 0.5, (xs + 0.5) / width - 0.5
    gains = xp.stack([n[f"effects.balance.{i}"][:, 0] for i in range(3)], 1)[:, :, None, None]
    x = xp.clip(linear * _column(n, "effects.exposure"), min=0.0)
    # Stray light is spread evenly (haze, a greasy lens) or in a soft spot (a finger's smudge).
    size = _column(n, "effects.smudge_size")
    off_x = (across - _column(n, "effects.smudge_across")) / size
    off_y = (down - _column(n, "effects.smudge_down")) / size
    spot = _column(n, "effects.smudge") * xp.exp(-off_x * off_x - off_y * off_y)
    veil = xp.clip(_column(n, "effects.veil") + spot, 0.0, 0.9)
    x = (x + (0.75 - x) * veil) * gains
    shoulder = x * (1.0 + x / 6.0) / (1.0 + x)
    x = shoulder + (xp.clip(x, 0.0, 1.0) - shoulder) * _column(n, "effects.hard_clip")
    x = xp.clip(x, 1e-6, 1.0) ** (1.0 / 2.2)
    around = 1.0 - _surroundings(xp, luma(x))[:, None]
    x = x * (1.0 + _column(n, "effects.lift") * around * around)  # dark regions are lifted
    grey = luma(x)[:, None]
    x = grey + (x - grey) * _column(n, "effects.saturation")
    x = 0.5 + (x - 0.5) * _column(n, "effects.contrast")
    fade = _column(n, "effects.fade")
    x = xp.clip(x, 0.0, 1.0) * (1.0 - 1.6 * fade) + fade
    r2 = across * across + down * down
    return xp.clip(x * (1.0 - _column(n, "effects.vignette") * r2), 0.0, 1.0)


def _surroundings(xp: ModuleType, x: Array) -> Array:
    """(B, H, W) → each pixel's wide surroundings: means of 16 × 16 pixels, joined smoothly."""
    b, h, w = x.shape
    small = x.reshape(b, h // 16, 16, w // 16, 16).mean(4).mean(2)
    return xp.matmul(xp.matmul(_tents(xp, x, h), small), _tents(xp, x, w).T)


def _tents(xp: ModuleType, like: Array, size: int) -> Array:
    """(size, size / 16) weights of linear interpolation between blocks of 16, edges repeated."""
    at, block = pixel_grid(xp, like, size, size // 16)
    place = xp.clip((at + 0.5) / 16.0 - 0.5, 0.0, size / 16.0 - 1.0)
    return xp.clip(1.0 - xp.abs(place - block), min=0.0)


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


_PAD = 16  # pixels of repeated edge, so that a blur does not reach round to the other side


def lens(xp: ModuleType, n: Numbers, picture: Array) -> Array:
    """Focus blur (Gaussian, `blur_px` its sigma) and motion blur (a line of `motion_px` at
    `motion_deg`) of (B, C, H, W), by their transfer functions."""
    height, width = picture.shape[-2], picture.shape[-1]
    scale = max(height, width) / REFERENCE_LONG_SIDE_PX
    x = xp.concat([picture[..., :1]] * _PAD + [picture] + [picture[..., -1:]] * _PAD, -1)
    x = xp.concat([x[..., :1, :]] * _PAD + [x] + [x[..., -1:, :]] * _PAD, -2)
    tall, wide = height + 2 * _PAD, width + 2 * _PAD
    fy, fx = pixel_grid(xp, picture, tall, wide // 2 + 1)
    fy, fx = xp.where(fy > tall / 2, fy - tall, fy) / tall, fx / wide
    sigma = _column(n, "effects.blur_px") * scale
    length = _column(n, "effects.motion_px") * scale
    turn = _column(n, "effects.motion_deg") * (np.pi / 180.0)
    transfer = xp.exp((-2.0 * np.pi**2) * sigma * sigma * (fx * fx + fy * fy))
    transfer = transfer * xp.sinc(length * (fx * xp.cos(turn) + fy * xp.sin(turn)))
    x = xp.fft.irfft2(xp.fft.rfft2(x) * transfer, s=(tall, wide))
    return x[..., _PAD : _PAD + height, _PAD : _PAD + width]


def expose(xp: ModuleType, n: Numbers, picture: Array) -> Array:
    """Lens and sensor: blur, noise, and the phone's denoising and sharpening, on display values."""
    height, width = picture.shape[-2], picture.shape[-1]
    x = lens(xp, n, picture)
    ys, xs = pixel_grid(xp, picture, height, width)
    ys, xs = ys[None], xs[None]
    seed = n["noise_seed"][:, :, None]
    common = _bell(xp, xs, ys, seed)[:, None]
    own = xp.stack([_bell(xp, xs, ys, seed + 20.0 * (i + 1)) for i in range(3)], 1)
    noise = _column(n, "effects.noise") * common + _column(n, "effects.colour_noise") * own
    noise = noise + _blotches(xp, n, common, own)
    x = x + noise * noise_at(xp, x)
    return xp.clip(processed(xp, n, x), 0.0, 1.0)


def noise_at(xp: ModuleType, x: Array) -> Array:
    """How the noise's strength goes with the display value."""
    return 0.4 + xp.sqrt(xp.clip(x, min=0.0))


def _blotches(xp: ModuleType, n: Numbers, common: Array, own: Array) -> Array:
    """What a phone's denoiser leaves of strong noise, (B, 3, H, W): soft blotches of brightness,
    and of colour twice as wide, of the strengths that the scene says."""
    height, width = own.shape[-2], own.shape[-1]
    sigma = _column(n, "effects.blotch_px") * (max(height, width) / REFERENCE_LONG_SIDE_PX)
    fy, fx = pixel_grid(xp, own, height, width // 2 + 1)
    fy, fx = xp.where(fy > height / 2, fy - height, fy) / height, fx / width
    falling = (-2.0 * np.pi**2) * sigma * sigma * (fx * fx + fy * fy)
    # Gaussian of `sigma` of white noise leaves 1 / (2 sigma sqrt(pi)) of its strength.
    fine = xp.exp(falling) * _column(n, "effects.blotch") * _spread(xp, sigma)
    coarse = xp.exp(4.0 * falling) * _column(n, "effects.colour_blotch")
    coarse = coarse * _spread(xp, 2.0 * sigma)
    # The same noise as before, put elsewhere, so that the two have nothing in common.
    spectrum = xp.fft.rfft2(xp.flip(common, (-1,))) * fine
    spectrum = spectrum + xp.fft.rfft2(xp.flip(own, (-1,))) * coarse
    return xp.fft.irfft2(spectrum, s=(height, width))


def _spread(xp: ModuleType, sigma: Array) -> Array:
    """What brings white noise back to its strength after a Gaussian blur of `sigma` pixels."""
    return xp.sqrt(1.0 + (4.0 * np.pi) * sigma * sigma)


def processed(xp: ModuleType, n: Numbers, x: Array) -> Array:
    """Denoising and sharpening of (B, 3 or 1, H, W).

    Denoising takes detail away where it is faint, and in the colours everywhere; sharpening
    strengthens what is left, with halos as wide as `sharpen_px`.
    """
    scale = max(x.shape[-2], x.shape[-1]) / REFERENCE_LONG_SIDE_PX
    sigma = _column(n, "effects.sharpen_px") * scale
    soft = gaussian(xp, gaussian(xp, x, sigma, -1), sigma, -2)
    detail = x - soft
    grey = luma(detail)[:, None] if detail.shape[1] == 3 else detail
    faint = grey / (0.015 + 2.0 * _column(n, "effects.noise"))
    kept = 1.0 - _column(n, "effects.smear") * xp.exp(-faint * faint)
    coloured = (detail - grey) * (1.0 - _column(n, "effects.chroma_smear"))
    detail = (grey + coloured) * kept
    return soft + detail * (1.0 + _column(n, "effects.sharpen"))


def table_factor(xp: ModuleType, quality: Array) -> Array:
    """What the example tables are multiplied by, (B, 1, 1, 1), as common encoders do it."""
    quality = xp.clip(quality[:, :, None, None], 5.0, 98.0)
    return xp.where(quality < 50.0, 50.0 / quality, 2.0 - quality / 50.0)


def covered(xp: ModuleType, n: Numbers, like: Array) -> Array:
    """(B, H, W) true where bars or a stamp's box hide the picture; `like` is (B, C, H, W)."""
    height, width = like.shape[-2], like.shape[-1]
    ys, xs = pixel_grid(xp, like, height, width)
    down, across = (ys + 0.5) / height, (xs + 0.5) / width

    def number(name: str) -> Array:
        return n["effects." + name][:, :, None]

    bars = (across < number("bar_left")) | (across > 1.0 - number("bar_right"))
    bars = bars | (down < number("bar_top")) | (down > 1.0 - number("bar_bottom"))
    u, v = _stamp_place(xp, n, like)
    box = (u > -0.5) & (u < _LETTERS + 0.3) & (v > -0.5) & (v < 1.5)
    return bars | (box & (number("stamp_box") > 0.5))


_LETTERS = 10.0  # a stamp's row of signs


def _stamp_place(xp: ModuleType, n: Numbers, like: Array) -> tuple[Array, Array]:
    """Where pixels lie on the stamp (B, H, W): u counts signs, v is 0 to 1 over their height."""
    height, width = like.shape[-2], like.shape[-1]
    ys, xs = pixel_grid(xp, like, height, width)

    def number(name: str) -> Array:
        return n["effects." + name][:, :, None]

    tall = number("stamp_size") * max(height, width)
    down = (ys + 0.5 - height * (0.5 + number("stamp_down"))) / tall + 0.5
    across = (xs + 0.5 - width * (0.5 + number("stamp_across"))) / (0.7 * tall) + 0.5 * _LETTERS
    return across, down


def framed(xp: ModuleType, n: Numbers, picture: Array) -> Array:
    """Bars and stamp laid over the picture. A stamp is a row of signs made of strokes by chance,
    like a printed date that no one can read."""
    hidden = covered(xp, n, picture)[:, None]
    bar = xp.stack([n[f"effects.bar_rgb.{i}"] for i in range(3)], 1)[:, :, :, None]
    x = xp.where(hidden, bar, picture)
    u, v = _stamp_place(xp, n, picture)
    sign = xp.floor(u)
    column, row = xp.floor((u - sign) * 4.0), xp.floor(v * 5.0)
    ink = hash3(xp, sign * 3.0 + column, row, n["noise_seed"][:, :, None]) > 0.45
    ink = ink & (u > 0.0) & (u < _LETTERS) & (v > 0.0) & (v < 1.0) & (column < 2.5)
    strength = xp.where(ink, n["effects.stamp"][:, :, None], 0.0)[:, None]
    colour = xp.stack([n[f"effects.stamp_rgb.{i}"] for i in range(3)], 1)[:, :, :, None]
    return x + (colour - x) * strength


def rescaled(xp: ModuleType, n: Numbers, picture: Array) -> Array:
    """(B, C, H, W) scaled down by `scale`, each small pixel a weighted mean, and up again by linear
    interpolation."""
    scale = n["effects.scale"][:, :, None]
    x = xp.matmul(_there_and_back(xp, picture, scale, picture.shape[-2])[:, None], picture)
    back = _there_and_back(xp, picture, scale, picture.shape[-1]).swapaxes(1, 2)
    x = xp.matmul(x, back[:, None])
    return xp.where(scale[:, None] < 0.999, x, picture)


def _there_and_back(xp: ModuleType, like: Array, scale: Array, size: int) -> Array:
    """(B, size, size) weights of scaling one axis down and up again; `scale` is (B, 1, 1)."""
    row, column = pixel_grid(xp, like, size, size)
    # Small pixel `row` has its centre here, in large pixels; each is as wide as 1 / scale of them.
    centre = (row + 0.5) / scale - 0.5
    down = xp.clip(1.0 - xp.abs(column - centre) * scale, min=0.0)
    down = down / xp.clip(down.sum(-1)[:, :, None], min=1e-6)
    last = xp.floor(size * scale) - 1.0
    place = xp.minimum(xp.clip((row + 0.5) * scale - 0.5, min=0.0), last)
    up = xp.clip(1.0 - xp.abs(place - column), min=0.0)
    return xp.matmul(up, down)


def _bell(xp: ModuleType, xs: Array, ys: Array, seed: Array) -> Array:
    """Roughly normal noise, variance 1, from three uniform hashes."""
    total = (
        hash3(xp, xs, ys, seed) + hash3(xp, xs, ys, seed + 101.0) + hash3(xp, ys, xs, seed + 57.0)
    )
    return (total - 1.5) * 2.0


def finished(xp: ModuleType, n: Numbers, picture: Array, fixed: dict[str, Array]) -> Array:
    """From the phone's picture to the pixels of the file as it arrives, in whole 8-bit levels."""
    x = framed(xp, n, first_jpeg(xp, n, picture, fixed))
    x = jpeg(xp, n, rescaled(xp, n, x), fixed)
    return xp.round(xp.clip(x, 0.0, 1.0) * 255.0) / 255.0


def first_jpeg(xp: ModuleType, n: Numbers, picture: Array, fixed: dict[str, Array]) -> Array:
    """JPEG as the phone wrote it, its blocks out of step with the picture by whole pixels, because
    the picture has been cropped since."""
    across, down = n["effects.grid_across_px"], n["effects.grid_down_px"]
    quality = n["effects.first_jpeg_quality"]
    x = _coded(xp, quality, rolled(xp, picture, across, down), fixed)
    return xp.where(quality[:, :, None, None] > 1.0, rolled(xp, x, -across, -down), picture)


def rolled(xp: ModuleType, x: Array, across: Array, down: Array) -> Array:
    """(B, C, H, W) rolled by whole pixels, another number for each picture."""
    b, c, h, w = x.shape
    ys, xs = pixel_grid(xp, x, h, w)
    rows = ys[None, :, 0] - down + 3.0 * h
    columns = xs[None, 0] - across + 3.0 * w
    batch, channel = pixel_grid(xp, x, b, c)
    return x[
        _whole(xp, batch[:, :1])[:, :, None, None],
        _whole(xp, channel[:1])[:, :, None, None],
        (_whole(xp, rows) % h)[:, None, :, None],
        (_whole(xp, columns) % w)[:, None, None, :],
    ]


def _whole(xp: ModuleType, x: Array) -> Array:
    """As whole numbers, for use as indices."""
    return xp.round(x).astype(np.int64) if xp is np else xp.round(x).long()


def jpeg(xp: ModuleType, n: Numbers, picture: Array, fixed: dict[str, Array]) -> Array:
    """What JPEG at the scene's quality leaves of the picture (sides divisible by 16)."""
    quality = n["effects.jpeg_quality"]
    coded = _coded(xp, quality, picture, fixed)
    return xp.where(quality[:, :, None, None] > 1.0, coded, picture)


def _coded(xp: ModuleType, quality: Array, picture: Array, fixed: dict[str, Array]) -> Array:
    """The picture through JPEG with 4:2:0 chroma; `quality` is (B, 1)."""
    factor = table_factor(xp, quality)
    x = picture * 255.0
    y = luma(x) - 128.0
    cb = 0.564 * (x[:, 2] - y - 128.0)
    cr = 0.713 * (x[:, 0] - y - 128.0)
    y = block_round(xp, y, fixed["luma"], factor, fixed["dct"])
    small = []
    for c in (cb, cr):
        c = 0.25 * (c[:, ::2, ::2] + c[:, 1::2, ::2] + c[:, ::2, 1::2] + c[:, 1::2, 1::2])
        c = block_round(xp, c, fixed["chroma"], factor, fixed["dct"])
        b, h, w = c.shape
        c = xp.stack([c, c], 3).reshape(b, h, 2 * w)
        small.append(xp.stack([c, c], 2).reshape(b, 2 * h, 2 * w))
    cb, cr = small
    y = y + 128.0
    rgb = xp.stack([y + 1.403 * cr, y - 0.344 * cb - 0.714 * cr, y + 1.773 * cb], 1)
    return xp.clip(rgb / 255.0, 0.0, 1.0)


def block_round(xp: ModuleType, x: Array, table: Array, factor: Array, dct: Array) -> Array:
    """Round the DCT of each 8 × 8 block of (B, H, W) to multiples of `table` · `factor`."""
    b, h, w = x.shape
    rows = xp.matmul(x.reshape(b, h // 8, 8, w // 8, 8), dct.T)
    coefficients = xp.matmul(rows.swapaxes(2, 4), dct.T)  # horizontal frequency on axis 2
    step = xp.clip(table.T[:, None, :] * factor[:, :, :, :, None], min=1.0)
    rounded = xp.round(coefficients / step) * step
    rows = xp.matmul(rounded, dct).swapaxes(2, 4)
    return xp.matmul(rows, dct).reshape(b, h, w)
