"""Places to photograph a fitting from, named by its own sides so that they hold however it lies."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from fittings.words import Kind
from vision.piece_form import Form

Point = tuple[float, float, float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Stand:
    """A place to photograph from: `eye` and `aim` in the piece's frame, in outside radii. `twin` is
    the code of the view from the other side where the fitting looks the same from both."""

    code: str
    eye: Point
    aim: Point
    where: str
    camera: str
    light: str
    twin: str | None = None


def outside_stands(form: Form) -> tuple[Stand, ...]:
    """Places all round the piece from which its outside can be photographed."""
    return {Kind.ELBOW: _round_elbow, Kind.TEE: _round_tee, Kind.REDUCER: _round_reducer}[
        form.kind
    ](form)


_ALONG_LIGHT = "light from low at one end, so that it grazes along the part"
_LEFT_LIGHT = "light from low left, so that it grazes the surface"


def _round_elbow(form: Form) -> tuple[Stand, ...]:
    aim = (0.95 * form.length, 0.0, 0.0)
    half = np.radians(form.bend_deg) / 2
    square = "camera square on to the plane of the bend, the whole elbow in the picture"
    middle = "camera level with the plane of the bend, aimed at the middle of the arc"
    slant = "camera halfway up from the plane of the bend, aimed at the middle of the arc"

    def at(x: float, z: float) -> Point:
        return (aim[0] + 6.0 * x, 0.0, 6.0 * z)

    s = float(np.sqrt(0.5))
    inside = -min(1.0, 1.6 * form.length * float(np.cos(half)) / 6.0)
    make = [
        ("side_a", at(0, 1), "one side of the bend", square, "side_b"),
        ("side_b", at(0, -1), "one side of the bend", square, "side_a"),
        ("extrados", at(1, 0), "the outside of the bend (the extrados)", middle, None),
        ("intrados", at(inside, 0), "the inside of the bend (the intrados)", middle, None),
        (
            "extrados_a",
            at(s, s),
            "between the extrados and one side of the bend",
            slant,
            "extrados_b",
        ),
        (
            "extrados_b",
            at(s, -s),
            "between the extrados and one side of the bend",
            slant,
            "extrados_a",
        ),
        (
            "intrados_a",
            at(-s, s),
            "between the intrados and one side of the bend",
            slant,
            "intrados_b",
        ),
        (
            "intrados_b",
            at(-s, -s),
            "between the intrados and one side of the bend",
            slant,
            "intrados_a",
        ),
    ]
    return tuple(
        Stand(code=c, eye=e, aim=aim, where=w, camera=k, light=_ALONG_LIGHT, twin=t)
        for c, e, w, k, t in make
    )


def _round_tee(form: Form) -> tuple[Stand, ...]:
    aim = (0.0, 0.0, 0.35 * form.second_length)
    level = "camera level with the run and square on to it"
    high = "camera a good way above the run, looking down on run and outlet at 45°"
    low = "camera looking up at 45° from below the run, or the piece turned so that this side is up"
    over = "camera beyond one end of the run and above it, looking along the run at the outlet"
    s = float(np.sqrt(0.5))

    def at(x: float, y: float, z: float) -> Point:
        return (6.0 * x, 6.0 * y, aim[2] + 6.0 * z)

    make = [
        (
            "flank_a",
            at(0, -1, 0),
            "one flank (where run and outlet are seen square on)",
            level,
            "flank_b",
        ),
        (
            "flank_b",
            at(0, 1, 0),
            "one flank (where run and outlet are seen square on)",
            level,
            "flank_a",
        ),
        ("away", at(0, 0, -1), "the side away from the outlet", level, None),
        ("above", at(0, 0.2, 1), "the outlet's side, looking down on it", "camera square on", None),
        ("above_a", at(0, -s, s), "above one flank, on the outlet's side", high, "above_b"),
        ("above_b", at(0, s, s), "above one flank, on the outlet's side", high, "above_a"),
        ("below_a", at(0, -s, -s), "below one flank, away from the outlet", low, "below_b"),
        ("below_b", at(0, s, -s), "below one flank, away from the outlet", low, "below_a"),
        (
            "over_end_a",
            at(-s, 0, s),
            "one end of the run, the outlet facing you",
            over,
            "over_end_b",
        ),
        (
            "over_end_b",
            at(s, 0, s),
            "one end of the run, the outlet facing you",
            over,
            "over_end_a",
        ),
    ]
    return tuple(
        Stand(code=c, eye=e, aim=aim, where=w, camera=k, light=_LEFT_LIGHT, twin=t)
        for c, e, w, k, t in make
    )


def _round_reducer(form: Form) -> tuple[Stand, ...]:
    level = "camera level with the piece and square on to it, both ends in the picture"
    stands = []
    names = {
        0: "the flat side",
        45: "between the flat side and a quarter turn from it",
        90: "a quarter turn from the flat side",
        135: "between a quarter turn and the side opposite the flat side",
        180: "the side opposite the flat side",
    }
    for turn_deg in range(-135, 181, 45):
        turn = np.radians(turn_deg)
        centre = -0.5 * (1.0 - form.second_radius) * form.eccentric
        aim = (form.length / 2, 0.0, centre)
        eye = (form.length / 2, 6.0 * float(np.sin(turn)), centre - 6.0 * float(np.cos(turn)))
        # An eccentric reducer is its own mirror image in its flat side's middle.
        twin = f"around_{-turn_deg % 360}" if turn_deg not in (0, 180) else None
        stands.append(
            Stand(
                code=f"around_{turn_deg % 360}",
                eye=eye,
                aim=aim,
                where=names[abs(turn_deg)],
                camera=level,
                light=_ALONG_LIGHT,
                twin=twin,
            )
        )
    return tuple(stands)


def crotch_stands(form: Form) -> tuple[Stand, ...]:
    """Near each crotch of a tee, from the run's end and above; none for other fittings."""
    if form.kind is not Kind.TEE:
        return ()
    stands = []
    for side, code in ((-1.0, "crotch_a"), (1.0, "crotch_b")):
        aim = (side * form.second_radius, 0.0, 1.0)
        eye = (aim[0] + side * 1.8, -0.9, aim[2] + 1.8)
        stands.append(Stand(code=code, eye=eye, aim=aim, where="crotch", camera="", light=""))
    return tuple(stands)


def bore_stands(form: Form) -> tuple[Stand, ...]:
    """Before each open end, a little off its axis."""
    names: tuple[str, ...] = ("one end", "the other end")
    if form.kind is Kind.ELBOW:
        half = np.radians(form.bend_deg) / 2
        ends = [
            (
                np.array([np.cos(half), side * np.sin(half), 0.0]) * form.length,
                np.array([-np.sin(half), side * np.cos(half), 0.0]),
            )
            for side in (-1.0, 1.0)
        ]
    elif form.kind is Kind.TEE:
        names = ("the outlet", "one end of the run", "the other end of the run")
        ends = [(np.array([0.0, 0.0, form.second_length]), np.array([0.0, 0.0, 1.0]))]
        ends += [
            (np.array([side * form.length, 0.0, 0.0]), np.array([side, 0.0, 0.0]))
            for side in (-1.0, 1.0)
        ]
    else:
        names = ("the large end", "the small end")
        ends = [
            (np.zeros(3), np.array([-1.0, 0.0, 0.0])),
            (np.array([form.length, 0.0, 0.0]), np.array([1.0, 0.0, 0.0])),
        ]
    stands = []
    for number, (end, out) in enumerate(ends):
        aside = np.cross(out, [0.0, 1.0, 0.2])
        eye = end + 2.6 * out + 0.9 * aside / np.linalg.norm(aside)
        stands.append(
            Stand(
                code=f"bore_{'abc'[number]}",
                eye=(float(eye[0]), float(eye[1]), float(eye[2])),
                aim=(float(end[0]), float(end[1]), float(end[2])),
                where="bore",
                camera=names[number],
                light="",
            )
        )
    return tuple(stands)
