"""Forms, sizes, schedules, walls and constructions as people write them in an order."""

from __future__ import annotations

import pytest

from fittings.dimensions import outside_diameter_mm
from fittings.listed import SizeTable, listed_sizes, table_rows
from fittings.order.description import describe
from fittings.order.lines import FittingForm, OrderError
from fittings.order.phrases import (
    certificate_name,
    constructions_in,
    dimension_standard_in,
    may_be_dn,
    schedule_in,
    sizes_in,
    start_in,
    wall_in,
)
from fittings.words import Construction


@pytest.mark.parametrize(
    ("text", "unit", "sizes"),
    [
        ("6", None, ("6",)),
        ('6"', None, ("6",)),
        ("6 in", "nps", ("6",)),
        ("NPS 1-1/2", None, ("1-1/2",)),
        ("1 1/2", None, ("1-1/2",)),
        ("2½", None, ("2-1/2",)),
        ("0.75", None, ("3/4",)),
        ("DN150", None, ("6",)),
        ("150", "dn", ("6",)),
        ("DN 300 x DN 150", None, ("12", "6")),
        ("DN300x150", None, ("12", "6")),
        ("100NB", None, ("4",)),
        ('6" x 4"', None, ("6", "4")),
        ("6x4", None, ("6", "4")),
        ("6 X 4 in", None, ("6", "4")),
        ("6 by 4", None, ("6", "4")),
        ("1-1/2 x 3/4", None, ("1-1/2", "3/4")),
        ("6 Zoll", None, ("6",)),
    ],
)
def test_sizes(text: str, unit: str | None, sizes: tuple[str, ...]) -> None:
    assert sizes_in(text, unit) == sizes


def test_every_dn_of_the_pipe_table_is_its_nps() -> None:
    for row in table_rows("pipe_b36"):
        assert sizes_in(row["dn"], "dn") == sizes_in(f"DN{row['dn']}") == (row["nps"],)
        assert sizes_in(row["nps"]) == (row["nps"],)


@pytest.mark.parametrize(
    ("text", "unit", "match"),
    [
        ("DN150 x 4in", None, "mixes NPS .* and DN"),
        ('DN150"', None, "mixes NPS .* and DN"),
        ('6"', "dn", "mixes NPS .* and DN"),
        ("DN150", "nps", "mixes NPS .* and DN"),
        ("7", None, "NPS 7 is not listed.*6, 8"),
        ("150", None, "if DN 150 is meant, write DN150"),
        ("DN155", None, "DN155 is not listed.*DN125, DN150"),
        ("6 x 4 x 4", None, "more than two sizes"),
        ("big", None, "is no size"),
        ("3/0", None, "divides by 0"),
    ],
)
def test_sizes_that_cannot_be(text: str, unit: str | None, match: str) -> None:
    with pytest.raises(OrderError, match=match) as caught:
        sizes_in(text, unit)
    assert caught.value.field == "nps"


def test_a_plain_number_may_be_a_dn_as_well() -> None:
    assert [each for each in ("6", "20", "32", "1-1/2", "48") if may_be_dn(each)] == ["20", "32"]


@pytest.mark.parametrize(
    ("text", "schedule"),
    [
        ("40", "40"),
        ("SCH 40", "40"),
        ("Sch.80", "80"),
        ("schedule 160", "160"),
        ("S40", "40"),
        ("10 S", "10S"),
        ("SCH40S", "40S"),
        ("std", "STD"),
        ("Std. wt", None),
        ("STD WT", "STD"),
        ("XH", "XS"),
        ("XXH", "XXS"),
        ("40 x 40", "40"),
        ("9.53 mm", None),
        ("heavy", None),
    ],
)
def test_schedules(text: str, schedule: str | None) -> None:
    assert schedule_in(text) == schedule


def test_every_listed_schedule_is_read() -> None:
    for _, schedule in listed_sizes(SizeTable.PIPE):
        assert schedule_in(schedule) == schedule_in(f"Sch {schedule}") == schedule


def test_two_schedules_in_one_line_are_refused() -> None:
    with pytest.raises(OrderError, match="two schedules"):
        schedule_in("SCH 40 x SCH 80")


@pytest.mark.parametrize(
    ("text", "unit", "wall_mm"),
    [
        ("9.53 mm", None, 9.53),
        ("9.53", "mm", 9.53),
        ("9,53", "mm", 9.53),
        ("9,53 mm", "mm", 9.53),
        ('0.375"', None, 9.525),
        ("0.375", "in", 9.525),
        ("3/8 in", None, 9.525),
        ("0.375 inch", "in", 9.525),
        ("0.375 Zoll", None, 9.525),
    ],
)
def test_walls(text: str, unit: str | None, wall_mm: float) -> None:
    assert wall_in(text, unit) == pytest.approx(wall_mm, abs=1e-12)


@pytest.mark.parametrize(
    ("text", "unit", "match"),
    [
        ("9.53", None, "has no unit"),
        ("0.375 in", "mm", "heading says mm, the cell says in"),
        ("9.53 mm", "in", "heading says in, the cell says mm"),
        ("thick", "mm", "no number"),
        ("9.53 furlong", None, "furlong"),
    ],
)
def test_walls_that_cannot_be(text: str, unit: str | None, match: str) -> None:
    with pytest.raises(OrderError, match=match) as caught:
        wall_in(text, unit)
    assert caught.value.field == "wall_mm"


@pytest.mark.parametrize(
    ("text", "named"),
    [
        ("SMLS", [Construction.SEAMLESS]),
        ("welded", [Construction.WELDED]),
        ("ERW", [Construction.WELDED]),
        ("butt-welded ends", []),
        ("BUTT WELDING ELBOW", []),
        ("seamless, butt weld ends", [Construction.SEAMLESS]),
        ("seamless or welded", [Construction.SEAMLESS, Construction.WELDED]),
        ("mitred, 3 pieces", [Construction.FABRICATED]),
        ("set-on", [Construction.FABRICATED]),
        ("segmented", [Construction.FABRICATED]),
    ],
)
def test_constructions(text: str, named: list[Construction]) -> None:
    assert list(constructions_in(text)) == named


def test_pipe_without_filler_metal_is_kept_as_the_start() -> None:
    assert start_in("from ERW pipe") == "ERW pipe"
    assert start_in("EFW") is None


@pytest.mark.parametrize(
    ("text", "standard"),
    [
        ("ASME B16.9", "ASME B16.9"),
        ("ANSI B16.9-2018", "ASME B16.9"),
        ("b 16.9", "ASME B16.9"),
        ("B16.28", "ASME B16.28"),
        ("MSS SP-43", "MSS SP-43"),
        ("EN 10253-2", "EN 10253"),
        ("A234", None),
    ],
)
def test_dimension_standards(text: str, standard: str | None) -> None:
    found, rest = dimension_standard_in(f"x {text} y")
    assert found == standard
    assert ("16" in rest or "43" in rest or "10253" in rest) == (standard is None and "16" in text)


def test_a_whole_description_is_read_to_its_last_word() -> None:
    said = describe("ELBOW 90 LR 6in SCH 40 A234 WPB BE SMLS")
    assert said.form(two_sizes=False) is FittingForm.ELBOW_90_LONG
    assert (said.sizes, said.schedule, said.wall_mm) == (("6",), "40", None)
    assert said.material is not None
    assert (said.material.spec, said.material.grade) == ("A234", "WPB")
    assert said.constructions == (Construction.SEAMLESS,)
    assert said.dimension_standard is None


@pytest.mark.parametrize(
    ("text", "sizes", "schedule", "wall_mm", "grade", "suffix"),
    [
        ("90 DEG LR ELL, DN150, SCH.40, ASTM A403 WP304L-WX", ("6",), "40", None, "WP304L", "WX"),
        ('RED TEE 12" X 6" STD A234 WPB WELDED', ("12", "6"), "STD", None, "WPB", ""),
        ("TEE REDUCING 6x4 SCH STD x STD A234 WPBW", ("6", "4"), "STD", None, "WPB", "W"),
        ('Elbow 90° R=1.5D 2½" 7.01 mm wall A234 WP11 CL1', ("2-1/2",), None, 7.01, "WP11 CL1", ""),
        ("ECC REDUCER 10 in x 8 in XS A420 Gr. WPL6 B16.9", ("10", "8"), "XS", None, "WPL6", ""),
        ("Tee straight NPS 8 wall 8.18mm WPB", ("8",), None, 8.18, "WPB", ""),
        ('ELBOW 45 LR 1-1/2" 80S B366 WPNC', ("1-1/2",), "80S", None, "WPNC", ""),
        ('ELBOW LR 90 x 6"', ("6",), None, None, None, ""),
        ('ELBOW 90 LR 6" DN150', ("6",), None, None, None, ""),
        ("ELBOW 90 LR, B16.9, EN 10204 3.1", (), None, None, None, ""),
    ],
)
def test_descriptions(
    text: str,
    sizes: tuple[str, ...],
    schedule: str | None,
    wall_mm: float | None,
    grade: str | None,
    suffix: str,
) -> None:
    said = describe(text)
    assert (said.sizes, said.schedule, said.wall_mm) == (sizes, schedule, wall_mm)
    assert (said.material.grade if said.material else None) == grade
    assert (said.material.suffix if said.material else "") == suffix
    assert said.form(two_sizes=len(sizes) == 2) is not None


def test_what_else_a_description_names() -> None:
    said = describe("TEE 8in STD A234 WPB ERW, 100% RT, EN 10204-3.1, ASME B16.9-2018")
    assert said.examination == "100% RT"
    assert said.certificate == "EN 10204 3.1"
    assert said.dimension_standard == "ASME B16.9"
    assert said.start_material == "ERW pipe"


@pytest.mark.parametrize(
    ("text", "field"),
    [
        ('ELBOW 90 LR 6" 4in', "nps"),
        ("ELBOW 90 LR 6in SCH 40 SCH 80", "schedule"),
        ("ELBOW 90 LR 6in A234 WPB A403 WP304", "grade"),
        ("ELBOW 90 LR DN150 x 4in", "nps"),
    ],
)
def test_a_description_that_contradicts_itself_is_refused(text: str, field: str) -> None:
    with pytest.raises(OrderError) as caught:
        describe(text)
    assert caught.value.field == field


def test_sizes_are_those_of_the_pipe_table() -> None:
    for nps in ("1/4", "6", "48"):
        assert outside_diameter_mm(sizes_in(nps)[0]) > 0


@pytest.mark.parametrize(
    ("text", "start"),
    [
        ("elbow ERW", "ERW pipe"),
        ("made from A106-B seamless pipe, normalised", "A106-B seamless pipe"),
        ("ex plate", "plate"),
        ("from B209", "B209"),
        ("ex stock", None),
        ("from 10 bar up", None),
        ("ELBOW 90 LR", None),
    ],
)
def test_the_raw_material_that_a_text_names(text: str, start: str | None) -> None:
    assert start_in(text) == start


@pytest.mark.parametrize(
    ("text", "name"),
    [
        ("3.1", "EN 10204 3.1"),
        ("EN10204 type 3.1", "EN 10204 3.1"),
        ("MTC 2.2", "EN 10204 2.2"),
        ("EN 10204 3.1 and impact tests", "EN 10204 3.1 and impact tests"),
        ("mill certificate", "mill certificate"),
    ],
)
def test_a_certificate_type_gets_its_standard(text: str, name: str) -> None:
    assert certificate_name(text) == name


def test_a_length_in_a_description_that_is_no_dn_may_be_the_wall() -> None:
    with pytest.raises(OrderError, match="if 6 mm is the wall, write WALL 6 mm"):
        describe("ELBOW 90 LR 6in A234 WPB 6 mm")
    assert describe("ELBOW 90 LR 6in A234 WPB WALL 6 mm").wall_mm == 6


def test_aluminium_from_sheet_is_read_from_the_description() -> None:
    """ASTM B209 is sheet and plate by its title (two public copies): it must leave a seam."""
    assert describe("TEE DN100 SCH 40 B361 WP5083 from B209 SMLS").start_material == "B209 SMLS"


@pytest.mark.parametrize(
    ("text", "size", "wall_mm"),
    [
        ("ELBOW 90 LR 6in WALL 7.11 mm", "6", 7.11),
        ("ELBOW 90 LR 6in WT 7mm", "6", 7),
        ("ELBOW 90 LR 6in WALL 0.28in", "6", 7.112),
        ("ELBOW 90 LR 7 mm WALL 6in", "6", 7),
        ("ELBOW 90 LR DN150 x 7 mm WALL", "6", 7),
    ],
)
def test_the_word_wall_belongs_to_the_measure_that_is_the_wall(
    text: str, size: str, wall_mm: float
) -> None:
    said = describe(text)
    assert said.sizes == (size,)
    assert said.wall_mm == pytest.approx(wall_mm)
