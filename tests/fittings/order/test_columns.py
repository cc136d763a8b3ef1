"""Headings in any case, order and spelling, with their units."""

from __future__ import annotations

import pytest

from fittings.order.columns import HEADINGS, column_of, columns_of


@pytest.mark.parametrize(
    ("heading", "field", "unit"),
    [
        ("Fitting", "form", None),
        ("Type", "form", None),
        ("SIZE", "size", None),
        ("NPS", "size", "nps"),
        ("dn", "size", "dn"),
        ("Size (mm)", "size", "dn"),
        ("size_in", "size", "nps"),
        ("Size DN", "size", "dn"),
        ('Size (")', "size", "nps"),
        ("Size 2", "second", None),
        ("NPS2", "second", "nps"),
        ("Small end [DN]", "second", "dn"),
        ("Outlet", "second", None),
        ("Sch.", "schedule", None),
        ("Schedule No.", "schedule", None),
        ("Wall (mm)", "wall", "mm"),
        ("wall in", "wall", "in"),
        ("WALL_THICKNESS_MM", "wall", "mm"),
        ("WallMm", "wall", "mm"),
        ("W.T. [inch]", "wall", "in"),
        ("Wall Zoll", "wall", "in"),
        ("mm wall", "wall", "mm"),
        ("Qty", "quantity", None),
        ("Q'ty", "quantity", None),
        ("Pcs", "quantity", None),
        ("Material", "material", None),
        ("Material standard", "spec", None),
        ("Spec", "spec", None),
        ("Grade", "grade", None),
        ("Class", "suffix", None),
        ("Construction", "construction", None),
        ("Seamless / welded", "construction", None),
        ("Description", "description", None),
        ("dimension standard", "dimension_standard", None),
    ],
)
def test_headings(heading: str, field: str, unit: str | None) -> None:
    column = column_of(heading, 3)
    assert column is not None
    assert (column.index, column.field, column.unit) == (3, field, unit)


@pytest.mark.parametrize("heading", ["", "Price", "Grade mm", "Remarks", "Wall colour", "mm"])
def test_unknown_headings_are_left_alone(heading: str) -> None:
    assert column_of(heading, 0) is None


def test_no_heading_means_two_things() -> None:
    every = [heading for headings in HEADINGS.values() for heading in headings]
    assert len(every) == len(set(every))
    for field, headings in HEADINGS.items():
        for heading in headings:
            column = column_of(heading.replace(" ", "_").upper(), 0)
            assert column is not None, heading
            assert column.field == field


def test_an_order_needs_form_and_size_or_a_description() -> None:
    assert [each.field for each in columns_of(["Size", "x", "Fitting"])] == ["size", "form"]
    assert [each.field for each in columns_of(["Description"])] == ["description"]
    assert columns_of(["Fitting", "Material", "Qty"]) == ()
    assert columns_of([]) == ()
