"""A choice as pictures: plain, with its true seams drawn, and how much each seam stands out.

Rendered here by `synthetic.native` (or numpy, where no compiler is): no network, no GPU. The seams
come from the scene's truth, so they are drawn also where nobody could see them.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace

import numpy as np

from fittings.words import Kind, Orientation, Reading
from synthetic.gallery import rgb_pixels, seam_facts
from synthetic.native import native_stages
from synthetic.render import Picture, render
from synthetic.scene import Scene
from ui.outputs import png_bytes
from ui.trainer.scenes import Choice, scene_of
from ui.trainer.unrolled import unrolled_svg
from vision.judging import to_photo
from vision.network import Maps
from vision.overlay import draw_overlay
from vision.photo import Photo
from vision.reading import PhotoReading, Quality, Seam, Verdict
from vision.tracing import trace
from vision.truth import truth_maps

WIDTH_PX, HEIGHT_PX = 576, 432
_METER_PX = (160, 112)
_MIDDLE_TONE = 0.1  # of the piece's own pixels, linear: what a phone that meters on it would give
_LOW_DEG = 14.0  # height of a grazing light
_ROUND = 8  # directions tried for the light that brings a seam out most and least


@dataclass(frozen=True, slots=True, kw_only=True)
class Standing:
    """How much a seam stands out: `levels` is the mean difference, of 255 grey levels, that it
    makes to its own pixels; `visible` is the generator's own rule (4 levels, and enough pixels)."""

    orientation: Orientation
    levels: float
    visible: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Shot:
    """One choice as pictures (PNG bytes), its seams, and its unrolled surface (SVG)."""

    choice: Choice
    label: str
    plain: bytes = field(repr=False)
    marked: bytes = field(repr=False)
    seams: tuple[Standing, ...]
    unrolled: str = field(repr=False)


def shoot(choice: Choice, width: int = WIDTH_PX, height: int = HEIGHT_PX) -> Shot:
    """The pictures of a choice, the exposure metered on the piece; equal choices, equal bytes."""
    scene = metered(scene_of(choice))
    picture = render(scene, width, height, native_stages())
    pixels = rgb_pixels(picture)
    maps = truth_maps(picture, scene.pieces[0].kind, fabricated=False)
    drawn = draw_overlay(pixels, _true_reading(maps, scene.pieces[0].kind, pixels), legend=False)
    return Shot(
        choice=choice,
        label=scene.pieces[0].label,
        plain=png_bytes(pixels),
        marked=png_bytes(drawn),
        seams=standings(scene, picture),
        unrolled=unrolled_svg(scene, picture),
    )


def metered(scene: Scene) -> Scene:
    """The scene with the exposure that brings the piece to a middle tone."""
    picture = render(scene, *_METER_PX, native_stages())
    on_piece = picture.truth.part[0] > 0.5
    if not on_piece.any():
        return scene
    # Display values are about the linear ones to the power of 1 / 2.2.
    level = float((picture.rgb[0].mean(axis=0)[on_piece] ** 2.2).mean())
    factor = float(np.clip(_MIDDLE_TONE / max(level, 1e-4), 0.25, 5.0))
    exposure = scene.effects.exposure * factor
    return replace(scene, effects=replace(scene.effects, exposure=exposure))


def standings(scene: Scene, picture: Picture) -> tuple[Standing, ...]:
    """How much each seam of the scene's one piece stands out in its picture."""
    return tuple(
        Standing(
            orientation=Orientation(fact["orientation"]),
            levels=fact["contrast"],
            visible=fact["visible"],
        )
        for fact in seam_facts(scene, picture)
    )


def under_four_lights(choice: Choice) -> tuple[tuple[str, Choice], ...]:
    """The same piece from the same place under four lights: from the camera, even, and low from
    the two sides from which its seams stand out least and most."""
    turns = [360.0 / _ROUND * k for k in range(_ROUND)]
    low = [
        replace(choice, light_deg=turn, light_height_deg=_LOW_DEG, even_light=0.25)
        for turn in turns
    ]
    by_strength = sorted(low, key=_strength)
    flash = replace(
        choice, light_deg=3.0, light_height_deg=choice.camera_height_deg, even_light=0.25
    )
    return (
        ("From the camera, as a flash", flash),
        ("Even, under a cloudy sky", replace(choice, light_height_deg=80.0, even_light=3.0)),
        ("Low, from where the seam shows least", by_strength[0]),
        ("Low, from where the seam shows most", by_strength[-1]),
    )


def _strength(choice: Choice) -> float:
    """How much the most telling seam stands out in a quick small picture; 0 without seams."""
    scene = metered(scene_of(choice))
    seams = standings(scene, render(scene, *_METER_PX, native_stages()))
    return max((each.levels for each in seams), default=0.0)


def _true_reading(maps: Maps, kind: Kind, pixels: np.ndarray) -> PhotoReading:
    """The true seams in the form that the overlay draws; it is no reading of a photograph."""
    height, width = pixels.shape[:2]
    photo = Photo(name="rendered", pixels=pixels, sha256="", width=width, height=height)
    seams = tuple(
        Seam(
            orientation=band.orientation,
            confidence=1.0,
            length_px=band.length,
            surface_angle_deg=None,
            path=tuple((float(x), float(y)) for x, y in to_photo(band.path, maps, photo)),
        )
        for band in trace(maps)
    )
    return PhotoReading(
        photo="rendered", sha256="", width=width, height=height, kind=kind, kind_confidence=1.0,
        seams=seams,
        verdict=Verdict(
            reading=Reading.UNCLEAR, confidence=0.0, fabricated_probability=0.0, evidence=(),
            next_step="",
        ),
        quality=Quality(usable=True, problems=()), seen_fraction=0.0, model_version="",
        model_sha256="", seconds=0.0,
    )  # fmt: skip
