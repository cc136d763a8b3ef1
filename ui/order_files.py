"""Order files in: CSV of any common kind, or Excel .xlsx, into rows of text, then order lines.

Only reading and telling apart lives here; what a cell means is `fittings.order.rows`. A file that
cannot be read at all gives one OrderFileError. A row that cannot be used gives an OrderError in its
place, and the others are still read.
"""

from __future__ import annotations

import csv
import io
import warnings
import zipfile
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time
from pathlib import Path
from typing import Any

from fittings.order.cells import plain_text
from fittings.order.columns import Column, columns_of, known_columns
from fittings.order.lines import OrderError
from fittings.order.rows import ReadLine, read_row
from vision.errors import SeamtriageError

MAX_BYTES = 20_000_000
MAX_UNPACKED_BYTES = 200_000_000
MAX_ROWS = 20_000
MAX_COLUMNS = 200
# How far down a heading line is looked for; order forms often begin with a title and an address.
_HEADING_ROWS = 20
# Columns that only number the lines need no word about not being used.
_COUNTERS = frozenset(("", "line", "item", "pos", "position", "no", "row", "line no", "item no"))
_OLD_EXCEL = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1"
_COLUMNS_HELP = (
    "name the columns in a heading line, for instance Fitting, Size, Schedule, Material, "
    "Construction, Quantity, Dimension standard, or Description alone"
)

Row = tuple[int, list[str]]


class OrderFileError(SeamtriageError):
    """A file that gives no order lines. The message names it, says what is wrong, what to do."""

    def __init__(self, name: str, problem: str, remedy: str) -> None:
        self.name = name
        super().__init__(f"{name}: {problem}; {remedy}.")


@dataclass(frozen=True, slots=True, kw_only=True)
class OrderFile:
    """What a file gave, in its order. `unused` are headings that were not understood."""

    name: str
    results: tuple[ReadLine | OrderError, ...]
    columns: tuple[Column, ...]
    unused: tuple[str, ...] = ()

    @property
    def lines(self) -> tuple[ReadLine, ...]:
        """The rows that could be read."""
        return tuple(each for each in self.results if isinstance(each, ReadLine))

    @property
    def errors(self) -> tuple[OrderError, ...]:
        """The rows that could not."""
        return tuple(each for each in self.results if isinstance(each, OrderError))


def read_order_file(path: Path) -> OrderFile:
    """The order lines of a CSV or .xlsx file; OrderFileError when it holds none."""
    try:
        if path.stat().st_size > MAX_BYTES:
            raise OrderFileError(
                path.name, f"more than {MAX_BYTES // 10**6} MB", "split the order in several files"
            )
        data = path.read_bytes()
    except FileNotFoundError:
        raise OrderFileError(str(path), "no such file", "check the name") from None
    except IsADirectoryError:
        raise OrderFileError(str(path), "a folder, not a file", "name one file") from None
    except OSError as error:
        reason = error.strerror or "it cannot be opened"
        raise OrderFileError(str(path), reason, "check that you may read it") from None
    return read_order_bytes(data, path.name)


def read_order_bytes(data: bytes, name: str) -> OrderFile:
    """The order lines of a file's bytes. The bytes say what it is; the name is for messages."""
    if not data.strip():
        raise OrderFileError(name, "the file is empty", "export the order again")
    if len(data) > MAX_BYTES:
        raise OrderFileError(
            name, f"more than {MAX_BYTES // 10**6} MB", "split the order in several files"
        )
    if data.startswith(_OLD_EXCEL):
        raise OrderFileError(
            name,
            "an old .xls workbook, or one with a password",
            "save it as .xlsx without a password, or as CSV",
        )
    is_archive = data.startswith(b"PK")
    tables = _sheets(data, name) if is_archive else _csv_tables(_text(data, name), name)
    return _read_tables(tables, name)


def _read_tables(tables: Iterable[list[Row]], name: str) -> OrderFile:
    """The first table that has a heading line for an order, read to its end."""
    some_text = False
    best: tuple[Column, ...] = ()
    for rows in tables:
        some_text = some_text or any(text.strip(" ,;\t") for _, cells in rows for text in cells)
        for place, (_, headings) in enumerate(rows[:_HEADING_ROWS]):
            columns = columns_of(headings)
            if not columns:
                best = max(best, known_columns(headings), key=len)
                continue
            used = {column.index for column in columns}
            unused = [
                plain_text(text)
                for index, text in enumerate(headings)
                if index not in used and text.strip(" .").lower() not in _COUNTERS
            ]
            results = tuple(_results(columns, rows[place + 1 :]))
            if not results:
                raise OrderFileError(
                    name, "there is a heading line and no order line below it", "add the lines"
                )
            return OrderFile(name=name, results=results, columns=columns, unused=tuple(unused))
    if not some_text:
        raise OrderFileError(name, "there is nothing in it", "export the order again")
    problem = "no usable columns were found"
    if best:
        found = ", ".join(plain_text(column.heading) for column in best)
        problem = f"the columns {found} are not enough for an order"
    raise OrderFileError(name, problem, _COLUMNS_HELP)


def _results(columns: Sequence[Column], rows: Iterable[Row]) -> Iterator[ReadLine | OrderError]:
    for number, cells in rows:
        in_use = {
            column.index: cells[column.index] for column in columns if column.index < len(cells)
        }
        if not any(text.strip() for text in in_use.values()):
            continue
        try:
            yield read_row(columns, in_use, number)
        except OrderError as error:
            yield error


def _text(data: bytes, name: str) -> str:
    """The text of a CSV: UTF-16 by its mark or its zero bytes, UTF-8, else Windows cp1252."""
    encodings = ["utf-8-sig", "cp1252"]
    if data.startswith((b"\xff\xfe", b"\xfe\xff")):
        encodings = ["utf-16"]
    elif data[1:200:2].count(0) > len(data[1:200:2]) // 2:
        encodings = ["utf-16-le"]
    elif data[:200:2].count(0) > len(data[:200:2]) // 2:
        encodings = ["utf-16-be"]
    for encoding in encodings:
        try:
            text = data.decode(encoding)
        except UnicodeDecodeError:
            continue
        if not any(sign in text for sign in "\0\x01\x02\x03\x04"):
            return text
        break
    raise OrderFileError(
        name, "neither a text nor an .xlsx workbook", "save the order as CSV or .xlsx"
    )


def _csv_tables(text: str, name: str) -> Iterator[list[Row]]:
    """The text cut at commas, at semicolons and at tabs; only one gives a heading line."""
    for delimiter in (",", ";", "\t"):
        yield _csv_rows(text, delimiter, name)


def _csv_rows(text: str, delimiter: str, name: str) -> list[Row]:
    rows: list[Row] = []
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter)
    begins = 1  # a quoted cell may span lines; a row is named by its first one
    try:
        for cells in reader:
            rows.append((begins, cells[:MAX_COLUMNS]))
            begins = reader.line_num + 1
            _check_count(len(rows), name)
    except csv.Error as error:
        raise OrderFileError(name, f"line {begins}: {error}", "export the order again") from None
    return rows


def _check_count(count: int, name: str) -> None:
    if count > MAX_ROWS:
        raise OrderFileError(name, f"more than {MAX_ROWS} lines", "split the order in several")


def _sheets(data: bytes, name: str) -> Iterator[list[Row]]:
    """The visible sheets of an Excel workbook, as rows of text."""
    import openpyxl

    problem = OrderFileError(
        name, "not an Excel workbook that can be read", "save it as .xlsx or CSV"
    )
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            names = archive.namelist()
            unpacked = sum(entry.file_size for entry in archive.infolist())
    except (zipfile.BadZipFile, NotImplementedError, ValueError, OSError):
        raise problem from None
    if "xl/workbook.xml" not in names:
        raise problem
    if unpacked > MAX_UNPACKED_BYTES:
        raise OrderFileError(name, "far too large when unpacked", "save the order alone")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore", UserWarning)  # about styles and validation lists
            book = openpyxl.load_workbook(io.BytesIO(data), read_only=True, data_only=True)
            visible = [each for each in book.worksheets if each.sheet_state == "visible"]
            sheets = [list(_sheet_rows(each, name)) for each in visible]
            book.close()
    except OrderFileError:
        raise
    except Exception:  # damaged workbooks make archive, XML parser and openpyxl fail in many ways
        raise problem from None
    return iter(sheets)


def _sheet_rows(sheet: Any, name: str) -> Iterator[Row]:
    """The rows of a sheet that hold anything, by their number in the sheet."""
    sheet.reset_dimensions()  # some programs write a wrong size of the sheet
    count = 0
    for number, values in enumerate(sheet.iter_rows(values_only=True), start=1):
        texts = [_cell_text(value) for value in values[:MAX_COLUMNS]]
        if any(texts):
            count += 1
            _check_count(count, name)
            yield number, texts


def _cell_text(value: object) -> str:
    """A cell as a person sees it. A date keeps its name, because Excel makes one out of 3/4."""
    if value is None:
        return ""
    if isinstance(value, float) and value.is_integer():
        return str(int(value))
    if isinstance(value, (datetime, date)):
        return f"{value:%d %B %Y} (a date; Excel makes one of 3/4, so format the cell as text)"
    if isinstance(value, time):
        return value.isoformat()
    return str(value)
