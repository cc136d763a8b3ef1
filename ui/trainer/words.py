"""What the trainer's page says."""

from __future__ import annotations

from fittings.words import Kind
from ui.trainer.makes import About
from ui.trainer.pictures import Shot, Standing

INTRODUCTION = (
    "Fittings made on the spot, to learn what a seam looks like and where it can be. All pictures "
    "here are rendered, none is a photograph, and the seams drawn on them are the true ones."
)
FIRST_TIME = (
    "The first picture on a machine can take a minute or two: the renderer is prepared once. "
    "After that a picture takes a few seconds."
)
RENDERING = "Rendering the picture …"
FOUR = "Turning the light around the piece, then rendering four pictures …"
QUIZ = "Rendering picture"
LIGHT_LESSON = (
    "Flat light from the camera or from everywhere fills in what is raised and what is sunk. Light "
    "that comes low **across** a seam gives every ripple, toe and step a bright and a dark side; "
    "light that comes **along** the seam hides it. So walk a lamp around the piece, low, and look "
    "at it again from each side. The figure under each picture says how much the seam differs from "
    "the metal beside it, of 255 grey levels; below 4 few people see it."
)
QUIZ_LESSON = (
    "What is the most telling seam that you can see? A seam at the outlet's root or around the "
    "part speaks of fabrication; seams along the part alone do not."
)
KIND_TITLES = {
    Kind.ELBOW: "Elbow",
    Kind.TEE: "Tee",
    Kind.REDUCER: "Reducer",
}


def construction_line(about: About) -> str:
    """ "Fabricated: not a fitting to ASME B16.9", or what sort of wrought fitting it is."""
    return {
        "seamless": "Wrought, seamless",
        "welded": "Wrought, welded lengthwise",
        "fabricated": "Fabricated: pipe fabrication, not a wrought fitting",
    }[about.construction.value]


def standing_line(each: Standing) -> str:
    """One seam of a picture in words and figures."""
    name = each.orientation.value.capitalize()
    letter = each.orientation.style.letter
    seen = "can be seen" if each.visible else "hard or impossible to see"
    return f"{letter}: {name} seam, {each.levels:.1f} of 255 grey levels: {seen}"


def standing_lines(shot: Shot) -> list[str]:
    """All seams of a picture; a line for none."""
    if not shot.seams:
        return ["No weld on this piece."]
    return [standing_line(each) for each in shot.seams]


def alt_text(shot: Shot, *, marked: bool) -> str:
    """The picture for those who cannot see it."""
    what = "with its true seams drawn" if marked else "as a camera would show it"
    return f"{shot.label}, {shot.choice.surface}, rendered, {what}"
