"""Order files in every common spelling give the same lines; what is no order gives one error."""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from datetime import datetime
from pathlib import Path
from typing import Any

import openpyxl
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from fittings.listed import SizeTable, listed_sizes
from fittings.order.grades import grades
from fittings.order.lines import OrderError
from fittings.order.rows import ReadLine
from ui import order_files
from ui.order_files import (
    OrderFile,
    OrderFileError,
    read_order_bytes,
    read_order_file,
)

HOUSE = settings(derandomize=True, deadline=None)
EXAMPLE = Path(__file__).parents[2] / "ui" / "samples" / "order.csv"
HEADINGS = ("Fitting", "Size", "Outlet", "Schedule", "Spec", "Grade", "Construction", "Quantity")

PIPES = [key for key in listed_sizes(SizeTable.PIPE) if len(key[1]) <= 3]
TEES = listed_sizes(SizeTable.REDUCING_TEE)
ELBOW_ROWS = st.builds(
    lambda pipe, form: (form, f"NPS {pipe[0]}", "", pipe[1]),
    st.sampled_from(PIPES),
    st.sampled_from(["90 LR elbow", "45 LR elbow", "tee", "90° 3D elbow"]),
)
TEE_ROWS = st.builds(
    lambda pair: ("reducing tee", f"NPS {pair[0]}", f"NPS {pair[1]}", "STD"), st.sampled_from(TEES)
)
ROWS = st.builds(
    lambda sizes, grade, made, count: (*sizes, grade.spec, grade.grade, made, str(count)),
    ELBOW_ROWS | TEE_ROWS,
    st.sampled_from(grades()),
    st.sampled_from(["seamless", "welded", ""]),
    st.integers(1, 999),
)


def written(headings: tuple[str, ...], rows: list[tuple[str, ...]], delimiter: str = ",") -> str:
    out = io.StringIO()
    csv.writer(out, delimiter=delimiter).writerows([headings, *rows])
    return out.getvalue()


def workbook(*sheets: list[Any]) -> bytes:
    book = openpyxl.Workbook()
    book.remove(book.active)
    for rows in sheets:
        sheet = book.create_sheet()
        for row in rows:
            sheet.append(row)
    out = io.BytesIO()
    book.save(out)
    return out.getvalue()


def lines_of(data: bytes, name: str = "order.csv") -> list[Any]:
    read = read_order_bytes(data, name)
    assert not read.errors
    return [each.line for each in read.lines]


@HOUSE
@given(
    rows=st.lists(ROWS, min_size=1, max_size=5),
    order=st.permutations(range(len(HEADINGS))),
    cases=st.lists(
        st.sampled_from([str.upper, str.lower, str.title, str.swapcase]), min_size=8, max_size=8
    ),
    delimiter=st.sampled_from([",", ";", "\t"]),
    encoding=st.sampled_from(["utf-8", "utf-8-sig", "utf-16", "cp1252", "utf-16-le", "utf-16-be"]),
)
def test_column_order_case_delimiter_and_encoding_change_nothing(
    rows: list[tuple[str, ...]],
    order: list[int],
    cases: list[Any],
    delimiter: str,
    encoding: str,
) -> None:
    plain = lines_of(written(HEADINGS, rows).encode())
    assert len(plain) == len(rows)
    headings = tuple(cases[place](HEADINGS[place]).replace(" ", "_") for place in order)
    moved = [tuple(cases[place](row[place]) for place in order) for row in rows]
    assert lines_of(written(headings, moved, delimiter).encode(encoding)) == plain


@settings(derandomize=True, deadline=None, max_examples=15)
@given(rows=st.lists(ROWS, min_size=1, max_size=5))
def test_a_workbook_gives_the_same_lines_as_a_csv(rows: list[tuple[str, ...]]) -> None:
    sheet = [list(HEADINGS), *([*row[:-1], int(row[-1])] for row in rows)]
    assert lines_of(workbook(sheet), "x.xlsx") == lines_of(written(HEADINGS, rows).encode())


def test_the_example_order() -> None:
    read = read_order_file(EXAMPLE)
    assert read.unused == ()
    assert [each.line.row for each in read.lines] == [3, 4, 5, 8]
    assert [(each.row, each.field) for each in read.errors] == [(6, "nps"), (7, "grade")]
    assert [each.line.sizes for each in read.lines] == ["6", "12 x 6", "8 x 6", "8"]
    assert [each.line.quantity for each in read.lines] == [12, 2, 4, 1]


def test_rows_are_counted_as_an_editor_counts_lines() -> None:
    text = 'Description\n"ELBOW 90 LR 6in\nSCH 40"\n\nELBOW 90 LR 4in\nELBOW 90 LR 7in\n'
    read = read_order_bytes(text.encode(), "x.csv")
    assert [each.line.row for each in read.lines] == [2, 5]
    assert [each.row for each in read.errors] == [6]
    assert "row 6, nps: NPS 7" in str(read.errors[0])


def test_columns_that_are_not_understood_are_named() -> None:
    text = "Item,Description,Price,Colour\x1b[31m\n1,ELBOW 90 LR 6in,20,red\n"
    assert read_order_bytes(text.encode(), "x.csv").unused == ("Price", "Colour [31m")


def test_a_workbook_keeps_its_row_numbers_and_its_numbers() -> None:
    rows = [
        ["Order of the pump house"],
        [],
        ["Fitting", "NPS", "Wall (mm)", "Qty"],
        ["90 LR elbow", 6, 7.11, 4.0],
        [],
        ["tee", 0.75, 2.87, 2],
    ]
    read = read_order_bytes(workbook([["nothing here"]], rows), "x.xlsx")
    assert [(e.line.row, e.line.nps, e.line.wall_mm, e.line.quantity) for e in read.lines] == [
        (4, "6", 7.11, 4),
        (6, "3/4", 2.87, 2),
    ]


def test_a_fraction_that_excel_made_a_date_is_explained() -> None:
    rows = [["Fitting", "Size"], ["tee", datetime(2026, 4, 3)]]
    [error] = read_order_bytes(workbook(rows), "x.xlsx").errors
    assert error.field == "nps"
    assert "format the cell as text" in error.message


def test_hidden_sheets_are_not_read() -> None:
    book = openpyxl.Workbook()
    book.active.append(["Description"])
    book.active.append(["ELBOW 90 LR 6in"])
    book.active.sheet_state = "hidden"
    book.create_sheet().append(["Nothing"])
    out = io.BytesIO()
    book.save(out)
    with pytest.raises(OrderFileError, match="no usable columns"):
        read_order_bytes(out.getvalue(), "x.xlsx")


def other_archive() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("a.txt", "no workbook")
    return out.getvalue()


def damaged_workbook() -> bytes:
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        archive.writestr("xl/workbook.xml", "<workbook")
        archive.writestr("[Content_Types].xml", "<x")
    return out.getvalue()


PNG = b"\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR\x00\x00\x00\x01\x00\x00\x00\x01"


@pytest.mark.parametrize(
    ("data", "match"),
    [
        (b"", "the file is empty"),
        (b"  \r\n ", "the file is empty"),
        (b",,\n,,\n", "nothing in it"),
        (b"a,b\n1,2\n", "no usable columns"),
        (
            b"Fitting,Material,Qty\ntee,A234 WPB,1\n",
            "columns Fitting, Material, Qty are not enough",
        ),
        (b"Fitting,Size\n\n,\n", "no order line below"),
        (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), r"an old \.xls"),
        (PNG, "neither a text nor an"),
        (other_archive(), "not an Excel workbook"),
        (damaged_workbook(), "not an Excel workbook"),
        (workbook([["Fitting", "Size"], ["tee", 6]])[:800], "not an Excel workbook"),
        (b'Description\n"' + b"x" * 200_000, "field larger than field limit"),
    ],
)
def test_what_is_no_order_is_one_clear_error(data: bytes, match: str) -> None:
    with pytest.raises(OrderFileError, match=match) as caught:
        read_order_bytes(data, "order.xlsx")
    message = str(caught.value)
    assert message.startswith("order.xlsx: ")
    assert "; " in message  # what is wrong; what to do
    assert "\n" not in message


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    with pytest.raises(OrderFileError, match="no such file"):
        read_order_file(tmp_path / "gone.csv")
    with pytest.raises(OrderFileError, match="a folder"):
        read_order_file(tmp_path)


def test_sizes_are_bounded(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    data = b"Description\n" + b"ELBOW 90 LR 6in\n" * 12
    path = tmp_path / "long.csv"
    path.write_bytes(data)
    monkeypatch.setattr(order_files, "MAX_ROWS", 10)
    with pytest.raises(OrderFileError, match="more than 10 lines"):
        read_order_bytes(data, "x.csv")
    rows = [["Description"], *(["ELBOW 90 LR 6in"] for _ in range(12))]
    with pytest.raises(OrderFileError, match="more than 10 lines"):
        read_order_bytes(workbook(rows), "x.xlsx")
    monkeypatch.setattr(order_files, "MAX_UNPACKED_BYTES", 10)
    with pytest.raises(OrderFileError, match="too large when unpacked"):
        read_order_bytes(workbook(rows), "x.xlsx")
    monkeypatch.setattr(order_files, "MAX_BYTES", 100)
    for read in (lambda: read_order_bytes(data, "x.csv"), lambda: read_order_file(path)):
        with pytest.raises(OrderFileError, match="split the order"):
            read()


def read_or_error(data: bytes) -> OrderFile | OrderFileError:
    try:
        return read_order_bytes(data, "x")
    except OrderFileError as error:
        return error


@HOUSE
@given(st.binary(max_size=400) | st.text(max_size=200).map(lambda text: text.encode()))
def test_any_bytes_give_lines_or_the_error(data: bytes) -> None:
    for each in (data, b"PK\x03\x04" + data, b"Description\n" + data, b"Fitting,Size\n" + data):
        with warnings.catch_warnings():
            warnings.simplefilter("error")
            read = read_or_error(each)
        if isinstance(read, OrderFile):
            assert all(isinstance(one, ReadLine | OrderError) for one in read.results)
            assert [one.row for one in read.errors] == sorted(one.row for one in read.errors)
        else:
            assert "\n" not in str(read)
