"""What to photograph next: the views that show most of what no photo shows well yet.

A view is one of the places of `vision.view_stands`. What it would show is worked out on a model of
the usual proportions: the surface that faces the camera within 70° and that nothing of the piece
itself hides.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

import numpy as np
from numpy.typing import NDArray

from fittings.words import Kind, Part
from vision.piece import PieceReading
from vision.piece_form import PARTS, Field, Form
from vision.piece_seen import COLUMNS, ROWS, cell_areas, seen_share, turned
from vision.piece_surface import Surface
from vision.view_stands import Point, Stand, bore_stands, crotch_stands, outside_stands

CAUTION = (
    "Heavy pieces roll and fall: walk round the piece, or have it turned by trained people with "
    "checked gear, and never climb into a bore."
)

MOST_VIEWS = 4
LEAST_GAIN = 0.04
"""A view that would add less than this share of the outside is not asked for."""

_FACING = float(np.cos(np.radians(70.0)))
_TELLING = 0.25
"""How much more of one side than of the other a photo must show to name the two by."""

_FINE = 3
_HIDES = 0.12
_BUFFER = 96


@dataclass(frozen=True, slots=True, kw_only=True)
class NextView:
    """A view to take. `adds` is the share of the outside that it would show well for the first
    time, 0 for a look into the bore or a close-up; `stands` has one place, or two for a pair."""

    code: str
    sentence: str
    adds: float
    stands: tuple[Stand, ...]


def next_views(piece: PieceReading) -> tuple[NextView, ...]:
    """The views to take, the one that adds most first; then close-ups of the crotches and the looks
    into the bore, which no view of the outside replaces. Empty without a surface."""
    surface = piece.surface
    if surface is None:
        return ()
    form = surface.form
    shown = {part: cells.copy() for part, cells in surface.clear.items()}
    chosen: list[NextView] = []
    stands = list(outside_stands(form))
    while stands and len(chosen) < MOST_VIEWS:
        before = seen_share(form, shown)
        gains = [_with(form, shown, visible(form, s.eye, s.aim)) - before for s in stands]
        best = int(np.argmax(gains))
        if gains[best] < LEAST_GAIN:
            break
        stand = stands.pop(best)
        sees = visible(form, stand.eye, stand.aim)
        shown = {part: np.maximum(shown[part], sees[part]) for part in shown}
        chosen.append(
            NextView(
                code=stand.code,
                sentence=_sentence(stand, piece, surface, chosen),
                adds=float(gains[best]),
                stands=(stand,),
            )
        )
    return (*chosen, *_close_ups(form), *_bores(form))


def _with(form: Form, shown: Mapping[Part, Field], more: Mapping[Part, Field]) -> float:
    return seen_share(form, {part: np.maximum(shown[part], more[part]) for part in shown})


@cache
def visible(form: Form, eye: Point, aim: Point) -> dict[Part, Field]:
    """(ROWS, COLUMNS) share of each cell of each part that a camera at `eye` sees well."""
    points, normals, real = _model(form)
    views = {part: _in_camera(points[part], eye, aim) for part in points}
    near = np.full((_BUFFER, _BUFFER), np.inf)
    span = max(float(np.abs(v[0][..., :2]).max()) for v in views.values()) * 1.001
    places = {}
    for part, (flat, depth) in views.items():
        place = np.clip(((flat / span + 1.0) * 0.5 * _BUFFER).astype(int), 0, _BUFFER - 1)
        places[part] = place
        some = real[part]
        np.minimum.at(near, (place[some][:, 1], place[some][:, 0]), depth[some])
    out = {}
    for part, (_, depth) in views.items():
        to_eye = np.asarray(eye) - points[part]
        to_eye /= np.linalg.norm(to_eye, axis=-1, keepdims=True)
        facing = (normals[part] * to_eye).sum(-1) >= _FACING
        free = depth <= near[places[part][..., 1], places[part][..., 0]] + _HIDES
        sees = (facing & free & real[part]).astype(float)
        known = real[part].reshape(ROWS, _FINE, COLUMNS, _FINE).sum(axis=(1, 3))
        seen = sees.reshape(ROWS, _FINE, COLUMNS, _FINE).sum(axis=(1, 3))
        out[part] = seen / np.maximum(known, 1)
    return out


@cache
def _model(
    form: Form,
) -> tuple[dict[Part, Field], dict[Part, Field], dict[Part, NDArray[np.bool_]]]:
    """Points (…, 3), outward normals (…, 3) and whether there is a surface, on a fine grid."""
    along = ((np.arange(ROWS * _FINE) + 0.5) / (ROWS * _FINE))[:, None]
    around = ((np.arange(COLUMNS * _FINE) + 0.5) / (COLUMNS * _FINE) * 2 * np.pi - np.pi)[None]
    parts = PARTS[form.kind]
    return (
        {part: form.points(part, along, around) for part in parts},
        {part: form.normals(part, along, around) for part in parts},
        {part: form.exists(part, along, around) for part in parts},
    )


def camera_axes(eye: Point, aim: Point) -> Field:
    """(3, 3) rows right, down, forward of a camera at `eye`, upright where that means something."""
    forward = np.asarray(aim, float) - np.asarray(eye, float)
    forward /= np.linalg.norm(forward)
    up = np.array([0.0, 0.0, 1.0]) if abs(forward[2]) < 0.95 else np.array([0.0, 1.0, 0.0])
    right = np.cross(forward, up)
    right /= np.linalg.norm(right)
    return np.stack([right, np.cross(forward, right), forward])


def _in_camera(points: Field, eye: Point, aim: Point) -> tuple[Field, Field]:
    """Where points come to lie in the picture (…, 2), and how far off they are."""
    local = (points - np.asarray(eye)) @ camera_axes(eye, aim).T
    return local[..., :2] / np.maximum(local[..., 2:], 0.1), np.linalg.norm(local, axis=-1)


def _sentence(stand: Stand, piece: PieceReading, surface: Surface, before: list[NextView]) -> str:
    """Where to stand, where the camera is, where the light comes from; told from the photos and
    from the views asked for `before` where the fitting's shape does not tell one side from the
    other."""
    where = stand.where
    if surface.form.kind is Kind.REDUCER and not surface.datum:
        where = _round_from_photo(stand, piece, surface)
    elif stand.twin is not None:
        where += _which_side(stand, piece, surface, before)
    return f"From {where}; {stand.camera}; {stand.light}."


def _which_side(stand: Stand, piece: PieceReading, surface: Surface, before: list[NextView]) -> str:
    """ ", the one that b.jpg does not show": which of two like sides is meant, by the photo that
    shows most more of one than of the other, or by a view asked for before; "" where neither tells,
    and any of the two will do."""
    twin = next(s for s in outside_stands(surface.form) if s.code == stand.twin)
    more = {
        photo: _share_of(stand, piece, surface, photo, turn)
        - _share_of(twin, piece, surface, photo, turn)
        for photo, turn, sure in zip(
            surface.photos, surface.turns.columns, surface.turns.sure, strict=True
        )
        if sure
    }
    photo = max(more, key=lambda i: abs(more[i]))
    if abs(more[photo]) >= _TELLING:
        shows = "shows" if more[photo] > 0 else "does not show"
        return f", the one that {piece.views[photo].reading.photo} {shows}"
    aside = np.subtract(stand.eye, twin.eye)
    for number, view in enumerate(before, start=1):
        off = float(np.subtract(view.stands[0].eye, stand.aim) @ aside)
        if abs(off) > 0.3 * float(aside @ aside) / 2:
            return (
                f", {'on the same side as' if off > 0 else 'on the side opposite to'} view {number}"
            )
    return ""


def _share_of(stand: Stand, piece: PieceReading, surface: Surface, photo: int, turn: int) -> float:
    form = surface.form
    sees = visible(form, stand.eye, stand.aim)
    seen = piece.views[photo].seen[form.kind]
    areas = cell_areas(form)
    both, whole = 0.0, 0.0
    for part in PARTS[form.kind]:
        weight = areas[part] * sees[part]
        both += float((weight * turned(form.kind, part, seen[part].share, turn)).sum())
        whole += float(weight.sum())
    return both / max(whole, 1e-9)


def _round_from_photo(stand: Stand, piece: PieceReading, surface: Surface) -> str:
    """How far round, and which way, a view of a reducer lies from the photo that was taken nearest
    to it: a photo's `around` counts from the side that faced its camera, and grows clockwise as
    seen from the large end."""
    here = float(np.degrees(np.arctan2(stand.eye[1], -stand.eye[2])))
    found = []
    for photo, turn, sure in zip(
        surface.photos, surface.turns.columns, surface.turns.sure, strict=True
    ):
        if sure:
            off = (here - turn * 360.0 / COLUMNS + 180.0) % 360.0 - 180.0
            found.append((abs(off), off, piece.views[photo].reading.photo))
    away, off, name = min(found)
    if away < 20.0:
        return f"the side that {name} shows"
    if away > 160.0:
        return f"the side behind the one that {name} shows"
    way = "clockwise" if off > 0 else "anticlockwise"
    return f"about {away:.0f}° {way} (seen from the large end) from the side that {name} shows"


def _close_ups(form: Form) -> tuple[NextView, ...]:
    """Both crotches of a tee, from near."""
    stands = crotch_stands(form)
    if not stands:
        return ()
    sentence = (
        "Close-ups of both crotches, from the run's ends; camera as near as it stays sharp, "
        "halfway between run and outlet; light from one side, so that it grazes along the root: a "
        "formed tee has a radius there, a welded-on outlet a bead or a corner."
    )
    return (NextView(code="crotches", sentence=sentence, adds=0.0, stands=stands),)


def _bores(form: Form) -> tuple[NextView, ...]:
    """Looks into the open ends: nothing of the bore is on the seen map."""
    where = "the outlet and both ends of the run" if form.kind is Kind.TEE else "both ends"
    sentence = (
        f"Looks into {where}; camera a little off the axis, so that it does not stand in its own "
        "light; a lamp held in the bore, low to the wall: a root bead or a step that runs round "
        "the bore is what a fabrication leaves."
    )
    return (NextView(code="bore", sentence=sentence, adds=0.0, stands=bore_stands(form)),)
