"""The parts of the screening page: reading with progress, the list, one card per photo."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

import streamlit as st

from fittings.words import ADVISORY, percent
from models.weights import WeightsError
from ui import cards, desk, exports, shared, unfinished, wording
from ui.cards import Card
from ui.keys import Keys
from ui.paging import CARDS_A_PAGE, a_page_of
from ui.trade.answers import TradeTrouble
from vision.reading import PhotoError, PhotoReading
from vision.sources import Found

_SEAMS, _PLAIN = "Seams marked", "Plain photo"
_OWN, _SAMPLES = "own", "samples"

SHOWN_MEANWHILE = 8
"""Rows of the most suspect photos so far, while the others are read."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """What a person says of their photos, as it was written."""

    nps: str = ""
    sheet: bool = False
    shape: bool = False


def what_is_known() -> Asked:
    """The fields for what a person may know of their photos."""
    with st.expander("What you know of them, and what else to measure"):
        nps = st.text_input("Nominal size (NPS)", key=Keys.NPS, help=desk.NPS_HELP)
        sheet = st.checkbox(
            "A white A4 sheet lies flat on darker ground beside each piece: tell a likely size",
            key=Keys.A4,
        )
        shape = st.checkbox("Outline and proportions too", key=Keys.SHAPE, help=desk.SHAPE_HELP)
    return Asked(nps=nps or "", sheet=sheet, shape=shape)


def read_what_was_asked(
    files: Sequence[desk.Upload], known: Asked, *, own: bool, samples: bool
) -> None:
    """Reads the photos dropped, or the samples, once their button is pressed, to the end. What is
    known is said of one's own photos alone."""
    pressed = _OWN if own else _SAMPLES if samples else None
    asked = unfinished.wanted(Keys.READING, pressed)
    if asked is None:
        return
    with unfinished.until_done(Keys.READING):
        if asked == _SAMPLES:
            own_shape = Asked(shape=known.shape)
            _read_into_list(
                desk.from_samples(), None, own_shape, is_sample=True, again=pressed is None
            )
        elif files or own:
            found = desk.from_uploads(files)
            _read_into_list(found, len(files), known, is_sample=False, again=pressed is None)
        else:  # another page was looked at meanwhile, and the browser's files are gone
            st.warning(desk.LEFT_OFF, icon=":material/hourglass_disabled:")


def _read_into_list(
    photos: Iterable[Found], total: int | None, known: Asked, *, is_sample: bool, again: bool
) -> None:
    """Reads photos one by one into the visit's list, with their names as they come; `again` leaves
    out those that were read before it was cut off."""
    try:
        reader = shared.reader()
        if known != Asked():
            said = desk.known_of(known.nps, sheet=known.sheet, shape=known.shape)
            reader = reader.knowing(said)
    except WeightsError as error:
        st.error(wording.escaped(desk.model_trouble(error)))
        return
    except TradeTrouble as trouble:
        st.error(wording.escaped(str(trouble)))
        return
    before = cards.read_ids(st.session_state.get(Keys.CARDS, [])) if again else frozenset()
    read = unread = 0
    with st.status("Reading …", expanded=True) as status:
        bar = st.progress(0.0)
        so_far = st.empty()

        def left() -> Iterator[Found]:
            nonlocal read
            for photo in photos:
                if before and cards.id_of(photo.name, photo.content) in before:
                    read += 1
                else:
                    yield photo

        def progress(_: int, name: str) -> None:
            bar.progress(desk.share_done(read + unread, total), text=wording.escaped(name))

        for card in cards.read_cards(left(), reader, is_sample=is_sample, progress=progress):
            st.session_state[Keys.CARDS] = cards.added(st.session_state.get(Keys.CARDS, []), card)
            failed = isinstance(card.answer, PhotoError)
            read, unread = read + (not failed), unread + failed
            if not failed:
                with so_far:
                    _table(_read_of(st.session_state[Keys.CARDS])[:SHOWN_MEANWHILE])
        bar.empty()
        so_far.empty()
        label = desk.summary(read, unread, is_sample=is_sample)
        status.update(label=label, state="complete" if read else "error", expanded=False)


def show_list(listed: list[Card]) -> None:
    """The triage list, its downloads, and the cards, worst first."""
    if not listed:
        return
    st.header("Readings, the most suspect first")
    unread = [card.answer.message for card in listed if isinstance(card.answer, PhotoError)]
    for message in a_page_of(unread, CARDS_A_PAGE, "Could not be read"):
        st.error(wording.escaped(message), icon=":material/broken_image:")
    read = _read_of(listed)
    if read:
        _table(read)
    answers = [card.answer for card in listed]
    with st.container(horizontal=True):
        st.download_button(
            "Readings as CSV",
            partial(exports.as_csv, answers),
            "readings.csv",
            "text/csv",
            key=Keys.CSV,
            on_click="ignore",
        )
        st.download_button(
            "Readings as JSON lines",
            partial(exports.as_json_lines, answers),
            "readings.jsonl",
            "application/x-ndjson",
            key=Keys.JSON,
            on_click="ignore",
        )
        st.button("Clear the list", key=Keys.CLEAR, on_click=_clear)
    for card in a_page_of(read, CARDS_A_PAGE, "Photos"):
        _show_card(card)


def _read_of(listed: list[Card]) -> list[Card]:
    return [card for card in listed if isinstance(card.answer, PhotoReading)]


def _table(read: list[Card]) -> None:
    st.dataframe(
        cards.table_rows(read),
        width="stretch",
        hide_index=True,
        column_config={
            "Fabricated": st.column_config.ProgressColumn(
                "Fabricated", format="%.0f %%", min_value=0, max_value=100, width="small"
            ),
            # In all 800 pixels, the room that a window of 960 leaves: every column is seen at once.
            "Photo": st.column_config.TextColumn(width=125),
            "Reading": st.column_config.TextColumn(width=298),
            "Fitting": st.column_config.TextColumn(width=75),
            "Seams": st.column_config.TextColumn(width=222),
        },
    )


def _clear() -> None:
    st.session_state.pop(Keys.CARDS, None)
    unfinished.drop(Keys.READING)


@st.fragment
def _show_card(card: Card) -> None:
    """One photo: picture on the left, reading on the right; a toggle redraws this card alone."""
    reading = card.answer
    if isinstance(reading, PhotoError):
        return
    with st.container(border=True, key=f"card-{card.card_id}"):
        picture, words = st.columns([3, 2], gap="medium")
        with picture:
            if card.plain:
                _picture(card, reading)
            else:
                st.caption(desk.PICTURE_LEFT)
        with words:
            _words(card, reading)


def _picture(card: Card, reading: PhotoReading) -> None:
    view = st.segmented_control(
        "Picture",
        [_SEAMS, _PLAIN],
        default=_SEAMS,
        required=True,
        key=f"view-{card.card_id}",
        label_visibility="collapsed",
    )
    shown = card.plain if view == _PLAIN else card.highlighted
    st.image(
        shown, width=card.width_px or "stretch", output_format="PNG", alt=f"{view}: {card.photo}"
    )
    st.caption(wording.key_in_words(reading))
    with st.container(horizontal=True):
        if card.has_details and st.button(
            "Enlarge the seams", key=f"enlarge-{card.card_id}", icon=":material/zoom_in:"
        ):
            _enlarged(card)
        st.download_button(
            "Marked photo",
            partial(cards.marked_photo, card),
            f"{card.stem}.overlay.jpg",
            "image/jpeg",
            key=f"overlay-{card.card_id}",
            on_click="ignore",
            icon=":material/download:",
        )


@st.fragment
def show_recorded(card: Card, *, marked: bool, key: str) -> None:
    """A photo from the records: its picture, what it reads as and why, its seams at full size."""
    reading = card.answer
    with st.container(border=True, key=f"photo-{key}"):
        st.markdown(f"**{wording.escaped(card.photo)}**")
        if isinstance(reading, PhotoError):
            st.error(wording.escaped(reading.message), icon=":material/broken_image:")
            return
        st.image(
            card.highlighted if marked else card.plain,
            width=card.width_px or "stretch",
            output_format="PNG",
            alt=f"{_SEAMS if marked else _PLAIN}: {card.photo}",
        )
        verdict = reading.verdict
        st.markdown(
            f"{verdict.reading.title}; fabricated: **{percent(verdict.fabricated_probability)}**"
        )
        st.caption(f"{wording.key_in_words(reading)} {desk.seen(reading)}")
        with st.expander("Why"):
            st.markdown(_numbered(verdict.reasons))
            if reading.quality.problems:
                st.markdown("".join(f"\n- {wording.escaped(p)}" for p in reading.quality.problems))
            st.caption(ADVISORY)
        if card.has_details and st.button(
            "Enlarge the seams", key=f"enlarge-{key}", icon=":material/zoom_in:"
        ):
            _enlarged(card)


def _words(card: Card, reading: PhotoReading) -> None:
    verdict = reading.verdict
    st.text(card.photo)
    if card.is_sample:
        st.caption(desk.SAMPLE_NOTE)
    st.subheader(verdict.reading.title, anchor=False)
    st.markdown(f"**{ADVISORY}**")
    st.progress(
        verdict.fabricated_probability,
        text=f"Fabricated, probability: **{percent(verdict.fabricated_probability)}**",
    )
    st.markdown(
        f"**Fitting:** {wording.kind_in_words(reading)}  \n"
        f"**Seams:** {wording.lines_in_words(reading)}"
    )
    st.markdown("**Why**\n" + _numbered(verdict.reasons))
    if reading.quality.problems:
        problems = "".join(f"\n- {wording.escaped(p)}" for p in reading.quality.problems)
        st.markdown("**What stands in the way**\n" + problems)
    st.info(f"**{desk.step_title(reading)}:** {wording.escaped(verdict.next_step)}")


def _numbered(reasons: Sequence[str]) -> str:
    """As they are on the picture."""
    return "".join(f"\n{i}. {wording.escaped(reason)}" for i, reason in enumerate(reasons, 1))


@st.dialog("Seams at full size", width="large")
def _enlarged(card: Card) -> None:
    st.text(card.photo)
    st.caption(ADVISORY)
    for number, detail in enumerate(cards.details(card), start=1):
        st.markdown(f"**{number}. {detail.title}**")
        marked, plain = st.columns(2)
        marked.image(detail.highlighted, width="stretch", alt=f"{detail.title}, marked")
        plain.image(detail.plain, width="stretch", alt=f"{detail.title}, plain")
