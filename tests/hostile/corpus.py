"""Files that mean harm or came to it, made from a seed: photos, archives, documents, orders, names.

The same seed and number give the same bytes. No file here is a published attack; each family is
built from the format's own description.
"""

from __future__ import annotations

import io
import struct
import warnings
import zipfile
import zlib
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import cache
from typing import Any

import numpy as np
import pillow_heif
import pypdf
from openpyxl import Workbook
from PIL import Image
from pypdf.generic import (
    ArrayObject,
    DictionaryObject,
    NameObject,
    NumberObject,
    StreamObject,
)

from tests.stand_in import png_of_size

SEED = 20_707
Rng = np.random.Generator


@dataclass(frozen=True, slots=True, kw_only=True)
class Case:
    """One file; `is_order` says that it is given to `seamtriage order`, else to `screen`."""

    name: str
    data: bytes
    is_order: bool = False


def cases(count: int, seed: int = SEED) -> Iterator[Case]:
    """The first `count` files of that seed, the families in turn."""
    for index in range(count):
        yield case(index, seed)


def case(index: int, seed: int = SEED) -> Case:
    """One file of the corpus."""
    family = FAMILIES[index % len(FAMILIES)]
    made = family(np.random.default_rng([seed, index]))
    return Case(name=f"{index:05}-{made.name}", data=made.data, is_order=made.is_order)


def pick(rng: Rng, things: list) -> Any:
    return things[int(rng.integers(len(things)))]


# ---------------------------------------------------------------------------- sound files


@cache
def pixels(width: int = 160, height: int = 120) -> np.ndarray:
    """(height, width, 3) uint8: blocks and noise, so that decoders have something to do."""
    rng = np.random.default_rng(3)
    blocks = rng.integers(0, 255, (height // 20, width // 20, 3)).repeat(20, 0).repeat(20, 1)
    return np.clip(blocks + rng.normal(0, 8, blocks.shape), 0, 255).astype(np.uint8)


def saved(image: Image.Image, form: str, **options: object) -> bytes:
    out = io.BytesIO()
    image.save(out, form, **options)
    return out.getvalue()


@cache
def photos() -> dict[str, bytes]:
    """File name → a sound picture of each kind that is read."""
    rgb = Image.fromarray(pixels())
    deep = Image.fromarray(pixels()[..., 0].astype(np.uint16) * 257)
    heif = io.BytesIO()
    pillow_heif.from_pillow(rgb).save(heif, quality=60)
    thumb = rgb.resize((80, 60))
    return {
        "plain.jpg": saved(rgb, "JPEG"),
        "progressive.jpg": saved(rgb, "JPEG", progressive=True, quality=60),
        "grey.jpg": saved(rgb.convert("L"), "JPEG"),
        "cmyk.jpg": saved(rgb.convert("CMYK"), "JPEG"),
        "pair.jpg": saved(rgb, "MPO", save_all=True, append_images=[thumb]),
        "exif.jpg": saved(rgb, "JPEG", exif=exif(6)),
        "plain.png": saved(rgb, "PNG"),
        "deep.png": saved(deep, "PNG"),
        "palette.png": saved(rgb.quantize(32), "PNG"),
        "clear.png": saved(rgb.convert("RGBA"), "PNG"),
        "bit.png": saved(rgb.convert("1"), "PNG"),
        "plain.webp": saved(rgb, "WEBP"),
        "lossless.webp": saved(rgb, "WEBP", lossless=True),
        "plain.tif": saved(rgb, "TIFF"),
        "packed.tif": saved(rgb, "TIFF", compression="tiff_lzw"),
        "lab.tif": saved(rgb.convert("LAB"), "TIFF"),
        "ycbcr.tif": saved(rgb.convert("YCbCr"), "TIFF"),
        "float.tif": saved(Image.fromarray(pixels()[..., 0].astype(np.float32)), "TIFF"),
        "cmyk.tif": saved(rgb.convert("CMYK"), "TIFF"),
        "still.gif": saved(rgb.quantize(16), "GIF"),
        "plain.bmp": saved(rgb, "BMP"),
        "plain.heic": heif.getvalue(),
    }


def exif(orientation: int) -> bytes:
    tags = Image.Exif()
    tags[0x0112] = orientation
    return tags.tobytes()


def any_photo(rng: Rng) -> tuple[str, bytes]:
    return pick(rng, sorted(photos().items()))


def flipped(rng: Rng, data: bytes, most: int = 40) -> bytes:
    """Some of its bits turned over, the beginning more often than the rest."""
    out = bytearray(data)
    for _ in range(int(rng.integers(1, most))):
        reach = len(out) if rng.random() < 0.6 else min(len(out), 200)
        out[int(rng.integers(reach))] ^= 1 << int(rng.integers(8))
    return bytes(out)


# ---------------------------------------------------------------------------- photos


def bits_turned(rng: Rng) -> Case:
    name, data = any_photo(rng)
    return Case(name=f"bits-{name}", data=flipped(rng, data))


def cut_short(rng: Rng) -> Case:
    name, data = any_photo(rng)
    return Case(name=f"cut-{name}", data=data[: int(rng.integers(len(data)))])


def spliced(rng: Rng) -> Case:
    """A run of bytes missing, doubled or replaced by noise."""
    name, data = any_photo(rng)
    first, last = sorted(rng.integers(0, len(data), 2).tolist())
    middle = pick(rng, [b"", data[first:last] * 2, rng.bytes(last - first), bytes(last - first)])
    return Case(name=f"splice-{name}", data=data[:first] + middle + data[last:])


def wrong_header(rng: Rng) -> Case:
    """One kind's beginning on another's body, or another kind's name."""
    (name, data), (other, start) = any_photo(rng), any_photo(rng)
    if rng.random() < 0.5:
        return Case(name=f"named-{other}", data=data)
    length = int(rng.integers(2, 40))
    return Case(name=f"head-{name}", data=start[:length] + data[length:])


def sized(rng: Rng) -> tuple[int, int]:
    sides = [0, 1, 63, 64, 10_000, 30_000, 65_500, 2**24, 2**31 - 1]
    return int(pick(rng, sides)), int(pick(rng, sides))


def huge(rng: Rng) -> Case:
    """Headers that claim a size their few bytes don't hold."""
    width, height = sized(rng)
    form = int(rng.integers(5))
    if form == 0:
        return Case(name="huge.png", data=png_of_size(width, height))
    if form == 1:
        data = bytearray(photos()["plain.jpg"])
        at = data.index(b"\xff\xc0") + 5
        data[at : at + 4] = struct.pack(">HH", min(height, 65_535), min(width, 65_535))
        return Case(name="huge.jpg", data=bytes(data))
    if form == 2:
        data = bytearray(photos()["plain.bmp"])
        data[18:26] = struct.pack("<ii", width, -height if rng.random() < 0.5 else height)
        return Case(name="huge.bmp", data=bytes(data))
    if form == 3:
        data = bytearray(photos()["still.gif"])
        data[6:10] = struct.pack("<HH", min(width, 65_535), min(height, 65_535))
        return Case(name="huge.gif", data=bytes(data))
    return Case(name="huge.tif", data=tiff(width, height, rng))


def tiff(width: int, height: int, rng: Rng) -> bytes:
    """A TIFF of odd tags: strips anywhere, counts of any size, directories in a ring."""
    tags = {
        256: width, 257: height, 258: int(pick(rng, [1, 8, 16, 32, 64, 65_535])),
        259: int(pick(rng, [1, 5, 7, 8, 32_773, 34_712, 50_000])),
        262: int(pick(rng, [0, 1, 2, 3, 5, 6, 8, 32_803])), 273: int(rng.integers(2**31)),
        277: int(pick(rng, [1, 3, 4, 200])), 278: height, 279: int(rng.integers(2**31)),
        274: int(rng.integers(2**31)), 322: width, 323: height, 339: int(rng.integers(8)),
    }  # fmt: skip
    kept = {tag: value for tag, value in tags.items() if rng.random() < 0.8}
    kinds = [4, 4, 4, 3, 12, 0, 99]
    rows = [
        struct.pack(
            "<HHII", tag, int(pick(rng, kinds)), int(pick(rng, [1, 1, 2**30])), value % 2**32
        )
        for tag, value in sorted(kept.items())
    ]
    following = int(pick(rng, [0, 8]))
    directory = struct.pack("<H", len(rows)) + b"".join(rows) + struct.pack("<I", following)
    return b"II*\0" + struct.pack("<I", 8) + directory + rng.bytes(400)


@cache
def zeros_packed(count: int) -> bytes:
    return zlib.compress(bytes(count), 9)


def chunked_bomb(rng: Rng) -> Case:
    """PNG text and colour profiles that unpack to very much, before the picture."""
    data = photos()["plain.png"]
    packed = zeros_packed(int(pick(rng, [10**6, 10**8])))
    kind, head = pick(
        rng,
        [(b"zTXt", b"k\0\0"), (b"iTXt", b"k\0\1\0\0\0"), (b"iCCP", b"p\0\0"), (b"tEXt", b"k\0")],
    )
    body = head + packed
    chunk = struct.pack(">I", len(body)) + kind + body + struct.pack(">I", zlib.crc32(kind + body))
    return Case(name="chunk.png", data=data[:33] + chunk * int(rng.integers(1, 4)) + data[33:])


def solid_bomb(rng: Rng) -> Case:
    """Large sound pictures of one colour: small as files, as large as is allowed, or larger."""
    size = pick(rng, [(6_000, 8_000), (20_000, 64), (64, 60_000), (12_000, 12_000)])
    form = pick(rng, ["png", "tif"])
    return Case(name=f"solid.{form}", data=solid(pick(rng, ["1", "L"]), size, form))


@cache
def solid(mode: str, size: tuple[int, int], form: str) -> bytes:
    image = Image.new(mode, size)
    if form == "png":
        return saved(image, "PNG")
    return saved(image, "TIFF", compression="tiff_adobe_deflate")


def wild_exif(rng: Rng) -> Case:
    """Orientations that make no sense, lengths and offsets that lead nowhere or in a ring."""
    name = pick(rng, ["plain.jpg", "exif.jpg", "plain.png", "plain.webp", "plain.heic"])
    image = Image.open(io.BytesIO(photos()[name]))
    rows = []
    for _ in range(int(rng.integers(1, 12))):
        tag = int(pick(rng, [0x0112, 0x0112, 0x8769, 0x8825, 0x010F, int(rng.integers(65_536))]))
        kind, count = int(rng.integers(14)), int(pick(rng, [0, 1, 1, 2, 2**16, 2**32 - 1]))
        rows.append(struct.pack("<HHII", tag, kind, count, int(rng.integers(2**32))))
    block = b"II*\0\x08\0\0\0" + struct.pack("<H", len(rows)) + b"".join(rows) + b"\x08\0\0\0"
    form = {"jpg": "JPEG", "png": "PNG", "webp": "WEBP", "heic": "HEIF"}[str(name).split(".")[1]]
    return Case(name=f"exif-{name}", data=saved(image, form, exif=b"Exif\0\0" + block))


def odd_names(rng: Rng) -> Case:
    """Sound and broken photos under names of many scripts, with markup, controls and formulas."""
    stem = str(pick(rng, NAMES))
    _, data = any_photo(rng)
    return Case(name=f"{stem}.jpg", data=flipped(rng, data) if rng.random() < 0.3 else data)


NAMES = [
    "колено", "三通", "エルボ", "엘보", "كوع", "מרפק", "γωνία", "कोहनी", "ข้องอ", "កែង", "é" * 40,
    "a\u0301\u0327" * 20, "👷🔧" * 8, "\u202egnp.exe", "\u200b\u200b\ufeff", "<script>alert(1)<",
    "<img src=x onerror=alert(1)>", "=1+1", "+cmd", "@SUM(A1)", "-rf", "--json", "%s%n%d", "{0}",
    "$(id)", "`id`", "a;b|c&d", "'quote\"", "tab\there", "line\nbreak", "bell\x07\x1b[31m", "CON",
    "nul", " lead", "trail ", "...", "..", "~", "*", "?", "a" * 200, "\udce4\udcff", "[x](y)",
]  # fmt: skip

# ---------------------------------------------------------------------------- archives


def members(rng: Rng) -> list[str]:
    names = [
        "../../etc/passwd.jpg", "/etc/shadow.jpg", "C:\\windows\\a.jpg", "..\\..\\b.jpg",
        "a/../b.jpg", "a.jpg", "a.jpg", "A.JPG", "inner.zip", "deep/" * 60 + "c.jpg",
        "\u202egpj.exe.jpg", "x\0y.jpg", "line\nbreak.jpg", "<b>.jpg", "=1+1.jpg",
        "три/четыре.png", "", ".hidden.jpg", "n" * 300 + ".jpg", "CON.jpg", "folder.jpg/",
        "end.txt",
    ]  # fmt: skip
    return [str(pick(rng, names)) for _ in range(int(rng.integers(1, 6)))]


def archive(rng: Rng) -> Case:
    """ZIPs with odd members, in each other, with links, locks, lies about sizes and damage."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for name in members(rng):
            info = zipfile.ZipInfo(name or "empty")
            info.compress_type = int(pick(rng, [0, 8, 12, 14]))
            info.filename = name
            if rng.random() < 0.1:
                info.external_attr = 0o120777 << 16
            _, data = any_photo(rng)
            with warnings.catch_warnings():  # two members of one name are meant
                warnings.simplefilter("ignore", UserWarning)
                made.writestr(info, data if rng.random() < 0.8 else b"/etc/passwd")
    data = out.getvalue()
    for _ in range(int(pick(rng, [0, 0, 0, 3, 30]))):
        again = io.BytesIO()
        with zipfile.ZipFile(again, "w", zipfile.ZIP_DEFLATED) as made:
            made.writestr("inner.zip", data)
            made.writestr("beside.jpg", photos()["plain.jpg"])
        data = again.getvalue()
    harm = int(rng.integers(5))
    if harm == 0:
        data = flipped(rng, data, 12)
    elif harm == 1:
        data = data[: int(rng.integers(len(data)))]
    elif harm == 2:  # asks for a password that nobody has, in both places where it says so
        data = data.replace(b"PK\1\2", b"PK\1\2", 1)
        at = data.rindex(b"PK\1\2")
        data = data[: at + 8] + b"\1\0" + data[at + 10 :]
    elif harm == 3:  # a size that is not so
        at = data.rindex(b"PK\1\2")
        data = data[: at + 24] + struct.pack("<I", int(rng.integers(2**32))) + data[at + 28 :]
    return Case(name="archive.zip", data=data)


def packed_bomb(rng: Rng) -> Case:
    """Members that unpack to far more than they are."""
    start, count = pick(rng, [b"", photos()["plain.jpg"]]), pick(rng, [10**6, 10**8, 3 * 10**8])
    return Case(name="bomb.zip", data=bomb(start, count, int(rng.integers(1, 3))))


@cache
def bomb(start: bytes, count: int, times: int) -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as made:
        for number in range(times):
            made.writestr(f"bomb-{number}.jpg", start + bytes(count))
        made.writestr("good.jpg", photos()["plain.jpg"])
    return out.getvalue()


# ---------------------------------------------------------------------------- documents


def document(rng: Rng) -> Case:
    """PDFs whose pictures lie about size, colour and filter, whose forms go in a ring; damaged."""
    writer = pypdf.PdfWriter()
    for _ in range(int(rng.integers(1, 4))):
        page = writer.add_blank_page(200, 200)
        things = DictionaryObject()
        for number in range(int(rng.integers(1, 4))):
            things[NameObject(f"/P{number}")] = writer._add_object(pdf_picture(rng))
        if rng.random() < 0.3:
            form = StreamObject()
            form[NameObject("/Subtype")] = NameObject("/Form")
            reference = writer._add_object(form)
            ring = DictionaryObject({NameObject("/F"): reference})
            form[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): ring})
            things[NameObject("/Ring")] = reference
        page[NameObject("/Resources")] = DictionaryObject({NameObject("/XObject"): things})
    out = io.BytesIO()
    writer.write(out)
    data = out.getvalue()
    harm = int(rng.integers(4))
    if harm == 0:
        data = flipped(rng, data)
    elif harm == 1:
        data = data[: int(rng.integers(len(data)))]
    elif harm == 2:
        data = data.replace(b"endstream", b"", int(rng.integers(1, 4)))
    return Case(name="document.pdf", data=data)


def pdf_picture(rng: Rng) -> StreamObject:
    picture = StreamObject()
    kind = pick(
        rng, ["/DCTDecode", "/FlateDecode", "/JPXDecode", "/CCITTFaxDecode", "/LZWDecode", "/None"]
    )
    body = {
        "/DCTDecode": photos()["plain.jpg"],
        "/FlateDecode": zlib.compress(pixels().tobytes()),
    }.get(str(kind), rng.bytes(800))
    if rng.random() < 0.1:
        body = zeros_packed(10**8)
    picture._data = flipped(rng, body) if rng.random() < 0.4 else body
    width, height = sized(rng) if rng.random() < 0.3 else (160, 120)
    spaces = ["/DeviceRGB", "/DeviceGray", "/DeviceCMYK", "/Indexed", "/ICCBased", "/Nothing"]
    picture.update(
        {
            NameObject("/Subtype"): NameObject("/Image"),
            NameObject("/Width"): NumberObject(width),
            NameObject("/Height"): NumberObject(height),
            NameObject("/BitsPerComponent"): NumberObject(int(pick(rng, [8, 8, 8, 1, 16, 0, 99]))),
            NameObject("/ColorSpace"): NameObject(str(pick(rng, spaces))),
            NameObject("/Filter"): NameObject(str(kind)),
        }
    )
    if rng.random() < 0.2:
        picture[NameObject("/Filter")] = ArrayObject([NameObject("/FlateDecode")] * 30)
    return picture


# ---------------------------------------------------------------------------- orders

_HEADING = "Fitting,Size,Schedule,Material,Construction,Quantity,Dimension standard"
_ROWS = [
    "90 LR elbow,6,40,ASTM A234 WPB,seamless,4,ASME B16.9",
    "tee,12,STD,ASTM A403 WP304L-S,,2,ASME B16.9",
    "reducer concentric,8x6,40,A234 WPB-W,welded,1,ASME B16.9",
    "=HYPERLINK(\"http://x\"),@SUM(A1),+1,-2,=cmd|'/c calc'!A0,\t=1,\r=2",
    "колено 90,6\",40,сталь,бесшовное,10,ГОСТ",
    "弯头,DN150,40,碳钢,无缝,10,标准",
    "<script>alert(1)</script>,6,40,<b>WPB</b>,seamless,NaN,ASME B16.9",
    "elbow,1e308,40,WPB,seamless,-1,", "elbow,٦,40,WPB,seamless,٤,", "tee,½,XXS,WPB,,1e9,",
    "elbow," + "9" * 5_000 + ",40,WPB,seamless,1,", "," * 500, '"', '"unclosed,6', "\0,\x1b[31m,",
]  # fmt: skip


def order_text(rng: Rng) -> Case:
    """Orders in many encodings, with formulas, markup, nonsense and damage."""
    rows = [str(pick(rng, _ROWS)) for _ in range(int(rng.integers(0, 12)))]
    end = str(pick(rng, ["\n", "\r\n", "\r", "\u2028"]))
    text = end.join([_HEADING if rng.random() < 0.85 else "a,b,c", *rows])
    text = text.replace(",", str(pick(rng, [",", ",", ";", "\t", "|"])))
    encodings = [
        "utf-8", "utf-8-sig", "utf-16", "utf-16-le", "utf-16-be", "utf-32", "cp1252", "cp1251",
        "koi8-r", "shift_jis", "gb18030", "big5", "euc_kr", "iso8859_6", "cp037", "utf-7",
    ]  # fmt: skip
    data = text.encode(str(pick(rng, encodings)), errors="replace")
    if rng.random() < 0.3:
        data = flipped(rng, data)
    elif rng.random() < 0.1:
        data = data * 300
    return Case(name="order.csv", data=data, is_order=True)


@cache
def workbook() -> bytes:
    book = Workbook()
    for row in [_HEADING, *_ROWS[:8]]:
        book.active.append(row.split(","))
    book.active["C9"] = "=1/0"
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


_LAUGHS = b'<?xml version="1.0"?><!DOCTYPE l [<!ENTITY a "ha">' + b"".join(
    f'<!ENTITY {chr(98 + i)} "{f"&{chr(97 + i)};" * 10}">'.encode() for i in range(9)
)


def order_workbook(rng: Rng) -> Case:
    """Workbooks damaged as files and, member by member, inside; entities; sheets without end."""
    with zipfile.ZipFile(io.BytesIO(workbook())) as sound:
        inside = {name: sound.read(name) for name in sound.namelist()}
    harm = int(rng.integers(7))
    if harm == 0:
        return Case(name="order.xlsx", data=flipped(rng, workbook()), is_order=True)
    if harm == 1:
        cut = workbook()[: int(rng.integers(len(workbook())))]
        return Case(name="order.xlsx", data=cut, is_order=True)
    name = str(pick(rng, sorted(inside)))
    if harm == 2:
        inside[name] = flipped(rng, inside[name])
    elif harm == 3:
        inside[name] = inside[name][: int(rng.integers(len(inside[name])))]
    elif harm == 4:
        inside[name] = _LAUGHS + b"]><l>&j;</l>"
    elif harm == 5:
        inside["xl/worksheets/sheet1.xml"] = inside["xl/worksheets/sheet1.xml"].replace(
            b"<row ", b'<row r="999999999" x="', 1
        )
    else:
        inside["xl/worksheets/sheet1.xml"] += bytes(int(pick(rng, [10**6, 10**6, 10**8])))
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as made:
        for member, data in inside.items():
            made.writestr(member, data)
    data = out.getvalue()
    if rng.random() < 0.2:  # an odd way of packing, or a lock
        at = data.rindex(b"PK\1\2")
        place, value = pick(rng, [(8, b"\1\0"), (10, b"\x63\0")])
        data = data[: at + place] + value + data[at + place + 2 :]
    return Case(name="order.xlsx", data=data, is_order=True)


def noise(rng: Rng) -> Case:
    """No format at all."""
    data = rng.bytes(int(rng.integers(0, 3_000)))
    end = str(pick(rng, ["jpg", "png", "heic", "zip", "pdf", "csv", "xlsx", "tif"]))
    return Case(name=f"noise.{end}", data=data, is_order=end in ("csv", "xlsx"))


_LIGHT = (
    bits_turned, cut_short, spliced, wrong_header, huge, wild_exif, odd_names, archive, document,
    order_text, order_workbook, noise, document, archive, order_text, order_workbook,
)  # fmt: skip
FAMILIES: tuple[Callable[[Rng], Case], ...] = (
    *(*_LIGHT, chunked_bomb), *(*_LIGHT, solid_bomb), *(*_LIGHT, packed_bomb),
)  # fmt: skip
