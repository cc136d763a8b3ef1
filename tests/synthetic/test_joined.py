"""Which ends are joined, and where they lie, against scenes whose answer is known by hand."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from fittings.words import Kind
from synthetic.joined import ends_in_picture
from synthetic.sample import PIECE_KINDS
from synthetic.sample_joined import spool
from synthetic.sample_pieces import sample_piece
from synthetic.scene import Camera, Piece, Scene


def test_an_end_lies_where_a_pinhole_camera_puts_it() -> None:
    """A reducer along x at the height of a camera 1 m in front of it that looks along y: its ends
    lie f · x / distance from the middle of the picture (pixel centres at whole numbers)."""
    piece = Piece(
        kind=Kind.REDUCER, radius_mm=50.0, second_radius_mm=30.0, length_mm=200.0, eccentric=0.0
    )
    along_y = (1.0, 0.0, 0.0, 0.0, 0.0, -1.0, 0.0, 1.0, 0.0)
    camera = Camera(position_mm=(0.0, -1000.0, 0.0), rotation=along_y, focal=2.0)
    first, last = ends_in_picture(Scene(pieces=(piece,), camera=camera), 500, 400)
    assert first.middle_px == pytest.approx((249.5, 199.5))
    assert last.middle_px == pytest.approx((449.5, 199.5))
    assert first.radius_px == pytest.approx(50.0)
    assert not first.joined
    assert not last.joined


@pytest.mark.parametrize("kind", PIECE_KINDS)
def test_every_pipe_of_a_spool_is_found_on_an_end(kind: Kind) -> None:
    """As many ends are joined as pipes were drawn; none is without them."""
    counts = set()
    for index in range(40):
        rng = np.random.default_rng([3, index])
        piece = replace(sample_piece(rng, kind), position_mm=(0.0, 0.0, 1500.0))
        props = tuple(spool(rng, piece))
        pipes = [
            p for p in props
            if p.shape == 0.0 and p.wall_mm > 0.0 and p.half_length_mm > 0.4 * p.half_height_mm
        ]  # fmt: skip
        ends = ends_in_picture(Scene(pieces=(piece,), props=props), 64, 48)
        assert sum(end.joined for end in ends) == len(pipes)
        assert not any(e.joined for e in ends_in_picture(Scene(pieces=(piece,)), 64, 48))
        counts.add(len(pipes))
    assert counts >= {1, 2}
