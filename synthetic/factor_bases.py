"""The plain scenes on which `synthetic.factor_sheet` shows each factor, and where it lies in them.

One fitting of about NPS 6 (outside radius 84 mm, walls and lengths rounded) on plain concrete in
plain light; close to a weld, a mark or a skin where the factor is a small one. A group holds the
bases that are tried in turn: the first on which a factor shows well is the one it is shown on.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from math import cos, radians, sin
from typing import Any

import numpy as np

from fittings.words import Construction, Kind
from synthetic.camera import looking_at
from synthetic.draws import nine, rotation_about, triple
from synthetic.sample_pieces import outside_points
from synthetic.scene import Camera, Ground, Lamp, Mark, Piece, Prop, Scene, Skin, Wear, Weld

Path = tuple[str | int, ...]

RADIUS_MM = 84.0
_FOCAL = 1.2
_FILL = 0.38  # of the frame's long side, what the piece reaches to from the middle
_SEEN_FROM = (0.75, -0.55, 1.1)


@dataclass(frozen=True, slots=True, kw_only=True)
class Group:
    """One dataclass of the scene: its name on the sheet, the way to it from the scene, and its
    bases."""

    name: str
    path: Path
    bases: tuple[Scene, ...]


def at_path(value: Any, path: Path) -> Any:
    """What lies at the end of the path."""
    for step in path:
        value = value[step] if isinstance(step, int) else getattr(value, step)
    return value


def with_value(whole: Any, path: Path, value: Any) -> Any:
    """The same scene but for what lies at the end of the path."""
    if not path:
        return value
    step, rest = path[0], path[1:]
    if isinstance(step, int):
        return (*whole[:step], with_value(whole[step], rest, value), *whole[step + 1 :])
    return replace(whole, **{step: with_value(getattr(whole, step), rest, value)})


WELD = Weld(
    present=1.0,
    half_width_mm=7.0,
    crown_mm=2.0,
    ripple_mm=0.3,
    bead_rgb=(0.35, 0.33, 0.3),
    bead_mix=0.8,
)
_FLAT_WELD = replace(WELD, crown_mm=0.0, ripple_mm=0.0, bead_mix=0.3, band_mix=0.6, zone_mix=0.6)
ELBOW = Piece(length_mm=229.0, radius_mm=RADIUS_MM)
MITRED = replace(
    ELBOW,
    construction=Construction.FABRICATED,
    pieces=3.0,
    cut_deg=22.5,
    stub_mm=20.0,
    cross_weld=WELD,
)
_LONG_SEAM = replace(
    ELBOW, construction=Construction.WELDED, along_weld=WELD, long_count=2.0, long_deg=300.0
)
TEE = Piece(
    kind=Kind.TEE,
    second_radius_mm=57.0,
    length_mm=143.0,
    second_length_mm=130.0,
    crotch_radius_mm=25.0,
)
_SET_ON = replace(
    TEE,
    construction=Construction.FABRICATED,
    crotch_radius_mm=3.0,
    second_length_mm=150.0,
    pad_width_mm=22.0,
    pad_thickness_mm=8.0,
    cross_weld=WELD,
)
REDUCER = Piece(
    kind=Kind.REDUCER, second_radius_mm=50.0, length_mm=150.0, stub_mm=22.0, second_stub_mm=22.0
)
_RINGS = replace(
    REDUCER,
    construction=Construction.FABRICATED,
    steps=2.0,
    length_mm=200.0,
    cross_weld=WELD,
    along_weld=WELD,
    long_count=4.0,
    long_deg=20.0,
)


def on_ground(piece: Piece) -> Piece:
    """The piece as it is turned, its lowest point a little above the ground and its middle over the
    world's origin."""
    points = outside_points(piece) @ np.asarray(piece.rotation).reshape(3, 3).T
    middle = points.mean(axis=0)
    return replace(
        piece, position_mm=triple((-middle[0], -middle[1], 0.05 * RADIUS_MM - points[:, 2].min()))
    )


def scene_of(piece: Piece, seen_from: tuple[float, float, float] = _SEEN_FROM) -> Scene:
    """The piece on the ground, filling most of the frame."""
    piece = on_ground(piece)
    points = outside_points(piece) @ np.asarray(piece.rotation).reshape(3, 3).T
    points += np.asarray(piece.position_mm)
    middle = points.mean(axis=0)
    extent = float(np.linalg.norm(points - middle, axis=1).max())
    return _looking(Scene(pieces=(piece,)), middle, extent, seen_from)


def near(
    scene: Scene, along_deg: float, around_deg: float, extent_mm: float, aslant: float = 0.6
) -> Scene:
    """The same scene from near to the elbow's outside at `along_deg` of its bend and `around_deg`
    from its extrados, with `extent_mm` from the middle to the edge of the frame."""
    piece = scene.pieces[0]
    a, t = radians(along_deg), radians(around_deg)
    out = np.array([cos(t) * cos(a), cos(t) * sin(a), sin(t)])
    centre = piece.length_mm * np.array([cos(a), sin(a), 0.0])
    turn = np.asarray(piece.rotation).reshape(3, 3)
    target = turn @ (centre + piece.radius_mm * out) + np.asarray(piece.position_mm)
    course = np.array([-sin(a), cos(a), 0.0])
    return _looking(scene, target, extent_mm, triple(turn @ (out + aslant * course)))


def _looking(
    scene: Scene, target: np.ndarray, extent_mm: float, seen_from: tuple[float, float, float]
) -> Scene:
    toward = np.asarray(seen_from) / np.linalg.norm(seen_from)
    position = target + toward * extent_mm * _FOCAL / _FILL
    rotation = looking_at(position, target, 0.0)
    camera = Camera(position_mm=triple(position), rotation=rotation, focal=_FOCAL)  # type: ignore[arg-type]
    return replace(scene, camera=camera)


_BRIGHT = Skin(
    rgb=(0.4, 0.4, 0.4), second_rgb=(0.3, 0.3, 0.3), roughness=0.35, metallic=0.6, gloss=0.06
)
_MIRROR = replace(_BRIGHT, roughness=0.12, metallic=1.0, patch_contrast=0.0, grain_contrast=0.0)
_LINE = Mark(name="line", normal=(0.0, 1.0, 0.0), half_width_mm=9.0, opacity=0.9)
_LENGTHWISE = replace(_LINE, follow=1.0, turn_deg=300.0, half_width_mm=9.0, reach_mm=110.0)
_ENDS = replace(_LINE, follow=3.0, offset_mm=30.0)
_LAMP = Lamp(direction=(0.5, -0.4, 0.75), size=0.35, power=3.0)

_PROP = {
    "rotation": nine(rotation_about((0, 0, 1), -0.6)),
    "position_mm": (0.0, 0.0, 145.0),
    "rgb": (0.35, 0.2, 0.1),
}
PROPS = (
    Prop(half_length_mm=190.0, half_height_mm=70.0, wall_mm=8.0, **_PROP),  # type: ignore[arg-type]
    Prop(shape=1.0, half_length_mm=150.0, half_height_mm=70.0, half_depth_mm=50.0, **_PROP),  # type: ignore[arg-type]
    Prop(shape=2.0, half_length_mm=30.0, half_depth_mm=110.0, dome_mm=55.0, wall_mm=8.0, **_PROP),  # type: ignore[arg-type]
    Prop(shape=3.0, half_height_mm=110.0, half_depth_mm=14.0, dome_mm=14.0, half_length_mm=10.0, **_PROP),  # type: ignore[arg-type]  # noqa: E501
    Prop(shape=4.0, half_length_mm=13.0, half_height_mm=140.0, hub_mm=45.0, hub_radius_mm=96.0, hole_mm=10.0, hole_circle_mm=117.0, wall_mm=64.0, **_PROP),  # type: ignore[arg-type]  # noqa: E501
    Prop(shape=5.0, half_length_mm=150.0, half_height_mm=80.0, half_depth_mm=120.0, wall_mm=8.0, dome_mm=8.0, **_PROP),  # type: ignore[arg-type]  # noqa: E501
)  # fmt: skip
"""One of each shape: pipe, box, cap, ring, flange, cone."""


def _beside(prop: Prop) -> Scene:
    """The prop in the middle, an elbow on the ground behind it."""
    plain = scene_of(ELBOW)
    (elbow,) = plain.pieces
    x, y, z = elbow.position_mm
    behind = replace(elbow, position_mm=(x - 230.0, y + 330.0, z))
    shown = replace(plain, pieces=(behind,), props=(prop,))
    return _looking(shown, np.array([0.0, 0.0, 100.0]), 230.0, _SEEN_FROM)


def _alone(prop: Prop) -> Scene:
    """The prop by itself in a piece's skin."""
    wear = Wear(radius_mm=prop.half_height_mm, skin=_BRIGHT)
    return replace(_beside(replace(prop, own_skin=0.0)), pieces=(), wear=wear)


def groups() -> tuple[Group, ...]:
    """All groups in the order of the sheet."""
    elbow = scene_of(replace(ELBOW, skin=_BRIGHT))
    mitred = scene_of(MITRED)
    flat = with_value(mitred, ("pieces", 0, "cross_weld"), _FLAT_WELD)
    lines = [with_value(elbow, ("pieces", 0, "marks", 0), m) for m in (_LINE, _LENGTHWISE, _ENDS)]
    low = scene_of(replace(ELBOW, skin=_MIRROR), (0.8, -1.0, 0.12))
    lamps = (_LAMP, Lamp(), Lamp())
    lit = replace(elbow, light=replace(elbow.light, sun_power=0.3, sky_power=0.3, lamps=lamps))
    shiny = with_value(low, ("light", "lamps"), lamps)
    more = (
        replace(MITRED, along_weld=WELD, long_deg=300.0),
        replace(TEE, construction=Construction.WELDED, along_weld=WELD, long_count=2.0),
    )
    shapes = (ELBOW, _LONG_SEAM, MITRED, TEE, _SET_ON, REDUCER, _RINGS, *more)
    # Small things want to be gone up to: what is on an outlet, a corner, craters and spatter.
    outlet = scene_of(more[1])
    x, y, z = outlet.pieces[0].position_mm
    outlet = _looking(outlet, np.array([x + 50.0, y, z + 110.0]), 60.0, _SEEN_FROM)
    shoulder = scene_of(replace(REDUCER, skin=_BRIGHT))
    x, y, z = shoulder.pieces[0].position_mm
    shoulder = _looking(shoulder, np.array([x + 30.0, y - 55.0, z + 60.0]), 45.0, (0.3, -1.0, 0.8))
    wide = replace(elbow, ground=Ground(contrast=0.8))
    floor = _looking(wide, np.array([-60.0, -230.0, 0.0]), 70.0, _SEEN_FROM)
    return (
        Group(
            name="piece",
            path=("pieces", 0),
            bases=(*(scene_of(each) for each in shapes), outlet, shoulder),
        ),
        Group(
            name="weld",
            path=("pieces", 0, "cross_weld"),
            bases=(
                near(mitred, -22.5, 45.0, 75.0),
                near(flat, -22.5, 45.0, 75.0),
                near(mitred, -22.5, 45.0, 25.0),
            ),
        ),
        Group(
            name="mark",
            path=("pieces", 0, "marks", 0),
            bases=(*lines, *(near(each, 0.0, 45.0, 90.0) for each in lines)),
        ),
        Group(
            name="skin",
            path=("pieces", 0, "skin"),
            bases=(elbow, near(elbow, -15.0, 40.0, 60.0), scene_of(replace(TEE, skin=_BRIGHT))),
        ),
        Group(name="prop", path=("props", 0), bases=tuple(map(_beside, PROPS))),
        Group(name="wear", path=("wear",), bases=(_alone(PROPS[0]),)),
        Group(name="ground", path=("ground",), bases=(wide, floor)),
        Group(name="lamp", path=("light", "lamps", 0), bases=(lit, shiny)),
        Group(name="light", path=("light",), bases=(elbow, low)),
        Group(name="camera", path=("camera",), bases=(elbow,)),
        Group(name="effects", path=("effects",), bases=(_beside(PROPS[1]),)),
        Group(name="scene", path=(), bases=(elbow,)),
    )
