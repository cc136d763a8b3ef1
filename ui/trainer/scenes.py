"""A trainer's choice as a scene: one piece of a listed size on plain ground under one main light.

Nothing here is drawn by chance but the looks of metal and welds, which `synthetic.sample_skins` and
`synthetic.sample_welds` draw from a seed of the choice's own: the same choice, the same picture.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from math import pi, radians
from typing import TypeVar

import numpy as np

from fittings import dimensions
from fittings.geometry import mitre_cut_angle_deg
from fittings.words import Construction, Kind
from synthetic.camera import looking_at
from synthetic.draws import direction_to, nine, rotation_about, triple
from synthetic.sample_pieces import outside_points
from synthetic.sample_skins import sample_skin
from synthetic.sample_welds import branch_weld, sample_weld, touched_up
from synthetic.scene import Camera, Effects, Finish, Ground, Light, Piece, Scene, Skin, Weld
from ui.trainer.makes import Make

SIZES = ("4", "6", "8", "12", "20")
"""NPS that every table of ASME B16.9 lists."""

SMALL_END = {"4": "2", "6": "4", "8": "6", "12": "8", "20": "14"}
"""Outlets and small ends that go with them, each listed for a reducing tee and a reducer."""

SURFACES = ("mill scale", "rust", "blasted", "varnish", "primer", "paint", "pickled")

_SEED = 600_001  # looks only; far from the seeds of training, tuning and exam
_FOCAL = 1.3  # over the picture's long side: a phone's lens a little drawn in
_FILL = 1.0  # of the picture's short side that the piece takes up
_TRIES = 400  # a look is drawn again until it is the one asked for

T = TypeVar("T")


@dataclass(frozen=True, slots=True, kw_only=True)
class Choice:
    """What a trainer sets.

    `light_deg` is the light's direction about the piece: 0 from the camera, 90 from the side, 180
    from behind; `light_height_deg` its height over the ground, `camera_height_deg` the camera's.
    `turn_deg` turns the piece about the vertical. ValueError for what no slider gives.
    """

    make: Make
    nps: str = "8"
    surface: str = "mill scale"
    finish: Finish = Finish.AS_WELDED
    pieces: int = 3  # of a mitred elbow
    light_deg: float = 60.0
    light_height_deg: float = 35.0
    even_light: float = 0.35  # of the sky, against the main light's 1
    camera_height_deg: float = 30.0
    turn_deg: float = 30.0
    look: int = 0

    def __post_init__(self) -> None:
        if self.nps not in SIZES:
            raise ValueError(f"no size {self.nps!r}; there are {', '.join(SIZES)}")
        if self.surface not in SURFACES:
            raise ValueError(f"no surface {self.surface!r}; there are {', '.join(SURFACES)}")
        if not 2 <= self.pieces <= 6:
            raise ValueError(f"a mitred elbow has 2 to 6 pieces, not {self.pieces}")
        if not 2.0 <= self.light_height_deg <= 88.0:
            raise ValueError(f"a light stands 2° to 88° high, not {self.light_height_deg}°")
        if not 2.0 <= self.camera_height_deg <= 85.0:
            raise ValueError(f"a camera stands 2° to 85° high, not {self.camera_height_deg}°")
        if not 0.0 <= self.even_light <= 3.0:
            raise ValueError(f"even light goes from 0 to 3, not {self.even_light}")


def scene_of(choice: Choice) -> Scene:
    """The choice as a scene; equal choices give equal scenes."""
    piece = _placed(_dressed(_shaped(choice), choice), choice)
    rotation = np.reshape(piece.rotation, (3, 3))
    points = outside_points(piece) @ rotation.T + np.asarray(piece.position_mm)
    middle = (points.min(axis=0) + points.max(axis=0)) / 2
    reach_mm = float(np.linalg.norm(points - middle, axis=1).max())
    toward = np.array(direction_to(-pi / 2, radians(choice.camera_height_deg)))
    position = middle + toward * reach_mm * _FOCAL / (0.375 * _FILL)
    camera = Camera(
        position_mm=triple(position),
        rotation=looking_at(position, middle, 0.0),  # type: ignore[arg-type]
        focal=_FOCAL,
    )
    return Scene(
        pieces=(piece,),
        ground=Ground(contrast=0.35, patch_mm=300.0),
        light=_light(choice),
        camera=camera,
        effects=Effects(exposure=_exposure(choice), blur_px=0.35),
        noise_seed=float(choice.look % 280),
    )


def _shaped(choice: Choice) -> Piece:
    """The piece's form, by the standard's dimensions, without looks."""
    make = choice.make.about
    piece = {Kind.ELBOW: _elbow, Kind.TEE: _tee, Kind.REDUCER: _reducer}[make.kind](choice)
    return replace(
        piece, construction=make.construction, wall_mm=dimensions.pipe(choice.nps, "STD").wall_mm
    )


def _elbow(choice: Choice) -> Piece:
    row = dimensions.elbow(choice.nps)
    piece = Piece(
        kind=Kind.ELBOW,
        label=f"NPS {row.nps} long-radius 90° elbow",
        radius_mm=row.od_mm / 2,
        length_mm=row.bend_radius_mm,
        bend_deg=90.0,
        stub_mm=row.tangent_mm,
        long_count=2.0,
        long_deg=90.0,
    )
    if choice.make is not Make.MITRED_ELBOW:
        return piece
    return replace(
        piece,
        label=f"{piece.label}, {choice.pieces} pieces of pipe",
        pieces=float(choice.pieces),
        cut_deg=mitre_cut_angle_deg(90.0, choice.pieces),
        kinked=1.0,
    )


def _tee(choice: Choice) -> Piece:
    row = dimensions.tee(choice.nps, SMALL_END[choice.nps])
    outlet_wall_mm = dimensions.pipe(row.outlet_nps, "STD").wall_mm
    run_wall_mm = dimensions.pipe(row.run_nps, "STD").wall_mm
    fabricated = choice.make.about.construction is Construction.FABRICATED
    piece = Piece(
        kind=Kind.TEE,
        label=f"NPS {row.run_nps} × {row.outlet_nps} tee",
        radius_mm=row.run_od_mm / 2,
        second_radius_mm=row.outlet_od_mm / 2,
        second_wall_mm=outlet_wall_mm,
        length_mm=row.run_c_mm,
        second_length_mm=row.outlet_m_mm,
        # A formed crotch: an eighth of the outlet's diameter, as the note to ASME B31.3-2016 Table
        # D300 asks for its better figure (from memory).
        crotch_radius_mm=0.2 * run_wall_mm if fabricated else row.outlet_od_mm / 8,
    )
    if choice.make is Make.HALVES_TEE:
        # Parted in the plane of run and outlet: the run's top and underside, up both crotches.
        return replace(piece, long_count=2.0, long_deg=0.0, long_on_outlet=1.0)
    if choice.make is Make.SET_ON_TEE:
        return replace(piece, root_shift_mm=0.35 * outlet_wall_mm)
    if choice.make is Make.SET_IN_TEE:
        return replace(piece, root_shift_mm=-0.35 * outlet_wall_mm)
    if choice.make is Make.PADDED_TEE:
        outlet = piece.second_radius_mm
        return replace(
            piece,
            pad_width_mm=min(0.5 * outlet, 0.92 * min(piece.radius_mm, piece.length_mm) - outlet),
            pad_thickness_mm=run_wall_mm,
            second_length_mm=piece.second_length_mm + run_wall_mm,
        )
    return piece


def _reducer(choice: Choice) -> Piece:
    row = dimensions.reducer(choice.nps, SMALL_END[choice.nps])
    piece = Piece(
        kind=Kind.REDUCER,
        label=f"NPS {row.large_nps} × {row.small_nps} concentric reducer",
        radius_mm=row.large_od_mm / 2,
        second_radius_mm=row.small_od_mm / 2,
        length_mm=row.end_to_end_mm,
        stub_mm=0.12 * row.end_to_end_mm,
        second_stub_mm=0.12 * row.end_to_end_mm,
        bell=0.9,
        corner=0.2,
        long_count=1.0,
        long_deg=225.0,
    )
    if choice.make is Make.ROLLED_REDUCER:
        return replace(
            piece, steps=1.0, kinked=1.0, stub_mm=0.2 * row.end_to_end_mm,
            second_stub_mm=0.2 * row.end_to_end_mm, long_on_stubs=0.0,
        )  # fmt: skip
    if choice.make is Make.GORED_REDUCER:
        return replace(
            piece, steps=1.0, kinked=1.0, stub_mm=0.2 * row.end_to_end_mm,
            second_stub_mm=0.2 * row.end_to_end_mm, long_on_stubs=0.0, long_count=4.0,
        )  # fmt: skip
    return piece


def _dressed(piece: Piece, choice: Choice) -> Piece:
    """Metal and welds with the looks that the choice's seed draws."""
    skin = _skin(choice)
    make = choice.make.about
    has_long = make.construction is Construction.WELDED or (
        choice.make in (Make.ROLLED_REDUCER, Make.GORED_REDUCER)
    )
    cross = _weld(choice, piece.wall_mm, skin, 1)
    if make.kind is Kind.TEE:
        cross = branch_weld(np.random.default_rng([_SEED, choice.look, 3]), piece, cross)
    return replace(
        piece,
        skin=skin,
        along_weld=replace(_weld(choice, piece.wall_mm, skin, 2), present=float(has_long)),
        cross_weld=replace(cross, present=float(make.construction is Construction.FABRICATED)),
    )


def _skin(choice: Choice) -> Skin:
    """The first skin of that name that the seed draws, with a clean coat: no wear to distract."""
    rng = np.random.default_rng([_SEED, choice.look, SURFACES.index(choice.surface)])
    skin = _drawn(lambda: sample_skin(rng), lambda each: each.name == choice.surface)
    return replace(skin, dust=0.0, runs=0.0, worn=0.0, rust_amount=min(skin.rust_amount, 0.5))


def _weld(choice: Choice, wall_mm: float, skin: Skin, number: int) -> Weld:
    rng = np.random.default_rng([_SEED, choice.look, number, list(Finish).index(choice.finish)])
    if choice.finish is Finish.TOUCHED_UP:
        return touched_up(rng, sample_weld(rng, wall_mm, skin), skin)
    return _drawn(
        lambda: sample_weld(rng, wall_mm, skin), lambda each: each.finish is choice.finish
    )


def _drawn(draw: Callable[[], T], fits: Callable[[T], bool]) -> T:
    """The first draw that fits; RuntimeError where none does, which the tests rule out."""
    for _ in range(_TRIES):
        if fits(each := draw()):
            return each
    raise RuntimeError("the generator never draws the look asked for")


def _placed(piece: Piece, choice: Choice) -> Piece:
    """On the ground as in a yard: an elbow flat, a tee on its run, a reducer on end."""
    lying = rotation_about((0, 1, 0), -pi / 2) if piece.kind is Kind.REDUCER else np.eye(3)
    rotation = rotation_about((0, 0, 1), radians(choice.turn_deg)) @ lying
    points = outside_points(piece) @ rotation.T
    middle = points.mean(axis=0)
    return replace(
        piece,
        rotation=nine(rotation),
        position_mm=triple((-middle[0], -middle[1], -points[:, 2].min())),
    )


_SUN_POWER = 3.2


def _light(choice: Choice) -> Light:
    return Light(
        name="trainer",
        sun=direction_to(-pi / 2 + radians(choice.light_deg), radians(choice.light_height_deg)),
        sun_rgb=(1.0, 0.97, 0.93),
        sun_power=_SUN_POWER,
        sun_softness=0.03,
        sky_rgb=(0.8, 0.85, 0.95),
        horizon_rgb=(0.75, 0.75, 0.75),
        sky_power=choice.even_light,
        skyline=0.3,
    )


def _exposure(choice: Choice) -> float:
    """What brings a grey thing in this light to a middle tone; metering on the piece goes on."""
    return 0.8 / (0.45 * _SUN_POWER + 0.6 * choice.even_light * 0.87)
