"""The quiz on paper: one file that any browser prints, answers on a page of their own."""

from __future__ import annotations

import base64
from collections.abc import Sequence
from html import escape

from fittings.checks import IN_SHORT
from fittings.words import ADVISORY
from ui.trainer.quiz import Answer, Question

_STYLE = """
@page { size: A4; margin: 14mm }
body { font: 11pt/1.35 "DejaVu Sans", Arial, sans-serif; color: #000; background: #fff;
  max-width: 182mm; margin: 6mm auto }
h1 { font-size: 15pt; margin: 0 0 2mm } h2 { font-size: 12pt; margin: 0 0 1mm }
.pictures { display: grid; grid-template-columns: repeat(auto-fit, minmax(76mm, 1fr)); gap: 5mm }
.pictures section, .answers section { break-inside: avoid }
img { width: 100%; border: 1px solid #000 }
ul { list-style: none; margin: 1mm 0; padding: 0 } li::before { content: "\\25A1\\00A0\\00A0" }
.answers { break-before: page } .answers section { display: grid; gap: 4mm;
  grid-template-columns: 52mm 1fr; border-top: 1px solid #000; padding: 2mm 0 }
.answers p { margin: 0 0 1mm } small { display: block; margin-top: 3mm }
"""


def sheet_html(title: str, questions: Sequence[Question]) -> str:
    """The sheet of a quiz: pictures with boxes to tick, then the answers; prints in grey too."""
    asked = "".join(_asked(each) for each in questions)
    answered = "".join(_answered(each) for each in questions)
    note = (
        f"<small>Rendered pictures, not photographs. {escape(ADVISORY)} {escape(IN_SHORT)}</small>"
    )
    return (
        '<!doctype html><html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width">'
        f"<title>{escape(title)}</title><style>{_STYLE}</style></head><body>"
        f"<h1>{escape(title)}</h1><p>What is the most telling seam that you can see? "
        "Name: ______________________  Date: ______________</p>"
        f'<div class="pictures">{asked}</div>{note}'
        f'<div class="answers"><h1>{escape(title)}: answers</h1>{answered}{note}</div>'
        "</body></html>"
    )


def _asked(each: Question) -> str:
    boxes = "".join(f"<li>{escape(answer.value)}</li>" for answer in Answer)
    return (
        f"<section><h2>{each.number}</h2>{_image(each.shot.plain, f'Picture {each.number}')}"
        f"<ul>{boxes}</ul></section>"
    )


def _answered(each: Question) -> str:
    return (
        f"<section>{_image(each.shot.marked, f'Picture {each.number} with its seams drawn')}"
        f"<div><h2>{each.number}: {escape(each.right.value)}</h2><p>{escape(each.why)}</p>"
        f"<p>{escape(each.check.removesuffix(IN_SHORT).strip())}</p></div></section>"
    )


def _image(png: bytes, alt: str) -> str:
    data = base64.b64encode(png).decode()
    return f'<img alt="{escape(alt)}" src="data:image/png;base64,{data}">'
