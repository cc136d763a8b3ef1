from __future__ import annotations

import io
import subprocess
import sys
import tracemalloc
from pathlib import Path

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image

from tests.stand_in import bad_files, encoded, picture, png_of_size, sha256_of
from vision import errors
from vision.photo import MIN_SIDE_PX, Photo, open_photo

BAD = bad_files()
GOOD = encoded(picture(), quality=95)


def exif(orientation: int) -> bytes:
    tags = Image.Exif()
    tags[0x0112] = orientation
    return tags.tobytes()


def as_seen(pixels: np.ndarray, orientation: int) -> np.ndarray:
    """Exif 2.32, tag 274, written out: which side of the scene row 0 and column 0 are."""
    return {
        1: pixels,
        2: pixels[:, ::-1],  # row 0 top, column 0 right
        3: pixels[::-1, ::-1],  # bottom, right
        4: pixels[::-1],  # bottom, left
        5: pixels.transpose(1, 0, 2),  # left, top
        6: np.rot90(pixels, -1),  # right, top
        7: pixels[::-1, ::-1].transpose(1, 0, 2),  # right, bottom
        8: np.rot90(pixels, 1),  # left, bottom
    }[orientation]


@pytest.mark.parametrize("name", sorted(BAD))
def test_a_bad_file_gives_its_named_error(name: str) -> None:
    data, kind = BAD[name]
    with pytest.raises(errors.PhotoUnreadable) as caught:
        open_photo(data, name)
    assert caught.value.kind == kind
    assert str(caught.value).startswith(f"{name}: ")
    assert "\n" not in str(caught.value)
    assert caught.value.as_photo_error().as_json()["error"]["kind"] == kind


def test_every_kind_of_error_is_one_word_and_used_once() -> None:
    def leaves(tree: type[errors.PhotoUnreadable]) -> list[type[errors.PhotoUnreadable]]:
        return [tree] + [leaf for branch in tree.__subclasses__() for leaf in leaves(branch)]

    kinds = [leaf.kind for leaf in leaves(errors.PhotoUnreadable)]
    assert len(kinds) == len(set(kinds))
    assert all(kind.isidentifier() and kind.islower() for kind in kinds)


@pytest.mark.parametrize("orientation", range(1, 9))
@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP", "TIFF", "HEIF"])
def test_orientation_is_applied_exactly_once(form: str, orientation: int) -> None:
    options = {} if form in ("PNG", "TIFF") else {"quality": 95}
    data = encoded(picture(160, 80), form, exif=exif(orientation), **options)
    photo = open_photo(data, "turned")
    expected = as_seen(picture(160, 80), orientation)
    assert photo.pixels.shape == expected.shape
    assert (photo.height, photo.width) == expected.shape[:2]
    assert np.abs(photo.pixels.astype(int) - expected).mean() < 8


def test_heic_is_opened_by_a_process_that_did_nothing_else(tmp_path: Path) -> None:
    (tmp_path / "x.heic").write_bytes(encoded(picture(160, 80), "HEIF", quality=95))
    code = (
        "import sys, pathlib, vision.photo as p\nassert 'pillow_heif' not in sys.modules\n"
        "print(p.open_photo(pathlib.Path(sys.argv[1]).read_bytes(), 'x').pixels.shape)"
    )
    command = [sys.executable, "-c", code, str(tmp_path / "x.heic")]
    done = subprocess.run(command, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "(80, 160, 3)"


@pytest.mark.parametrize("orientation", range(1, 9))
def test_a_reduced_copy_is_turned_too_and_keeps_the_photos_size(orientation: int) -> None:
    data = encoded(picture(1600, 800), exif=exif(orientation), quality=95)
    photo = open_photo(data, "turned", max_side_px=200)
    expected = as_seen(picture(200, 100), orientation)
    assert photo.pixels.shape == expected.shape
    assert (photo.width, photo.height) == ((1600, 800) if orientation < 5 else (800, 1600))
    assert photo.scale == (8.0, 8.0)
    assert np.abs(photo.pixels.astype(int) - expected).mean() < 8


@pytest.mark.parametrize("form", ["JPEG", "PNG", "WEBP"])
@pytest.mark.parametrize("size", [(1001, 333), (640, 480), (90, 64)])
def test_reduced_pixels_say_how_they_map_to_the_photo(form: str, size: tuple[int, int]) -> None:
    photo = open_photo(encoded(picture(*size), form), "p", max_side_px=150)
    assert (photo.width, photo.height) == size
    assert max(photo.pixels.shape[:2]) <= 150
    assert photo.pixels.shape[1] * photo.scale[0] == pytest.approx(size[0])
    assert photo.pixels.shape[0] * photo.scale[1] == pytest.approx(size[1])


def test_a_strip_far_longer_than_wide_is_read() -> None:
    """Its short side shared by the whole reduction is less than a pixel."""
    photo = open_photo(encoded(picture(30_000, 64)), "strip", max_side_px=400)
    assert (photo.width, photo.height) == (30_000, 64)
    assert photo.pixels.shape[:2] == (1, 400)


def test_a_jpeg_nearly_as_small_as_asked_is_not_decoded_larger() -> None:
    """4032 pixels at a quarter are 1008: near enough to 1024; 3000 at a quarter are not."""
    assert open_photo(encoded(picture(4032, 64)), "p", max_side_px=1024).pixels.shape[1] == 1008
    assert open_photo(encoded(picture(3000, 64)), "p", max_side_px=1024).pixels.shape[1] == 1024


def test_the_hash_is_of_the_original_bytes() -> None:
    assert open_photo(GOOD, "p").sha256 == sha256_of(GOOD)


def test_cmyk_comes_out_as_it_was() -> None:
    out = io.BytesIO()
    Image.fromarray(picture()).convert("CMYK").save(out, "JPEG", quality=95)
    photo = open_photo(out.getvalue(), "print.jpg")
    assert np.abs(photo.pixels.astype(int) - picture()).mean() < 12
    assert any("CMYK" in note for note in photo.notes)


@pytest.mark.parametrize("form", ["PNG", "TIFF"])
def test_sixteen_bits_are_scaled(form: str) -> None:
    ramp = np.tile(np.linspace(0, 65535, 256).astype(np.uint16), (80, 1))
    photo = open_photo(encoded(ramp, form), "deep")
    assert photo.pixels[0, :, 0].tolist() == list(range(256))
    assert photo.notes


def test_a_dark_sixteen_bit_picture_stays_dark() -> None:
    dark = np.full((80, 80), 2570, dtype=np.uint16)
    assert open_photo(encoded(dark, "PNG"), "deep.png").pixels.max() == 10


def test_floating_point_grey_is_scaled() -> None:
    ramp = np.tile(np.linspace(0, 1, 256, dtype=np.float32), (80, 1))
    photo = open_photo(encoded(ramp, "TIFF"), "deep")
    assert photo.pixels[0, :, 1].tolist() == list(range(256))


def test_transparent_parts_are_white() -> None:
    layered = np.zeros((80, 80, 4), dtype=np.uint8)
    layered[:40, :, 3] = 255
    photo = open_photo(encoded(layered, "PNG"), "cut-out.png")
    assert photo.pixels[:40].max() == 0
    assert photo.pixels[40:].min() == 255
    assert any("white" in note for note in photo.notes)


def test_grey_and_palette_pictures_become_rgb() -> None:
    grey = np.tile(np.arange(200, dtype=np.uint8), (80, 1))
    assert np.array_equal(open_photo(encoded(grey, "PNG"), "g").pixels[..., 2], grey)
    out = io.BytesIO()
    Image.fromarray(picture()).quantize(16).save(out, "PNG")
    assert np.abs(open_photo(out.getvalue(), "p").pixels.astype(int) - picture()).mean() < 3


def test_a_still_gif_is_read_and_a_tiff_of_pages_gives_its_first() -> None:
    assert open_photo(encoded(picture(), "GIF"), "still.gif").width == 320
    out = io.BytesIO()
    pages = [Image.fromarray(picture(red=red)) for red in (250, 0)]
    pages[0].save(out, "TIFF", save_all=True, append_images=pages[1:])
    photo = open_photo(out.getvalue(), "pages.tif")
    assert photo.pixels[..., 0].min() == 250
    assert "2 pictures" in photo.notes[0]


@pytest.mark.parametrize("form", ["WEBP", "PNG"])
def test_other_moving_pictures_are_refused_too(form: str) -> None:
    out = io.BytesIO()
    frames = [Image.fromarray(picture(red=red)) for red in (0, 250)]
    frames[0].save(out, form, save_all=True, append_images=frames[1:])
    with pytest.raises(errors.AnimatedPicture):
        open_photo(out.getvalue(), "moving")


@pytest.mark.parametrize("side", [11_000, 13_500, 30_000, 2**31 - 1])
def test_a_huge_header_is_refused_without_taking_memory(side: int) -> None:
    data = png_of_size(side, side)
    tracemalloc.start()
    with pytest.raises((errors.PictureTooLarge, errors.TruncatedPicture)):
        open_photo(data, "bomb.png")
    peak = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()
    assert peak < 2_000_000


def test_the_limit_on_small_pictures_stands_where_it_says() -> None:
    open_photo(encoded(picture(MIN_SIDE_PX, MIN_SIDE_PX), "PNG"), "p")
    with pytest.raises(errors.PictureTooSmall):
        open_photo(encoded(picture(MIN_SIDE_PX - 1, 300), "PNG"), "p")


def test_pixels_can_be_no_other_shape_and_are_not_changed() -> None:
    with pytest.raises(ValueError, match="uint8"):
        Photo(name="p", sha256="", width=2, height=2, pixels=np.zeros((2, 2), np.uint8))
    with pytest.raises(ValueError, match="reduced copy"):
        Photo(name="p", sha256="", width=2, height=2, pixels=np.zeros((3, 2, 3), np.uint8))
    with pytest.raises(ValueError, match="read-only"):
        open_photo(GOOD, "p").pixels[0, 0] = 0


def check_opens_or_refuses(data: bytes) -> None:
    try:
        photo = open_photo(data, "any")
    except errors.PhotoUnreadable:
        return
    assert photo.pixels.shape == (photo.height, photo.width, 3)


@given(st.binary(max_size=300))
def test_any_bytes_give_a_photo_or_our_error(data: bytes) -> None:
    check_opens_or_refuses(data)


STARTS = {
    form: encoded(picture(96, 72), form) for form in ("JPEG", "PNG", "WEBP", "TIFF", "GIF", "HEIF")
}


@given(
    st.sampled_from(sorted(STARTS)),
    st.lists(st.tuples(st.floats(0, 1), st.integers(0, 255)), max_size=8),
    st.floats(0, 1),
)
def test_damaged_pictures_give_a_photo_or_our_error(
    form: str, changes: list[tuple[float, int]], cut: float
) -> None:
    data = bytearray(STARTS[form])
    for where, value in changes:
        data[round(where * (len(data) - 1))] = value
    check_opens_or_refuses(bytes(data[: round(len(data) * (1 - cut * cut))]))
