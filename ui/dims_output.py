"""Dimensions and comparisons as a table for people and as one object for scripts."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rich.console import Console
from rich.table import Table
from rich.text import Text

from fittings.form_names import dn_of
from fittings.order.lines import OrderLine
from fittings.receiving.end_limits import Limit
from fittings.receiving.limits import INCH_NOTE
from fittings.receiving.measured import (
    ADVISORY_MEASURED,
    Deviation,
    WallSurvey,
    millimetres,
    wall_survey,
)


def as_object(
    line: OrderLine, allowed: Sequence[Limit], found: Sequence[Deviation]
) -> dict[str, Any]:
    """The JSON object of one fitting. Lengths in mm, rounded to a ten-thousandth."""
    return {
        "fitting": line.form.value,
        "nps": line.nps,
        "second_nps": line.second_nps,
        "dn": dn_of(line.nps),
        "second_dn": None if line.second_nps is None else dn_of(line.second_nps),
        "schedule": line.schedule,
        "dimensions": [_limit_object(limit) for limit in allowed],
        "measurements": [_deviation_object(each) for each in found],
        "wall_surveys": [_survey_object(name, survey) for name, survey in _surveys(found)],
        "note": INCH_NOTE,
        "advisory": ADVISORY_MEASURED,
    }


def print_dims(
    line: OrderLine,
    allowed: Sequence[Limit],
    found: Sequence[Deviation],
    console: Console,
    *,
    title: str = "",
) -> None:
    """The table of dimensions, then the measurements, the sources and the advisory words."""
    console.print(Text(f"{title}: " * bool(title) + title_of(line), style="bold"))
    sources = list(dict.fromkeys(limit.source for limit in allowed))
    console.print(_limits_table(allowed, sources))
    if not any(limit.name.endswith("wall") for limit in allowed):
        console.print("Wall and bore need the schedule or the wall that was ordered.")
    if found:
        console.print(_found_table(found))
    for name, survey in _surveys(found):
        console.print(f"{name}: {survey_in_words(survey)}", markup=False)
    for note in dict.fromkeys(each.note for each in allowed if each.note):
        names = ", ".join(each.name for each in allowed if each.note == note)
        console.print(f"{names}: {note}.", markup=False)
    console.print("Sources:")
    for number, source in enumerate(sources, start=1):
        console.print(f"  [{number}] {source}", markup=False)
    console.print(INCH_NOTE)
    console.print(Text(ADVISORY_MEASURED, style="bold"))


def title_of(line: OrderLine) -> str:
    """ "90° long-radius elbow, NPS 6 (DN150), schedule 40"."""
    sizes = [line.nps] if line.second_nps is None else [line.nps, line.second_nps]
    nps = " x ".join(sizes)
    dn = " x ".join(str(dn_of(each)) for each in sizes)
    schedule = f", schedule {line.schedule}" if line.schedule else ""
    wall = f", wall {millimetres(line.wall_mm)}" if line.wall_mm is not None else ""
    return f"{line.form.value}, NPS {nps} (DN {dn}){schedule}{wall}"


def survey_in_words(survey: WallSurvey) -> str:
    """The sums of a wall survey in one line."""
    return (
        f"{survey.count} walls, least {millimetres(survey.least_mm)}, "
        f"greatest {millimetres(survey.greatest_mm)}, mean {millimetres(survey.mean_mm)}, "
        f"spread {millimetres(survey.spread_mm)}; {survey.below_least} below the least allowed"
    )


def _limits_table(allowed: Sequence[Limit], sources: Sequence[str]) -> Table:
    table = Table()
    table.add_column("Name", overflow="fold")
    table.add_column("What", overflow="fold")
    for heading in ("Nominal mm", "Least mm", "Most mm"):
        table.add_column(heading, justify="right", no_wrap=True)
    table.add_column("Source", overflow="fold")
    for limit in allowed:
        source = f"[{sources.index(limit.source) + 1}]"
        table.add_row(
            Text(limit.name),
            Text(limit.label if limit.required else f"{limit.label} (recommended only)"),
            *(Text(_number(each)) for each in (limit.nominal_mm, limit.low_mm, limit.high_mm)),
            Text(f"{source} from memory" if limit.from_memory else source),
        )
    return table


def _found_table(found: Sequence[Deviation]) -> Table:
    table = Table()
    table.add_column("Measured", overflow="fold")
    table.add_column("Value mm", justify="right", no_wrap=True)
    table.add_column("Off nominal mm", justify="right", no_wrap=True)
    table.add_column("Against the limit", overflow="fold")
    for each in found:
        count = f" (worst of {len(each.all_mm)})" if len(each.all_mm) > 1 else ""
        count = " (reckoned from the diameters, if all are of one end)" if each.reckoned else count
        off = each.deviation_mm
        table.add_row(
            Text(each.limit.name + count),
            Text(_number(each.worst_mm)),
            Text("" if off is None or each.limit.nominal_mm == 0 else _signed(off)),
            Text(each.in_words),
        )
    return table


def _surveys(found: Sequence[Deviation]) -> list[tuple[str, WallSurvey]]:
    return [
        (each.limit.name, wall_survey(each.all_mm, each.limit))
        for each in found
        if each.limit.name.endswith("wall") and len(each.all_mm) > 1
    ]


def _limit_object(limit: Limit) -> dict[str, Any]:
    return {
        "name": limit.name,
        "label": limit.label,
        "nominal_mm": _rounded(limit.nominal_mm),
        "least_mm": _rounded(limit.low_mm),
        "most_mm": _rounded(limit.high_mm),
        "required": limit.required,
        "note": limit.note,
        "source": limit.source,
        "from_memory": limit.from_memory,
    }


def _deviation_object(each: Deviation) -> dict[str, Any]:
    return {
        "name": each.limit.name,
        "measured_mm": _rounded(each.worst_mm),
        "all_mm": [_rounded(value) for value in each.all_mm],
        "reckoned": each.reckoned,
        "deviation_mm": _rounded(each.deviation_mm),
        "place": each.place.name.lower(),
        "outside_by_mm": _rounded(each.outside_by_mm),
        "room_mm": _rounded(each.room_mm),
        "in_words": each.in_words,
        "from_memory": each.limit.from_memory,
    }


def _survey_object(name: str, survey: WallSurvey) -> dict[str, Any]:
    return {
        "name": name,
        "count": survey.count,
        "least_mm": _rounded(survey.least_mm),
        "greatest_mm": _rounded(survey.greatest_mm),
        "mean_mm": _rounded(survey.mean_mm),
        "spread_mm": _rounded(survey.spread_mm),
        "below_least": survey.below_least,
    }


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 4)


def _number(value_mm: float | None) -> str:
    return "–" if value_mm is None else millimetres(value_mm).removesuffix(" mm")


def _signed(value_mm: float) -> str:
    sign = "+" if value_mm > 0 else ""
    return sign + millimetres(value_mm).removesuffix(" mm")
