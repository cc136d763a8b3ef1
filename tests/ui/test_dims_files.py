"""A file of measured pieces: headings read freely, bad rows named, the rest kept."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
import typer
from click.testing import Result
from typer.testing import CliRunner

from ui.dims_command import add_to
from ui.dims_files import DimsFileError, read_measured

PIECES = """Tag;Fitting;DN;Schedule;Centre to end (mm);OD mm;Wall 1 (mm);Wall 2 (mm);Q
E-1;90 LR elbow;150;40;229.5;168.9;7.0;6.9;0.5 mm
E-2;90 LR elbow;150;40;9.0 in;168.9;7.0;6.1;
E-3;90 LR elbow;160;40;229;;;;
E-4;90 LR elbow;150;40;229;1,168.9;;;
E-5;90 LR elbow;150;;229;;7.0;;
"""


@pytest.fixture
def pieces(tmp_path: Path) -> Path:
    path = tmp_path / "pieces.csv"
    path.write_text(PIECES, encoding="utf-8-sig")
    return path


def run(*arguments: str) -> Result:
    app = typer.Typer(rich_markup_mode=None)
    app.callback()(lambda: None)
    add_to(app)
    return CliRunner().invoke(app, ["dims", *arguments])


def test_rows_become_what_was_ordered_and_what_was_measured(pieces: Path) -> None:
    first, second, *_ = read_measured(pieces)
    assert first.row == 2
    assert first.ordered == {
        "tag": "E-1",
        "fitting": "90 LR elbow",
        "nps": "DN150",
        "schedule": "40",
    }
    assert first.measured == (
        ("centre to end", "229.5 mm"),
        ("od", "168.9 mm"),
        ("wall", "7.0 mm"),
        ("wall", "6.9 mm"),
        ("q", "0.5 mm"),
    )
    assert ("centre to end", "9.0 in") in second.measured


def test_good_rows_are_compared_and_bad_ones_named(pieces: Path) -> None:
    result = run("--file", str(pieces), "--json")
    assert result.exit_code == 3
    records = [json.loads(line) for line in result.stdout.splitlines()]
    assert [(each["row"], each["tag"]) for each in records] == [
        *((2, "E-1"), (3, "E-2"), (4, "E-3")),
        *((5, "E-4"), (6, "E-5")),
    ]
    places = [
        {found["name"]: found["place"] for found in each["measurements"]} for each in records[:2]
    ]
    assert places[0] == {
        **{"centre_to_end": "inside", "od": "inside", "wall": "inside", "off_angle": "inside"}
    }
    # NPS 6 schedule 40: least wall 0.875 x 7.11 = 6.221 mm; 9.0 in is 228.6 mm, inside 229 ± 2.
    assert places[1] == {"centre_to_end": "inside", "od": "inside", "wall": "outside"}
    errors = {each["row"]: each["error"] for each in records[2:]}
    assert errors[4]["field"] == "nps"
    assert "DN160 is not listed" in errors[4]["message"]
    assert errors[5]["field"] == "od"
    assert "has a comma" in errors[5]["message"]
    assert errors[6]["field"] == "wall"
    assert "give the schedule or the wall" in errors[6]["message"]
    assert f"{pieces}, row 4, nps: DN160" in result.stderr


def test_the_table_names_row_and_tag(pieces: Path) -> None:
    result = run("--file", str(pieces))
    assert result.exit_code == 3
    assert "row 2, tag E-1: 90° long-radius elbow, NPS 6 (DN 150), schedule 40" in result.stdout


def test_several_values_in_one_cell_and_walls_of_the_order(tmp_path: Path) -> None:
    path = tmp_path / "pieces.csv"
    path.write_text(
        "fitting,nps,second,nominal wall (mm),wall\ntee,6,,8,7.1 mm; 7.3mm; 0.27in\n", "utf-8"
    )
    (row,) = read_measured(path)
    assert row.ordered["wall"] == "8 mm"
    assert row.measured == (("wall", "7.1 mm"), ("wall", "7.3mm"), ("wall", "0.27in"))
    result = run("--file", str(path), "--json")
    assert result.exit_code == 0
    (found,) = json.loads(result.stdout)["measurements"]
    # 0.27 in is 6.858 mm; 87.5 % of 8 mm is 7 mm.
    assert (found["measured_mm"], found["place"]) == (6.858, "outside")


@pytest.mark.parametrize(
    ("content", "said"),
    [
        (b"", "no rows below the heading"),
        (b"fitting,nps\n", "no rows below the heading"),
        (b"form,number\n1,2\n", "needs the columns fitting and nps"),
        (b"PK\x03\x04\0\0", "not a text file"),
    ],
)
def test_files_without_rows_are_one_clear_error(tmp_path: Path, content: bytes, said: str) -> None:
    path = tmp_path / "pieces.csv"
    path.write_bytes(content)
    with pytest.raises(DimsFileError, match=said):
        read_measured(path)


def test_a_missing_file_and_mixed_usage(tmp_path: Path, pieces: Path) -> None:
    with pytest.raises(DimsFileError, match=r"gone\.csv: No such file"):
        read_measured(tmp_path / "gone.csv")
    result = run("--file", str(pieces), "--nps", "6")
    assert result.exit_code == 2
    assert "a file brings its own sizes" in result.stderr
    alone = run("--nps", "6")
    assert alone.exit_code == 2
    assert "--fitting: this is needed, or --file" in alone.stderr


def test_a_row_without_a_fitting_is_named(tmp_path: Path) -> None:
    path = tmp_path / "pieces.csv"
    path.write_text("fitting,nps,od (mm)\n,6,168\n", "utf-8")
    result = run("--file", str(path))
    assert result.exit_code == 3
    assert "row 2, fitting: this is empty" in result.stderr


def test_a_decimal_comma_is_read_where_semicolons_part_the_columns(tmp_path: Path) -> None:
    """As spreadsheets write it; a tag keeps its comma, and commas between columns stay commas."""
    path = tmp_path / "pieces.csv"
    head = "tag;fitting;nps;schedule;od (mm);wall (mm)"
    path.write_text(f"{head}\nP1,2;tee;6;40;168,9;7,1; 6,9\n".replace("7,1; 6,9", '"7,1; 6,9"'))
    (row,) = read_measured(path)
    assert row.ordered["tag"] == "P1,2"
    assert row.measured == (("od", "168.9 mm"), ("wall", "7.1 mm"), ("wall", "6.9 mm"))


def test_a_column_that_is_no_dimension_is_named_as_such(tmp_path: Path) -> None:
    path = tmp_path / "pieces.csv"
    path.write_text("fitting,nps,remarks\ntee,6,rusty\n")
    result = run("--file", str(path))
    assert result.exit_code == 3
    assert "remarks: is no dimension of this fitting" in result.stderr


def test_a_second_wall_means_nothing_on_a_piece_with_one_size() -> None:
    result = run("--fitting", "tee", "--nps", "6", "--schedule", "40", "--second-wall", "5mm")
    assert result.exit_code == 2
    assert "--second-wall: a straight tee has one size" in result.stderr
