"""The photographs in a Word document, in the order in which a reader meets them.

A .docx is a ZIP archive (ECMA-376 part 2): `word/document.xml` refers to its pictures by relation,
`word/_rels/document.xml.rels` says which file each relation is. Logos in headers and footers are in
other parts and are passed over. Nothing is unpacked to disk, and no entity is followed.
"""

from __future__ import annotations

import io
import posixpath
import zipfile
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from xml.etree import ElementTree

from vision import errors

MAX_TEXT_BYTES = 64 * 1024 * 1024  # of document.xml: a book is well below
MAX_WORDS_CHARS = 2000  # of the words kept above and below a picture

_BODY = "word/document.xml"
_RELATIONS = "word/_rels/document.xml.rels"
_XML_DAMAGE = (
    ElementTree.ParseError,
    zipfile.BadZipFile,
    zlib.error,
    EOFError,
    OSError,
    ValueError,
    KeyError,
    NotImplementedError,
    RuntimeError,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Placed:
    """One picture's file in the archive, with the words nearest above and below it."""

    member: zipfile.ZipInfo
    above: str
    below: str


def placed_pictures(archive: zipfile.ZipFile, name: str) -> list[Placed]:
    """The pictures that the body of the document shows, each once, in its order.

    Raises errors.DamagedSource where the archive is no Word document or can't be read as one.
    """
    try:
        targets = _targets(_part(archive, _RELATIONS))
        runs = list(_runs(_part(archive, _BODY)))
    except _XML_DAMAGE as error:
        problem = f"can't be read as a Word document ({error})."
        raise errors.DamagedSource(name, problem) from error
    members = {member.filename: member for member in archive.infolist()}
    placed: dict[str, Placed] = {}
    for index, run in enumerate(runs):
        member = members.get(targets.get(run.relation, ""))
        if member is not None and member.filename not in placed:
            placed[member.filename] = Placed(
                member=member, above=_words_above(runs, index), below=_words_below(runs, index)
            )
    return list(placed.values())


@dataclass(frozen=True, slots=True, kw_only=True)
class _Run:
    """A stretch of words (`relation` empty) or one picture (`words` empty)."""

    words: str = ""
    relation: str = ""


def _part(archive: zipfile.ZipFile, part: str) -> bytes:
    """One part of the document; ValueError where it unpacks to more than the limit."""
    with archive.open(part) as stream:
        data = stream.read(MAX_TEXT_BYTES + 1)
    if len(data) > MAX_TEXT_BYTES:
        raise ValueError(f"{part} holds more than {MAX_TEXT_BYTES // 2**20} MB")
    if b"<!DOCTYPE" in data[:2000]:
        raise ValueError(f"{part} declares entities, which no Word document does")
    return data


def _targets(relations: bytes) -> dict[str, str]:
    """Relation → name of the member in the archive, for what lies inside it."""
    return {
        relation.get("Id", ""): posixpath.normpath(
            target[1:] if target.startswith("/") else f"word/{target}"
        )
        for relation in ElementTree.fromstring(relations)
        if relation.get("TargetMode") != "External" and (target := relation.get("Target", ""))
    }


def _runs(body: bytes) -> Iterator[_Run]:
    """Words and pictures of the body, in its order; words of one stretch are joined."""
    words: list[str] = []
    for _, element in ElementTree.iterparse(io.BytesIO(body)):
        tag = element.tag.rpartition("}")[2]
        relation = ""
        if tag == "t":
            words.append(element.text or "")
        elif tag in ("p", "tab", "br"):
            words.append(" ")
        elif tag in ("blip", "imagedata"):  # DrawingML, and the older VML
            relation = _relation(element)
        if relation:
            yield _Run(words=" ".join("".join(words).split()))
            yield _Run(relation=relation)
            words = []
        if tag in ("p", "tbl"):
            element.clear()  # what was read is not kept
    yield _Run(words=" ".join("".join(words).split()))


def _relation(element: ElementTree.Element) -> str:
    for key, value in element.attrib.items():
        if key.rpartition("}")[2] in ("embed", "id") and key.startswith("{") and "office" in key:
            return value
    return ""


def _words_above(runs: list[_Run], index: int) -> str:
    words = next((run.words for run in reversed(runs[:index]) if run.words), "")
    return words[-MAX_WORDS_CHARS:]


def _words_below(runs: list[_Run], index: int) -> str:
    words = next((run.words for run in runs[index + 1 :] if run.words), "")
    return words[:MAX_WORDS_CHARS]
