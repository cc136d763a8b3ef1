"""An order line holds what it says and refuses what cannot be, naming the field."""

from __future__ import annotations

import pickle
from typing import Any

import pytest

from fittings.order.lines import FittingForm, OrderError, OrderLine
from fittings.words import Kind


def test_forms_know_their_kind_and_how_many_sizes_they_take() -> None:
    kinds = {form.kind for form in FittingForm}
    assert kinds == {Kind.ELBOW, Kind.TEE, Kind.REDUCER}
    two = {form for form in FittingForm if form.two_sizes}
    assert two == {
        FittingForm.REDUCING_TEE,
        FittingForm.CONCENTRIC_REDUCER,
        FittingForm.ECCENTRIC_REDUCER,
    }
    assert FittingForm.STRAIGHT_TEE.kind is Kind.TEE
    assert FittingForm.ELBOW_45_3D.kind is Kind.ELBOW


def test_sizes_are_written_as_the_trade_writes_them() -> None:
    tee = OrderLine(row=3, form=FittingForm.REDUCING_TEE, nps="12", second_nps="1-1/2")
    assert tee.sizes == "12 x 1-1/2"
    assert OrderLine(row=0, form=FittingForm.STRAIGHT_TEE, nps="3/4").sizes == "3/4"


@pytest.mark.parametrize(
    ("field", "changes"),
    [
        ("nps", {"nps": "six"}),
        ("nps", {"nps": "6.0"}),
        ("second_nps", {"second_nps": "4"}),
        ("second_nps", {"form": FittingForm.REDUCING_TEE}),
        ("second_nps", {"form": FittingForm.REDUCING_TEE, "second_nps": "6"}),
        ("second_nps", {"form": FittingForm.ECCENTRIC_REDUCER, "second_nps": "8"}),
        ("wall_mm", {"wall_mm": 0.0}),
        ("wall_mm", {"wall_mm": -7.11}),
        ("wall_mm", {"wall_mm": float("nan")}),
        ("wall_mm", {"wall_mm": float("inf")}),
        ("suffix", {"suffix": "X"}),
        ("quantity", {"quantity": 0}),
        ("quantity", {"quantity": True}),
    ],
)
def test_what_cannot_be_names_its_field_and_row(field: str, changes: dict[str, Any]) -> None:
    values: dict[str, Any] = {"row": 9, "form": FittingForm.ELBOW_90_LONG, "nps": "6"}
    with pytest.raises(OrderError) as caught:
        OrderLine(**{**values, **changes})
    assert (caught.value.field, caught.value.row) == (field, 9)
    assert str(caught.value).startswith(f"row 9, {field}: ")


def test_an_error_survives_a_trip_between_processes() -> None:
    error = pickle.loads(pickle.dumps(OrderError("grade", "no such grade", 4)))
    assert (error.field, error.message, error.row) == ("grade", "no such grade", 4)
    assert str(OrderError("grade", "no such grade")) == "grade: no such grade"
