"""What the evidence makes of a photo, and how it is told: sentences, figures, places."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from fittings.words import EvidenceSource, Kind, Orientation, Part, Reading
from vision.calibration import FEATURES, Calibration, Thresholds, from_card
from vision.curves import ShareOf, SurfaceCurve
from vision.reading import Evidence, Quality, Seam, Verdict
from vision.verdict import contested, decide

LONG, CIRC, BRANCH = Orientation
OPINIONS = (*Orientation, None)
HOLD = 0.7


def seam(head: Orientation, geometric: Orientation | None, confidence: float = 0.9) -> Seam:
    curve = SurfaceCurve(
        part=Part.BODY,
        along=(0.2, 0.8),
        around_deg=(10.0, 12.0),
        angle_deg=8.0 if geometric is LONG else 84.0,
        angle_uncertainty_deg=3.0,
        orientation=geometric,
        length_share=0.62,
        share_of=ShareOf.LENGTH if geometric is LONG else ShareOf.GIRTH,
    )
    return Seam(
        orientation=head,
        confidence=confidence,
        length_px=100.0,
        surface_angle_deg=curve.angle_deg,
        path=((0.0, 0.0), (50.0, 10.0), (100.0, 20.0)),
        curve=curve,
    )


def verdict(*seams: Seam, probability: float = 0.9, **changes: object) -> Verdict:
    given = {
        "kind": Kind.TEE,
        "kind_confidence": 0.95,
        "seams": seams,
        "probability": probability,
        "quality": Quality(usable=True, problems=()),
        "thresholds": Thresholds(hold=HOLD, doubt=0.4, kind=0.6),
    }
    return decide(**(given | changes))  # type: ignore[arg-type]


def test_a_seam_that_both_opinions_call_across_is_a_fabrication_seam() -> None:
    assert verdict(seam(CIRC, CIRC)).reading is Reading.FABRICATION_SEAM
    assert verdict(seam(BRANCH, CIRC)).reading is Reading.FABRICATION_SEAM, "both speak of it"


@given(st.sampled_from(Orientation), st.floats(0.0, 1.0), st.floats(0.0, 1.0))
def test_geometry_that_cannot_tell_changes_nothing(
    head: Orientation, confidence: float, probability: float
) -> None:
    unsure = seam(head, None, confidence)
    unmeasured = replace(unsure, curve=None, surface_angle_deg=None)
    assert not contested(unsure)
    assert (
        verdict(unsure, probability=probability).reading
        is verdict(unmeasured, probability=probability).reading
    )


def test_opinions_that_are_both_sure_and_differ_leave_it_unclear_and_say_so() -> None:
    across_or_not = seam(CIRC, LONG)
    assert contested(across_or_not)
    for probability in (0.1, 0.5, 0.95):
        found = verdict(across_or_not, probability=probability)
        assert found.reading is Reading.UNCLEAR
        assert "disagree" in found.reasons[-1]
        assert "but by its place on the surface it runs along the part" in found.reasons[0]
    assert verdict(seam(LONG, CIRC), probability=0.1).reading is Reading.UNCLEAR
    assert verdict(seam(LONG, LONG), probability=0.1).reading is Reading.LONG_SEAM_ONLY


def test_a_seam_map_that_is_unsure_itself_is_not_contested() -> None:
    assert not contested(seam(CIRC, LONG, confidence=0.4))


@given(
    st.lists(
        st.tuples(st.sampled_from(Orientation), st.sampled_from(OPINIONS), st.floats(0.5, 1.0)),
        max_size=5,
    ),
    st.floats(HOLD, 1.0),
)
def test_one_clear_fabrication_seam_is_never_silenced(
    others: list[tuple[Orientation, Orientation | None, float]], probability: float
) -> None:
    clear = seam(BRANCH, BRANCH)
    found = verdict(clear, *(seam(*other) for other in others), probability=probability)
    assert found.reading is Reading.FABRICATION_SEAM


@given(st.lists(st.tuples(st.sampled_from(Orientation), st.sampled_from(OPINIONS)), max_size=9))
def test_each_reason_is_a_sentence_with_its_source_and_its_place(
    opinions: list[tuple[Orientation, Orientation | None]],
) -> None:
    found = verdict(*(seam(*each) for each in opinions))
    assert found.reasons == tuple(each.sentence for each in found.evidence)
    assert found.evidence[-1].source is EvidenceSource.WHOLE_PICTURE
    for each in found.evidence:
        assert each.sentence.startswith(f"{each.source.title}: ")
        assert each.sentence.endswith(".")
        assert "  " not in each.sentence
    placed = [each for each in found.evidence if each.place is not None]
    assert len(placed) == min(6, len(opinions))
    assert all(each.place == (50.0, 10.0) for each in placed)


def test_the_figures_are_told() -> None:
    text = verdict(seam(CIRC, CIRC)).reasons[0]
    for figure in ("100 pixels long", "62 % of the visible girth", "90 % sure", "84° ± 3°"):
        assert figure in text
    askew = verdict(replace(seam(LONG, None), curve=seam(CIRC, CIRC).curve)).reasons[0]
    assert "girth" not in askew, "what a lengthwise line covers is no share of the girth"
    unmeasured = replace(seam(CIRC, None), curve=None, surface_angle_deg=None)
    assert "could not be measured" in verdict(unmeasured).reasons[0]


def test_seams_that_speak_of_fabrication_are_told_first() -> None:
    text = verdict(seam(LONG, LONG), seam(CIRC, CIRC)).reasons
    assert "(C)" in text[0]
    assert "(L)" in text[1]


def test_what_else_speaks_is_told_after_the_seams() -> None:
    other = Evidence(sentence="Outline: a corner.", source=EvidenceSource.OUTLINE, place=(3.0, 4.0))
    found = verdict(seam(CIRC, CIRC), others=(other,))
    assert found.evidence[1] is other
    assert verdict(kind=Kind.NONE, others=(other,)).reasons == (
        "Whole picture: no elbow, tee or reducer was found in it.",
    )


def test_a_fabrications_outline_alone_makes_it_unclear_and_nothing_worse() -> None:
    """The outline's say in the probability is the calibration's affair; a strong one that is not
    weighed there yet must not be passed over."""
    assert verdict(probability=0.1, outline_log_odds=3.5).reading is Reading.UNCLEAR
    assert "outline" in verdict(probability=0.1, outline_log_odds=3.5).reasons[-1]
    assert verdict(probability=0.1, outline_log_odds=2.5).reading is Reading.NO_SEAM_SEEN
    assert verdict(probability=0.9, outline_log_odds=-8.0).reading is Reading.FABRICATION_SEAM


def test_a_calibration_weighs_what_it_was_fitted_on() -> None:
    """By hand: the logistic function of 0.5 · 2 + 1 is 1 / (1 + e^-2)."""
    old = Calibration(weights=(0.5,), offset=1.0)
    assert old.probability((2.0, 9.0, 9.0, 9.0)) == pytest.approx(1.0 / (1.0 + np.exp(-2.0)))
    card = {
        "thresholds": {"hold": 0.7, "doubt": 0.4, "kind": 0.6},
        "calibration": {"features": list(FEATURES[:3]), "weights": [1, 2, 3], "offset": 0.5},
    }
    assert from_card(card)[1].weights == (1.0, 2.0, 3.0)
    card["calibration"]["features"] = ["something else", *FEATURES[1:3]]
    with pytest.raises(ValueError, match="calibrated for"):
        from_card(card)
    with pytest.raises(ValueError, match="5 weights"):
        Calibration(weights=(1.0,) * 5, offset=0.0)


@pytest.mark.parametrize("probability", [0.0, 0.3, 0.5, 0.8, 1.0])
@pytest.mark.parametrize("usable", [True, False])
@pytest.mark.parametrize("kind", [Kind.NONE, Kind.ELBOW])
def test_no_verdict_accepts_a_piece(probability: float, usable: bool, kind: Kind) -> None:
    quality = Quality(usable=usable, problems=())
    for seams in ((), (seam(LONG, LONG),), (seam(CIRC, CIRC),), (seam(CIRC, LONG),)):
        found = verdict(*seams, probability=probability, quality=quality, kind=kind)
        text = " ".join([*found.reasons, found.next_step]).lower()
        assert not any(w in text for w in ("accepted", " is safe", "genuine", "is seamless"))
        if not usable:
            assert found.reading is not Reading.NO_SEAM_SEEN
