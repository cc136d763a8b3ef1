"""Is what an order line asks for inside the dimension standard, and does it name one?"""

from __future__ import annotations

from fittings.dimensions import elbow, reducer, tee
from fittings.listed import SizeNotListed
from fittings.order.findings import COMMON_PRACTICE, FROM_MEMORY, Finding, Level
from fittings.order.lines import ELBOWS, OrderLine
from fittings.words import Kind

B16_9 = "ASME B16.9"
SP_43 = "MSS SP-43"
_SP_43_SCHEDULES = ("5S", "10S")
_SP_43_SOURCE = "MSS SP-43 (edition not recorded), one public table"


def dimension_findings(line: OrderLine) -> list[Finding]:
    """The size against its table, and the dimension standard against the grade's prefix."""
    return [*_size(line), *_standard(line), *_prefix(line)]


def _size(line: OrderLine) -> list[Finding]:
    if line.dimension_standard not in (None, B16_9, "ASME B16.28"):
        return []
    try:
        words, source = _listed(line)
    except SizeNotListed as error:
        return [
            Finding(
                level=Level.CONTRADICTION,
                field="nps",
                sentence=f"The dimension standard has no such piece: {error}.",
                source=f"{error.table.value}, as tabled here",
            )
        ]
    return [Finding(level=Level.NOTE, field="nps", sentence=words, source=source)]


def _listed(line: OrderLine) -> tuple[str, str]:
    """What B16.9 has for the line, as a sentence and its source; SizeNotListed when nothing."""
    name = f"{line.form.value} NPS {line.sizes}".capitalize().replace("nps", "NPS")
    if line.form in ELBOWS:
        radius, angle_deg = ELBOWS[line.form]
        piece = elbow(line.nps, radius, angle_deg)
        letter = "A" if angle_deg == 90 else "B"
        return (
            f"{name} is listed: {letter}, centre to end, {piece.centre_to_end_mm:g} mm.",
            piece.source,
        )
    if line.form.kind is Kind.TEE:
        branch = tee(line.nps, line.second_nps)
        return (
            f"{name} is listed: C {branch.run_c_mm:g} mm, M {branch.outlet_m_mm:g} mm"
            + ("." if branch.outlet_m_required else " (M recommended only)."),
            branch.source,
        )
    cone = reducer(line.nps, line.second_nps or "")
    return f"{name} is listed: H, end to end, {cone.end_to_end_mm:g} mm.", cone.source


def _standard(line: OrderLine) -> list[Finding]:
    named = line.dimension_standard
    if named is None:
        return [
            Finding(
                level=Level.LEFT_OPEN,
                field="dimension_standard",
                sentence="No dimension standard is named; it is ASME B16.9 that keeps "
                "circumferential and intersection welds and sharp corners out.",
                source="ASME B16.9 1.3 (2007 edition) and section 7 (2003 and 2007 editions), "
                "public copies",
            )
        ]
    if named == "ASME B16.28":
        return [
            Finding(
                level=Level.NOTE,
                field="dimension_standard",
                sentence="Short-radius elbows have moved from ASME B16.28 into ASME B16.9; name "
                "that one.",
                source=f"ASME B16.9, {FROM_MEMORY}",
            )
        ]
    if named in (B16_9, SP_43, "MSS SP-75"):
        return []
    return [
        Finding(
            level=Level.LEFT_OPEN,
            field="dimension_standard",
            sentence=f"{named} is not tabled here; whether it shuts a fabrication out was not "
            "checked.",
            source=COMMON_PRACTICE,
        )
    ]


def _prefix(line: OrderLine) -> list[Finding]:
    """WP claims B16.9 and the rating of the pipe; CR stands for MSS SP-43, which has neither."""
    cr_grade = (line.grade or "").startswith("CR")
    wp_grade = (line.grade or "").startswith("WP")
    found = []
    if (cr_grade or line.suffix == "CR") and line.dimension_standard == B16_9:
        found.append(
            _contradiction(
                "dimension_standard",
                "CR stands for a fitting to MSS SP-43, which is not pressure rated as its pipe is "
                "(it must stand 30 % of that), but the line names ASME B16.9; a WP grade is meant, "
                "or the other standard.",
            )
        )
    elif cr_grade:
        found.append(
            Finding(
                level=Level.LEFT_OPEN,
                field="grade",
                sentence="A CR grade has no class, so a seam is allowed, and it need only stand "
                "30 % of the matching pipe's rating; write the WP grade where the rating counts.",
                source=_SP_43_SOURCE,
            )
        )
    if wp_grade and (line.suffix == "CR" or line.dimension_standard == SP_43):
        found.append(
            _contradiction(
                "grade",
                f"{line.grade} claims ASME B16.9 by its prefix WP, but the line asks for MSS SP-43 "
                "(CR), which is not pressure rated as its pipe is.",
            )
        )
    if (line.dimension_standard == SP_43 or cr_grade) and (
        line.schedule is not None and line.schedule not in _SP_43_SCHEDULES
    ):
        found.append(
            _contradiction(
                "schedule",
                f"MSS SP-43 has schedules 5S and 10S only, not {line.schedule}.",
            )
        )
    return found


def _contradiction(field: str, sentence: str) -> Finding:
    return Finding(level=Level.CONTRADICTION, field=field, sentence=sentence, source=_SP_43_SOURCE)
