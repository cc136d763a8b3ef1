"""Every reading is followed by a physical check, a caution, and nothing that accepts a piece."""

from __future__ import annotations

from itertools import product

import pytest

from fittings.checks import CAUTION, settling_check
from fittings.words import Kind, Reading

PAIRS = list(product(Kind, Reading))
NEVER = ("accept", "safe", "genuine", "seamless", "reject", "pass", "approve", "conform")


@pytest.mark.parametrize(("kind", "reading"), PAIRS)
def test_every_reading_leads_to_the_bore_and_the_metal(kind: Kind, reading: Reading) -> None:
    text = settling_check(kind, reading)
    assert "feel inside the bore" in text
    assert "root bead" in text
    assert "macro-etch" in text
    # In order of effort: look and feel, then etch.
    assert text.index("feel inside the bore") < text.index("macro-etch")


@pytest.mark.parametrize(("kind", "reading"), PAIRS)
def test_every_check_carries_its_caution_and_defers(kind: Kind, reading: Reading) -> None:
    text = settling_check(kind, reading)
    assert "owner's leave" in text
    assert "etching acids and radiation can injure people" in text
    assert "local code" in text
    assert "licensed" in text


@pytest.mark.parametrize(("kind", "reading"), PAIRS)
def test_the_text_is_short_plain_prose(kind: Kind, reading: Reading) -> None:
    text = settling_check(kind, reading)
    assert text[0].isupper()
    assert text.endswith(".")
    assert "  " not in text
    assert text.count(". ") <= 2, "three sentences at most"
    assert not any(word in text.lower() for word in NEVER)


def test_each_kind_and_reading_gets_its_own_text() -> None:
    assert len({settling_check(kind, reading) for kind, reading in PAIRS}) == len(PAIRS)


def test_the_check_fits_the_fitting() -> None:
    assert "at the crotch" in settling_check(Kind.TEE, Reading.FABRICATION_SEAM)
    assert "extrados" in settling_check(Kind.ELBOW, Reading.FABRICATION_SEAM)
    assert "gores" in settling_check(Kind.REDUCER, Reading.LONG_SEAM_ONLY)
    assert "radiography or ultrasonics" in settling_check(Kind.TEE, Reading.FABRICATION_SEAM)
    assert "ASTM A234" in settling_check(Kind.ELBOW, Reading.LONG_SEAM_ONLY)
    assert "settles nothing" in settling_check(Kind.ELBOW, Reading.NO_SEAM_SEEN)
    for kind in Kind:
        assert settling_check(kind, Reading.UNCLEAR).startswith("Take further photographs")


def test_the_caution_for_pages_names_what_can_hurt_and_defers() -> None:
    for word in ("lift", "acids", "Grinding", "Radiography", "local code", "licensed", "Advisory"):
        assert word in CAUTION
    assert not any(word in CAUTION.lower() for word in NEVER)
