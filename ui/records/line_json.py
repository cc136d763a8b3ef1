"""An order line as a JSON object and back, every field by its name."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from fittings.order.lines import FittingForm, OrderLine
from fittings.words import Construction


def line_facts(line: OrderLine) -> dict[str, Any]:
    """The fields of `line`; an enum by its value."""
    facts = {field.name: getattr(line, field.name) for field in fields(line)}
    facts["form"] = line.form.value
    facts["construction"] = line.construction.value if line.construction else None
    return facts


def order_line(facts: Mapping[str, Any]) -> OrderLine:
    """The line that `facts` tells. TypeError or ValueError (OrderError too) when it is none."""
    made = dict(facts)
    made["form"] = FittingForm(made["form"])
    if made.get("construction") is not None:
        made["construction"] = Construction(made["construction"])
    return OrderLine(**made)
