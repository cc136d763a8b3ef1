"""The raw material of an order line: what the certificate must show, and what cannot be."""

from __future__ import annotations

import re

from fittings.order.findings import COMMON_PRACTICE, FROM_MEMORY, Finding, Level
from fittings.order.grades import Grade
from fittings.order.lines import OrderLine
from fittings.words import Construction

_WITHOUT_FILLER = re.compile(r"\b(?:ERW|HFW|HFI|ELECTRIC[- ]RESISTANCE)\b", re.IGNORECASE)
_SAYS_WELDED = re.compile(r"\b(?:plate|sheet|strip|coil|welded|erw|hfw|hfi|efw|l?saw)\b", re.I)
_SAYS_SEAMLESS = re.compile(r"\b(?:seamless|smls|bar|forging|extruded|drawn)\b", re.I)
# By their titles these come seamless and welded, which is from memory; a word must say which.
_BOTH_WAYS = frozenset(("A53", "A312", "A333", "A790", "API 5L"))
# A standard number with what belongs to it: A106-B, A312, B241.
_DESIGNATION = re.compile(r"\b(?:S?([AB])[ -]?(\d{2,4})|API 5L)(?!\d)", re.IGNORECASE)


def start_findings(line: OrderLine, grade: Grade | None) -> list[Finding]:
    """What the certificate must show as raw material, and whether the named one fits the line."""
    found = [_to_show(line, grade)] if grade is not None else []
    text = line.start_material
    if text is None:
        return found
    if _WITHOUT_FILLER.search(text):
        found += _without_filler(line, text)
    seamless = start_is_seamless(text, grade)
    wanted = _wanted(line)
    if seamless is False and wanted is Construction.SEAMLESS:
        found.append(
            Finding(
                level=Level.CONTRADICTION,
                field="start_material",
                sentence=f"A seamless fitting cannot come from {text}, which has or needs a seam.",
                source=_form_source(line, grade),
            )
        )
    if seamless is True and wanted is Construction.WELDED:
        found.append(
            Finding(
                level=Level.CONTRADICTION,
                field="start_material",
                sentence=f"The line wants welded construction, but {text} is seamless; one of the "
                "two is a slip.",
                source=_form_source(line, grade),
            )
        )
    if seamless is not None and wanted is None:
        found.append(
            Finding(
                level=Level.NOTE,
                field="start_material",
                sentence=f"{text} has no seam, so a seam in the body speaks against this line."
                if seamless
                else f"{text} has or needs a seam, so the piece cannot be a seamless one.",
                source=_form_source(line, grade),
            )
        )
    if seamless is None and _numbers(text) & _BOTH_WAYS:
        found.append(
            Finding(
                level=Level.LEFT_OPEN,
                field="start_material",
                sentence=f"{text} comes seamless and welded under one number; say which.",
                source=f"the title of the pipe standard, {FROM_MEMORY}",
            )
        )
    if grade is not None and _numbers(text) and not _among(text, grade):
        usual = "; ".join((*grade.seamless_start, *grade.welded_start))
        found.append(
            Finding(
                level=Level.LEFT_OPEN,
                field="start_material",
                sentence=f"{text} is not among the usual start materials of {grade.grade} ({usual})"
                ": ask which one the maker uses.",
                source=_source(grade),
            )
        )
    return found


def start_is_seamless(text: str, grade: Grade | None) -> bool | None:
    """Whether a start material is without a seam; None where its name leaves that open.

    A312 pipe, for instance, comes both ways under one standard number, so the words decide first.
    """
    if _SAYS_WELDED.search(text):
        return False
    if _SAYS_SEAMLESS.search(text):
        return True
    if grade is None or not _numbers(text) or _numbers(text) & _BOTH_WAYS:
        return None
    seamless = _numbers(text) & _numbers(" ".join(grade.seamless_start))
    welded = _numbers(text) & _numbers(" ".join(grade.welded_start))
    if bool(seamless) == bool(welded):
        return None
    return bool(seamless)


def _wanted(line: OrderLine) -> Construction | None:
    return line.construction or line.construction_by_letter


def _to_show(line: OrderLine, grade: Grade) -> Finding:
    wanted = _wanted(line)
    seamless, welded = "; ".join(grade.seamless_start), "; ".join(grade.welded_start)
    if wanted is Construction.SEAMLESS:
        words = f"one without a seam, usually {seamless}"
    elif wanted is Construction.WELDED:
        words = f"the plate or welded pipe it was made from, usually {welded}"
    else:
        words = f"usually {seamless} where seamless, {welded} where welded"
    return Finding(
        level=Level.NOTE,
        field="start_material",
        sentence=f"The certificate must show the raw material, with its form, standard and grade: "
        f"{words}.",
        source=_source(grade),
    )


def _without_filler(line: OrderLine, text: str) -> list[Finding]:
    if line.spec == "A234":
        source = (
            "ASTM A234 (2013 edition), materials, one public copy; that it shuts out electric-"
            "resistance-welded pipe, one public trade text"
        )
    elif line.spec == "A420":
        source = f"ASTM A420 by analogy with ASTM A234, {FROM_MEMORY}"
    else:
        return []
    return [
        Finding(
            level=Level.CONTRADICTION,
            field="start_material",
            sentence=f"{text} is welded without filler metal, but {line.spec} takes fusion-welded "
            "pipe with filler metal only.",
            source=source,
        )
    ]


def _form_source(line: OrderLine, grade: Grade | None) -> str:
    if line.spec == "B361":
        return (
            "ASTM B241 is seamless pipe and seamless extruded tube, ASTM B209 sheet and plate, by "
            "their titles, two public copies agree"
        )
    return _source(grade) if grade is not None else COMMON_PRACTICE


def _source(grade: Grade) -> str:
    name = grade.spec if grade.spec.startswith("MSS") else f"ASTM {grade.spec}"
    return f"{name} (edition not recorded), start material; {grade.start_source}"


def _numbers(text: str) -> frozenset[str]:
    return frozenset(
        f"{match[1]}{match[2]}".upper() if match[1] else "API 5L"
        for match in _DESIGNATION.finditer(text)
    )


def _among(text: str, grade: Grade) -> bool:
    return bool(_numbers(text) & _numbers(" ".join((*grade.seamless_start, *grade.welded_start))))
