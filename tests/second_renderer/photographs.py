"""From radiance to the pixels of a phone's photograph."""

from __future__ import annotations

import io
from dataclasses import dataclass

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image

Array = NDArray[np.float64]
Pixels = NDArray[np.uint8]


@dataclass(frozen=True, slots=True, kw_only=True)
class Phone:
    """How a picture is developed; `exposure` is the brightness that its middle half is brought to,
    `white` the gains of red, green and blue."""

    exposure: float
    contrast: float
    white: tuple[float, float, float]
    noise: float
    blur_px: float
    sharpen: float
    quality: int
    seed: int


def draw_phone(rng: np.random.Generator) -> Phone:
    """A phone of today, most often with a steady hand."""
    warm = rng.normal(0.0, 0.06)
    return Phone(
        exposure=float(rng.uniform(0.13, 0.27)),
        contrast=float(rng.uniform(0.9, 1.25)),
        white=(1.0 + warm, 1.0, 1.0 - warm),
        noise=float(rng.uniform(0.002, 0.014)),
        blur_px=float(np.abs(rng.normal(0.0, 0.45))),
        sharpen=float(rng.uniform(0.0, 0.6)),
        quality=int(rng.integers(70, 96)),
        seed=int(rng.integers(2**31)),
    )


def gain(radiance: Array, phone: Phone) -> float:
    """What the exposure multiplies by, so that two renders of a scene get the same."""
    luma = radiance @ [0.2126, 0.7152, 0.0722]
    rows, columns = luma.shape
    middle = luma[rows // 6 : -rows // 6, columns // 6 : -columns // 6]
    return phone.exposure / max(float(np.exp(np.log(middle + 1e-4).mean())), 1e-4)


def tone(radiance: Array, phone: Phone, times: float) -> Array:
    """(H, W, 3) values 0 to 1: white balance, exposure, a shoulder for the lights, sRGB's curve
    (IEC 61966-2-1, from memory)."""
    linear = np.maximum(radiance * times * phone.white, 0.0)
    rolled = linear * (1 + linear / 6.0) / (1 + linear)
    linear = np.clip(rolled * 1.25, 0.0, 1.0)
    curve = np.where(linear <= 0.0031308, 12.92 * linear, 1.055 * linear ** (1 / 2.4) - 0.055)
    return np.clip(0.45 + (curve - 0.45) * phone.contrast, 0.0, 1.0)


def develop(radiance: Array, phone: Phone) -> Pixels:
    """(H, W, 3) uint8 RGB after blur, sensor noise, sharpening and JPEG."""
    rng = np.random.default_rng(phone.seed)
    # A highlight brighter than the sensor can hold must not bleed as if it could.
    held = np.minimum(radiance * gain(radiance, phone), 8.0)
    if phone.blur_px > 0.2:
        held = cv2.GaussianBlur(held, (0, 0), phone.blur_px)
    values = tone(held, phone, 1.0)
    grain = rng.normal(0.0, phone.noise, values.shape) * (0.5 + values)
    values = values + cv2.GaussianBlur(grain, (0, 0), 0.6) * 1.8
    soft = cv2.GaussianBlur(values, (0, 0), 1.2)
    values = np.clip(values + phone.sharpen * (values - soft), 0.0, 1.0)
    pixels = np.rint(values * 255).astype(np.uint8)
    fine, data = cv2.imencode(".jpg", pixels[..., ::-1], [cv2.IMWRITE_JPEG_QUALITY, phone.quality])
    if not fine:
        raise RuntimeError("OpenCV could not write the picture as JPEG")
    return np.asarray(Image.open(io.BytesIO(data.tobytes())), np.uint8)


def luma_levels(radiance: Array, phone: Phone, times: float) -> Array:
    """(H, W) brightness in 8-bit levels, without noise: what contrast is measured on."""
    return 255.0 * tone(radiance, phone, times) @ np.array([0.299, 0.587, 0.114])
