from __future__ import annotations

import time

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from ui.importing.matching import Matcher, Preview, Rules, Way, Words
from ui.importing.patterns import PatternError, folded, parse_pattern

TAGS = ("E-104", "E-10", "E-1", "T 07", "R7/A")


def match(name: str, pattern: str | None = None, tags: tuple[str, ...] = TAGS, **rules: object):
    chosen = None if pattern is None else parse_pattern(pattern)
    return Matcher(tags, Rules(pattern=chosen, **rules)).match(name)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("name", "tag", "way"),
    [
        ("E-104-left.jpg", "E-104", Way.NAME),
        ("e_104 left.JPG", "E-104", Way.NAME),
        ("E104.jpg", None, None),  # a tag that is spelled otherwise is not guessed at
        ("E-1.jpg", "E-1", Way.NAME),
        ("E-11.jpg", None, None),  # E-1 is part of another number
        ("E-1A.jpg", None, None),
        ("SE-1.jpg", None, None),
        ("T-7 bore.png", "T 07", Way.NAME),
        ("T-0007.png", "T 07", Way.NAME),
        ("r7a view.jpg", None, None),
        ("r7-a view.jpg", "R7/A", Way.NAME),
        ("E-1 and E-10.jpg", None, None),  # two pieces: a person decides
        ("E-104/IMG_0001.jpg", "E-104", Way.FOLDER),
        ("shipment.zip!loading/E-104/IMG_1.jpg", "E-104", Way.FOLDER),
        ("E-104.zip!IMG_0001.jpg", "E-104", Way.FOLDER),
        ("photos of E-104\\IMG_0001.jpg", "E-104", Way.FOLDER),
        ("E-1/E-104.jpg", "E-1", Way.FOLDER),
        ("IMG_0001.jpg", None, None),
    ],
)
def test_a_photo_is_matched_by_folder_or_name(name: str, tag: str | None, way: Way | None) -> None:
    found = match(name)
    assert (found.tag, found.way) == (tag, way)
    assert found.why


@pytest.mark.parametrize(
    ("pattern", "name", "tag"),
    [
        ("{piece}-*.jpg", "E-104-left.jpg", "E-104"),
        ("{piece}-*.jpg", "E-104_left.JPG", "E-104"),
        ("{piece}-*.jpg", "E-104-left.png", None),  # the pattern asks for .jpg
        ("{piece}-*", "E-104-left.png", "E-104"),
        ("{piece}-*.*", "E-104-left.png", "E-104"),
        ("{piece}*", "E-104.jpg", "E-104"),
        ("{piece}*", "E-11.jpg", None),
        ("{piece}*", "E-1A.jpg", None),  # another piece's tag
        ("photo{piece}x*", "photoE-1x9.jpg", "E-1"),  # the pattern says where it ends
        ("IMG_????_{piece}", "IMG_1234_E-10.jpg", "E-10"),
        ("IMG_????_{piece}", "IMG_12345_E-10.jpg", None),
        ("{piece}/*", "lot/E-10/1.jpg", "E-10"),
        ("{piece}/*", "E-10.jpg", None),
        ("{piece}/close/*", "a/E-10/close/7.jpg", "E-10"),
        ("{piece}/close/*", "a/E-10/far/7.jpg", None),
        ("*{piece}*", "date E-104 left E-1.jpg", None),  # two pieces
        ("{piece}-[ab]", "E-1-a.jpg", None),  # no sets: brackets are separators like any other
    ],
)
def test_a_photo_is_matched_by_pattern(pattern: str, name: str, tag: str | None) -> None:
    assert match(name, pattern).tag == tag


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("*.jpg", "once"),
        ("{piece}{piece}", "once"),
        ("{piece}-{side}", "braces"),
        ("*a*b*c*d*e*f*g{piece}", "stars"),
        ("{piece}" + "a" * 300, "shorten"),
    ],
)
def test_a_pattern_that_cannot_be_used_says_why(text: str, said: str) -> None:
    with pytest.raises(PatternError, match=said):
        parse_pattern(text)


def test_words_beside_a_photo_name_its_piece_only_when_they_name_one() -> None:
    above = Matcher(TAGS, Rules())
    photo = "report.docx!picture 3"
    assert above.match(photo, above="Piece E-104, outside", below="Piece E-1").tag == "E-104"
    assert above.match(photo, above="E-1 and E-10").tag is None
    patterned = Matcher(TAGS, Rules(pattern=parse_pattern("{piece}"), new_pieces=True))
    assert patterned.match(photo, above="Piece E-104").tag == "E-104"
    assert patterned.match("report.pdf!page 2 picture 1", above="nothing").tag is None
    below = Matcher(TAGS, Rules(words=Words.BELOW))
    assert below.match(photo, above="Piece E-104, outside", below="Piece E-1").tag == "E-1"


@pytest.mark.parametrize(
    ("name", "tag"),
    [
        ("7-left.jpg", "7"),
        ("piece-07.jpg", "7"),
        ("tag 7 left.jpg", "7"),
        ("IMG_7.jpg", None),
        ("lot 7/IMG_9.jpg", None),
        ("7/IMG_9.jpg", "7"),
        ("2024-12-07.jpg", None),
    ],
)
def test_a_tag_of_digits_only_is_not_taken_from_a_date_or_a_number(
    name: str, tag: str | None
) -> None:
    assert match(name, tags=("7", "12")).tag == tag


def test_what_a_person_says_goes_before_everything() -> None:
    rules = {"by_hand": (("E-104.jpg", "E-1"), ("E-10.jpg", ""))}
    assert match("E-104.jpg", **rules).tag == "E-1"
    assert (match("E-10.jpg", **rules).tag, match("E-10.jpg", **rules).way) == (None, Way.BY_HAND)


def test_new_pieces_keep_the_spelling_of_the_photo() -> None:
    found = match("P_007 left.jpg", "{piece} left", new_pieces=True)
    assert (found.tag, found.is_new) == ("P_007", True)
    assert match("P_007 left.jpg", "{piece} left").tag is None
    found = match("lot.zip!Elbow 12/IMG_1.jpg", new_pieces=True)
    assert (found.tag, found.is_new) == ("Elbow 12", True)
    assert not match("lot.zip!E-104/IMG_1.jpg", new_pieces=True).is_new


def test_tags_that_names_cannot_tell_apart_are_left_for_a_person() -> None:
    found = match("E-07.jpg", tags=("E-7", "E 07"))
    assert found.tag is None
    assert "E-7 and E 07" in found.why


def test_a_near_miss_offers_the_closest_tag_and_takes_none() -> None:
    name = "photo E-1O4-left.jpg"  # a letter O
    assert match(name).tag is None
    assert Matcher(TAGS).closest(name) == "E-104"
    assert Matcher(TAGS).closest("DSC_9999.jpg") is None


def test_a_preview_says_what_matched_and_takes_corrections() -> None:
    matcher = Matcher(TAGS, Rules())
    names = ("E-104 a.jpg", "E-104 b.jpg", "T-7.jpg", "IMG_1.jpg")
    preview = Preview(matches=tuple(map(matcher.match, names)), tags=TAGS)
    assert preview.in_words == "3 of 4 photos matched to 2 pieces; 1 is left for a person."
    assert preview.without_photo == ("E-10", "E-1", "R7/A")
    corrected = preview.with_hand("IMG_1.jpg", "E-10").with_hand("T-7.jpg", "")
    assert [m.tag for m in corrected.matches] == ["E-104", "E-104", None, "E-10"]
    assert preview.matches[3].tag is None


NAMES = st.text(st.sampled_from("E-104 _.T7/!()éß0İ中*?[{"), max_size=24)


@given(NAMES, NAMES)
@example("İ", "0İ0")
def test_folding_is_stable_and_any_name_gets_an_answer(name: str, tag: str) -> None:
    assert folded(folded(name)) == folded(name)
    found = Matcher((tag, "E-104"), Rules()).match(name, above=tag)
    assert found.tag in (None, tag, "E-104")
    assert found.why


@given(st.sampled_from(["E-104", "T 07", "R7/A"]), st.sampled_from(["left", "bore 2", "(3)"]))
def test_a_tag_with_something_after_it_is_always_found(tag: str, rest: str) -> None:
    name = f"{tag.replace('/', '-')} {rest}.jpg"
    assert match(name).tag == tag
    assert match(name, "{piece} *").tag == tag


def test_a_hostile_name_costs_no_more_than_a_plain_one() -> None:
    matcher = Matcher(("a-1",), Rules(pattern=parse_pattern("*a*a*a*{piece}*a*b")))
    start = time.perf_counter()
    assert matcher.match("a" * 240 + ".jpg").tag is None
    assert time.perf_counter() - start < 1.0
