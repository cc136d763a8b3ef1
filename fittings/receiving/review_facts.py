"""What an order line and the tables say together, for the items of a review."""

from __future__ import annotations

from dataclasses import dataclass

from fittings.order.check import grade_of
from fittings.order.grades import ClassRule, Grade, class_rule
from fittings.order.lines import OrderLine
from fittings.words import Construction

NOT_IN_TABLE = "not in the table here"


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFacts:
    """An order line with its grade and class rule; None where the tables have no row.

    `construction` is what the order asks for, in words or else by its class letter. It is None
    where the order leaves it open, and where words and letter contradict each other, which
    `contradicts` tells apart.
    """

    line: OrderLine
    grade: Grade | None
    rule: ClassRule | None
    construction: Construction | None
    contradicts: bool

    @property
    def material(self) -> str:
        """ "A234 WPB-W"."""
        return self.line.material or "the material (the order names none)"

    @property
    def wall(self) -> str:
        """ "schedule 40" or "wall 7.11 mm"."""
        if self.line.schedule:
            return f"schedule {self.line.schedule}"
        wall_mm = self.line.wall_mm
        return f"wall {wall_mm:g} mm" if wall_mm is not None else "schedule or wall"

    @property
    def starts(self) -> str:
        """The usual start materials that fit the construction that was ordered."""
        if self.grade is None:
            return NOT_IN_TABLE
        seamless, other = ", ".join(self.grade.seamless_start), ", ".join(self.grade.welded_start)
        if self.construction is Construction.SEAMLESS:
            return seamless
        if self.construction is Construction.WELDED:
            return other
        return f"{seamless} (seamless) or {other} (welded)"


def facts_of(line: OrderLine) -> OrderFacts:
    """The facts of a line; a grade or a letter that the tables lack is no error here."""
    rule = None if line.spec is None else class_rule(line.spec, line.suffix)
    by_letter = {each.value: each for each in Construction}.get(rule.construction if rule else "")
    in_words = line.construction
    contradicts = None not in (in_words, by_letter) and in_words is not by_letter
    return OrderFacts(
        line=line,
        grade=grade_of(line),
        rule=rule,
        construction=None if contradicts else in_words or by_letter,
        contradicts=contradicts,
    )
