"""Forms and sizes as people type them; nothing that the dimensions hang on is guessed."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.form_names import dn_of, form_in, form_named, kind_named, no_form, nps_named
from fittings.listed import table_rows
from fittings.order.lines import FittingForm, OrderError
from fittings.words import Kind


@pytest.mark.parametrize(
    ("text", "two_sizes", "form"),
    [
        ("90 LR elbow", False, FittingForm.ELBOW_90_LONG),
        ("elbow, long radius, 90°", False, FittingForm.ELBOW_90_LONG),
        ("45° LR ELL", False, FittingForm.ELBOW_45_LONG),
        ("90 deg short radius elbow", False, FittingForm.ELBOW_90_SHORT),
        ("3D elbow 90", False, FittingForm.ELBOW_90_3D),
        ("45 3D elbow", False, FittingForm.ELBOW_45_3D),
        ("tee", False, FittingForm.STRAIGHT_TEE),
        ("equal tee", False, FittingForm.STRAIGHT_TEE),
        ("tee", True, FittingForm.REDUCING_TEE),
        ("red. tee", True, FittingForm.REDUCING_TEE),
        ("reducer", True, FittingForm.CONCENTRIC_REDUCER),
        ("ecc", True, FittingForm.ECCENTRIC_REDUCER),
        ("eccentric reducer", True, FittingForm.ECCENTRIC_REDUCER),
    ],
)
def test_forms_are_read_as_people_write_them(text: str, two_sizes: bool, form: FittingForm) -> None:
    assert form_named(text, two_sizes=two_sizes) is form


@pytest.mark.parametrize("form", FittingForm)
def test_every_form_is_read_by_its_own_name(form: FittingForm) -> None:
    assert form_named(form.value, two_sizes=form.two_sizes) is form
    assert kind_named(form.value) is form.kind


@pytest.mark.parametrize(
    ("text", "two_sizes", "field", "said"),
    [
        ("90 elbow", False, "fitting", "must say one bend radius; add LR, SR or 3D"),
        ("LR elbow", False, "fitting", "must say one bend angle; add 90 or 45"),
        ("90 45 LR elbow", False, "fitting", "must say one bend angle"),
        ("60 LR elbow", False, "fitting", "has no table in"),
        ("45 SR elbow", False, "fitting", "has no table in"),
        ("elbow tee", False, "fitting", "names both elbow and tee"),
        ("90 LR SR elbow", False, "fitting", "one bend radius"),
        ("mitred 90 LR elbow", False, "fitting", "'mitred' in 'mitred 90 LR elbow' is not under"),
        ("elbwo 90 LR", False, "fitting", "did you mean 'elbow'?"),
        ("flange", False, "fitting", "'flange' is not one"),
        ("reducing tee", False, "second", "needs its outlet's size"),
        ("straight tee", True, "second", "has one size"),
        ("reducer", False, "second", "needs its small end's size"),
        ("set-on tee", False, "fitting", "'set' in 'set-on tee' is not understood"),
    ],
)
def test_what_is_not_said_is_not_guessed(text: str, two_sizes: bool, field: str, said: str) -> None:
    with pytest.raises(OrderError) as caught:
        form_named(text, two_sizes=two_sizes)
    assert caught.value.field == field
    assert said in caught.value.message


def test_a_kind_needs_no_angle_and_no_size() -> None:
    assert [kind_named(each) for each in ("elbow", "tee", "reducer")] == [
        Kind.ELBOW,
        Kind.TEE,
        Kind.REDUCER,
    ]
    with pytest.raises(OrderError, match="did you mean 'reducer'"):
        kind_named("reduser")


def test_sizes_by_nps_and_by_dn() -> None:
    # ASME B36.10M pairs, as every public pipe table prints them.
    pairs = {"1/2": 15, "2-1/2": 65, "3-1/2": 90, "6": 150, "12": 300, "48": 1200}
    for nps, dn in pairs.items():
        assert nps_named(f"DN{dn}") == nps_named(f"dn {dn}") == nps_named(f"NPS {nps}") == nps
        assert dn_of(nps) == dn
    assert nps_named("1.5") == "1-1/2"
    assert dn_of("7") is None


def test_every_pair_of_the_pipe_table_goes_there_and_back() -> None:
    for row in table_rows("pipe_b36"):
        assert nps_named(f"DN{row['dn']}") == row["nps"]
        assert dn_of(row["nps"]) == int(row["dn"])


def test_an_unlisted_dn_names_its_neighbours() -> None:
    with pytest.raises(OrderError, match=r"DN160 is not listed .* nearest listed: DN125, DN150"):
        nps_named("DN160")
    with pytest.raises(OrderError, match=r"second: 'six' is not a nominal pipe size.*or DN150"):
        nps_named("six", "second")


@pytest.mark.parametrize(
    ("text", "two_sizes", "form"),
    [
        ("90 LR ELBOW", False, FittingForm.ELBOW_90_LONG),
        ("Elbow, 90°, long radius", False, FittingForm.ELBOW_90_LONG),
        ("ELL 90DEG R=1.5D", False, FittingForm.ELBOW_90_LONG),
        ("45 deg L.R. elb", False, FittingForm.ELBOW_45_LONG),
        ("short radius elbow 90", False, FittingForm.ELBOW_90_SHORT),
        ("elbow 90 3D", False, FittingForm.ELBOW_90_3D),
        ("45° elbow 3R", False, FittingForm.ELBOW_45_3D),
        ("TEE", False, FittingForm.STRAIGHT_TEE),
        ("Equal tee", False, FittingForm.STRAIGHT_TEE),
        ("tee", True, FittingForm.REDUCING_TEE),
        ("RED. TEE", True, FittingForm.REDUCING_TEE),
        ("conc. reducer", True, FittingForm.CONCENTRIC_REDUCER),
        ("RED CONC", True, FittingForm.CONCENTRIC_REDUCER),
        ("Reducer, eccentric", True, FittingForm.ECCENTRIC_REDUCER),
        ("A234 WPB", False, None),
    ],
)
def test_forms_among_other_words(text: str, two_sizes: bool, form: FittingForm | None) -> None:
    assert form_in(text, two_sizes=two_sizes) is form


@pytest.mark.parametrize("form", FittingForm)
def test_every_form_is_read_from_its_own_name(form: FittingForm) -> None:
    assert form_in(form.value, two_sizes=form.two_sizes) is form


@pytest.mark.parametrize(
    ("text", "two_sizes", "match"),
    [
        ("elbow 90", False, "add LR, SR or 3D"),
        ("LR elbow", False, "add 90 or 45"),
        ("LR SR elbow 90", False, "one bend radius"),
        ("45 SR elbow", False, "no table"),
        ("elbow 180 LR", False, "no table"),
        ("reducing elbow 90 LR", True, "reducing elbows"),
        ("reducing tee", False, "outlet's size"),
        ("straight tee", True, "one size"),
        ("reducer", True, "concentric or eccentric"),
        ("conc reducer", False, "small end's size"),
        ("conc ecc reducer", True, "concentric or eccentric"),
        ("elbow tee", False, "both elbow and tee"),
        ("end cap", False, "'cap' is not one"),
    ],
)
def test_forms_that_are_not_whole_are_refused(text: str, two_sizes: bool, match: str) -> None:
    with pytest.raises(OrderError, match=match):
        form_in(text, two_sizes=two_sizes)


def test_a_slip_in_the_form_is_answered_with_the_nearest_word() -> None:
    assert "did you mean 'elbow'" in no_form("EBLOW 90 LR").message
    assert "did you mean 'reducer'" in no_form("conical reducr").message
    assert "write it like" in no_form("widget").message


def test_only_one_door_takes_a_reducer_that_says_neither_taper() -> None:
    """Both read the same words; an order must say the taper, a length is the same for both."""
    assert form_named("reducer", two_sizes=True) is FittingForm.CONCENTRIC_REDUCER
    with pytest.raises(OrderError, match="concentric or eccentric"):
        form_in("reducer", two_sizes=True)
    with pytest.raises(OrderError, match="concentric or eccentric"):
        form_named("conc ecc reducer", two_sizes=True)


@pytest.mark.parametrize(
    "text", ["elbow", "90 elbow", "LR elbow", "45 SR elbow", "elbow tee", "reducing elbow 90 LR"]
)
def test_both_doors_refuse_in_the_same_words(text: str) -> None:
    said = []
    for read in (form_in, form_named):
        with pytest.raises(OrderError) as caught:
            read(text, two_sizes=False)
        said.append(caught.value.message)
    assert said[0] == said[1]


@given(text=st.text(max_size=20), two_sizes=st.booleans())
def test_any_text_is_a_form_or_our_error(text: str, two_sizes: bool) -> None:
    try:
        answer: object = form_named(text, two_sizes=two_sizes)
    except OrderError as error:
        answer = error.message
    assert answer
