"""One picture of the exam: drawn, rendered, read by each reader, and set against its exact truth.

The scenes are kept apart from all others by seed (training draws from seeds below 1 000, tuning
from 900 001 on, the exam from 700 001 to 799 999) and, for half of them, by factor: `held_out`
scenes take skins, grounds, light and marks that training never drew (`synthetic.held_out`).

Composition, in tens by index: six pictures of one fitting (two of each kind), two of several
fittings, two of none. Every second ten is drawn held out; a picture counts as such where it shows
at least one look of those kept back. Constructions fall as the sampler draws them: about 46 %
fabricated, 24 % welded, 30 % seamless.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import asdict, dataclass
from typing import Any, Protocol

import cv2
import numpy as np
from numpy.typing import NDArray
from PIL import Image
from skimage.morphology import skeletonize

from fittings.words import Construction, Kind, Orientation
from synthetic.held_out import tags
from synthetic.joined import PieceEnd, ends_in_picture
from synthetic.native import native_stages
from synthetic.render import VISIBLE_CONTRAST, VISIBLE_SHARE, Picture, render, seam_orientation
from synthetic.sample import PIECE_KINDS, sample_scene
from synthetic.scene import Scene
from vision.exam_factors import blur_spread_px, distractors, pixel_iou, visible_seams
from vision.exam_joints import joined_in_view, right_and_wrong
from vision.kind_in_view import kind_in_view
from vision.metrics import near, seam_iou
from vision.reading import PhotoError, PhotoReading, Seam

SEEDS = range(700_001, 800_000)
"""Seeds that only the exam may use."""

TOLERANCE_SHARE = 0.008
"""How far a traced point may lie off a true seam and still be on it: share of the long side."""

OVERLAP = 0.5
"""A traced seam overlaps a true one when this share of its points lies on it."""


class _Outcome(Protocol):
    @property
    def reading(self) -> PhotoReading | None: ...
    @property
    def error(self) -> PhotoError | None: ...


class ReadsBytes(Protocol):
    """What the exam asks of a reader: the door that a user's photo goes through."""

    def read_bytes(self, data: bytes, name: str) -> _Outcome: ...


@dataclass(frozen=True, slots=True, kw_only=True)
class TrueSeam:
    """One family of seams of one piece, as the scene has it. `share` is that of the frame,
    `contrast` in 8-bit levels, `fabrication` that it is a cross weld of a fabricated piece."""

    kind: str
    orientation: str
    finish: str
    contrast: float
    share: float
    visible: bool
    fabrication: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Traced:
    """One traced seam; `true_orientation` is None where it overlaps no true seam,
    `geometric_orientation` where the geometry abstains."""

    orientation: str
    true_orientation: str | None
    surface_angle_deg: float | None
    geometric_orientation: str | None = None
    angle_uncertainty_deg: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Answer:
    """What one reader said. `overlap` is the IoU of thinned seams within the tolerance, None
    without a true seam in view; `pixel_iou` that of the labels' pixels and those of the visible
    seams within IOU_PX, None without such a seam; `end_joints` counts the joints to a pipe that it
    told, `joints_right` the joined ends in view among them, `joints_wrong` those on an end without
    a pipe or on none (None where the ends are not known, and in older rows); an unreadable picture
    has `error` and probability 0."""

    kind: str
    reading: str
    fabricated_probability: float
    traced: tuple[Traced, ...]
    overlap: float | None
    seconds: float
    error: str | None = None
    end_joints: int = 0
    pixel_iou: float | None = None
    joints_right: int | None = None
    joints_wrong: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """One picture: what is in it, and what each reader said, by the reader's name.

    `shares` are the pieces' shares of the frame, `kinds_shown` whether the picture shows of which
    kind each is (`kind_in_view`; empty in rows written before that was recorded), `props` counts
    the other things of the scene, `looks` names what it holds of the skins, grounds, light and
    marks that training never drew. `surfaces` and `distractors` name the pieces' skins and what is
    no seam but may look like one, `blur_px` is the picture's blur (`blur_spread_px`), `joined_ends`
    how many ends with a pipe joined to them it shows: empty and None in rows written before those
    were recorded, and of pictures of which they aren't known.
    """

    index: int
    looks: tuple[str, ...]
    kinds: tuple[str, ...]
    constructions: tuple[str, ...]
    shares: tuple[float, ...]
    props: int
    seams: tuple[TrueSeam, ...]
    answers: Mapping[str, Answer]
    kinds_shown: tuple[bool, ...] = ()
    surfaces: tuple[str, ...] = ()
    distractors: tuple[str, ...] = ()
    blur_px: float | None = None
    joined_ends: int | None = None

    def as_json(self) -> dict[str, Any]:
        """JSON types only; `row_from_json` is the inverse."""
        return asdict(self)


def row_from_json(data: Mapping[str, Any]) -> Row:
    """The row that `Row.as_json` wrote; TypeError or KeyError for another form."""
    answers = {
        name: Answer(**{**answer, "traced": tuple(Traced(**t) for t in answer["traced"])})
        for name, answer in data["answers"].items()
    }
    tuples = {name: tuple(data[name]) for name in ("looks", "kinds", "constructions", "shares")}
    later = ("kinds_shown", "surfaces", "distractors")
    tuples |= {name: tuple(data.get(name, ())) for name in later}
    seams = tuple(TrueSeam(**seam) for seam in data["seams"])
    return Row(**{**data, **tuples, "seams": seams, "answers": answers})


def check_seed(seed: int) -> int:
    """The seed itself; ValueError for one that training or tuning may have used."""
    if seed not in SEEDS:
        raise ValueError(f"exam seeds are {SEEDS.start} to {SEEDS.stop - 1}, got {seed}")
    return seed


def kinds_of(index: int, rng: np.random.Generator) -> tuple[Kind, ...]:
    """What picture `index` shows, by the composition above."""
    place = index % 10
    if place < 6:
        return (PIECE_KINDS[place % 3],)
    if place < 8:
        return tuple(PIECE_KINDS[i] for i in rng.integers(0, 3, int(rng.integers(2, 5))))
    return ()


def is_held_out(index: int) -> bool:
    """Every second ten of pictures."""
    return index // 10 % 2 == 1


def exam_scene(seed: int, index: int) -> Scene:
    """Picture `index` of the exam with this seed, whatever was drawn before it."""
    rng = np.random.default_rng([check_seed(seed), index])
    return sample_scene(rng, kinds_of(index, rng), held_out=is_held_out(index))


def examine(
    seed: int, index: int, readers: Mapping[str, ReadsBytes], width_px: int, height_px: int
) -> Row:
    """Draw, render and read picture `index`."""
    scene = exam_scene(seed, index)
    picture = render(scene, width_px, height_px, run=native_stages())
    data = png_bytes(picture)
    labels = np.rint(picture.truth.seam[0]).astype(np.uint8)
    joined = joined_in_view(scene, picture)
    ends = ends_in_picture(scene, width_px, height_px)
    return Row(
        index=index,
        looks=tags(scene)["held_out"],
        surfaces=tags(scene)["skin"],
        distractors=distractors(scene),
        blur_px=blur_spread_px(scene.effects),
        kinds=tuple(piece.kind.value for piece in scene.pieces),
        constructions=tuple(piece.construction.value for piece in scene.pieces),
        shares=tuple(float(own.mean()) for own in _pixels_of_each(scene, picture)),
        kinds_shown=tuple(
            kind_in_view(piece.kind, picture.truth.part[0][own], picture.truth.along[0][own])
            for piece, own in zip(scene.pieces, _pixels_of_each(scene, picture), strict=True)
        ),
        props=sum(prop.half_length_mm > 0.0 for prop in scene.props),
        seams=true_seams(scene, picture),
        answers={
            name: answer(
                reader, data, f"exam-{index}.png", labels, visible_seams(picture), (ends, joined)
            )
            for name, reader in readers.items()
        },
        joined_ends=len(joined),
    )


def _pixels_of_each(scene: Scene, picture: Picture) -> list[NDArray[np.bool_]]:
    """(H, W) bool for each piece: where it is in front."""
    return [picture.truth.piece[0] == i + 1 for i in range(len(scene.pieces))]


def png_bytes(picture: Picture) -> bytes:
    """The picture as a PNG file."""
    pixels = np.rint(np.clip(picture.rgb[0], 0.0, 1.0).transpose(1, 2, 0) * 255.0)
    out = io.BytesIO()
    Image.fromarray(pixels.astype(np.uint8)).save(out, "PNG", compress_level=1)
    return out.getvalue()


def true_seams(scene: Scene, picture: Picture) -> tuple[TrueSeam, ...]:
    """The seams that at least one pixel shows, with how visible each is."""
    seams = []
    total = picture.truth.part[0].size
    for number, piece in enumerate(scene.pieces):
        for slot, weld in ((1, piece.along_weld), (2, piece.cross_weld)):
            place = 2 * number + slot - 1
            share = float(picture.pixels[0, place]) / total
            contrast = float(picture.contrast[0, place])
            if share == 0.0:
                continue
            fabricated = piece.construction is Construction.FABRICATED
            seams.append(
                TrueSeam(
                    kind=piece.kind.value,
                    orientation=seam_orientation(piece.kind, slot).value,
                    finish=weld.finish.value,
                    contrast=contrast,
                    share=share,
                    visible=share >= VISIBLE_SHARE and contrast >= VISIBLE_CONTRAST,
                    fabrication=fabricated and slot == 2,
                )
            )
    return tuple(seams)


def answer(
    reader: ReadsBytes,
    data: bytes,
    name: str,
    labels: NDArray[np.uint8],
    visible: NDArray[np.bool_] | None = None,
    ends: tuple[tuple[PieceEnd, ...], tuple[PieceEnd, ...]] | None = None,
) -> Answer:
    """What a reader says of a picture whose true seam labels are (H, W); `visible` is where those
    of visible seams are, everywhere without it; `ends` are all ends of its pieces and the joined
    ones in view, where they are known."""
    outcome = reader.read_bytes(data, name)
    if outcome.reading is None:
        kind = outcome.error.kind if outcome.error is not None else "no answer"
        return Answer(
            kind="error",
            reading="error",
            fabricated_probability=0.0,
            traced=(),
            overlap=None,
            seconds=0.0,
            error=kind,
        )
    reading = outcome.reading
    right, wrong = (None, None) if ends is None else right_and_wrong(reading.end_joints, *ends)
    return Answer(
        kind=reading.kind.value,
        reading=reading.verdict.reading.value,
        fabricated_probability=reading.verdict.fabricated_probability,
        traced=tuple(against_truth(seam, labels) for seam in reading.seams),
        overlap=overlap(reading.seams, labels),
        pixel_iou=pixel_iou(reading, labels > 0 if visible is None else visible),
        seconds=reading.seconds,
        end_joints=len(reading.end_joints),
        joints_right=right,
        joints_wrong=wrong,
    )


def against_truth(seam: Seam, labels: NDArray[np.uint8]) -> Traced:
    """A traced seam with the orientation of the true one under most of it."""
    points = np.argwhere(_drawn((seam,), labels.shape))
    reach = tolerance_px(labels.shape)
    counts = [
        int(near(labels == orientation.label, reach)[tuple(points.T)].sum())
        for orientation in Orientation
    ]
    best = int(np.argmax(counts))
    geometric, curve = seam.geometric_orientation, seam.curve
    overlaps = len(points) > 0 and counts[best] >= OVERLAP * len(points)
    return Traced(
        orientation=seam.orientation.value,
        true_orientation=list(Orientation)[best].value if overlaps else None,
        surface_angle_deg=seam.surface_angle_deg,
        geometric_orientation=None if geometric is None else geometric.value,
        angle_uncertainty_deg=None if curve is None else curve.angle_uncertainty_deg,
    )


def overlap(seams: tuple[Seam, ...], labels: NDArray[np.uint8]) -> float | None:
    """IoU of the traced paths and the thinned true seams within the tolerance; None without any
    true seam."""
    if not labels.any():
        return None
    found = _drawn(seams, labels.shape)
    return seam_iou(found, skeletonize(labels > 0), tolerance_px(labels.shape))


def tolerance_px(shape: tuple[int, ...]) -> float:
    """`TOLERANCE_SHARE` of the long side of (H, W)."""
    return TOLERANCE_SHARE * max(shape)


def _drawn(seams: tuple[Seam, ...], shape: tuple[int, ...]) -> NDArray[np.bool_]:
    """(H, W) bool: the paths, one pixel wide."""
    canvas = np.zeros(shape, np.uint8)
    for seam in seams:
        path = np.rint(np.array(seam.path)).astype(np.int32).reshape(-1, 1, 2)
        cv2.polylines(canvas, [path], False, 1)
    return canvas.astype(np.bool_)
