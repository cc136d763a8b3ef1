"""A file is whole or not there, whatever the disk does."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from ui.whole_files import NotWritten, whole_file, write_whole


def names(folder: Path) -> list[str]:
    return [path.name for path in folder.iterdir()]


def full(_: int) -> None:
    raise OSError(errno.ENOSPC, "No space left on device")


def test_a_file_comes_whole_with_its_folder_and_as_open_as_any_other(tmp_path: Path) -> None:
    path, plain = tmp_path / "new" / "lot.pdf", tmp_path / "plain"
    plain.write_bytes(b"")
    write_whole(path, b"one")
    write_whole(path, b"two")
    assert path.read_bytes() == b"two"
    assert names(path.parent) == ["lot.pdf"]
    assert path.stat().st_mode == plain.stat().st_mode


def test_a_full_disk_is_named_and_leaves_what_was_there(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = tmp_path / "lot.pdf"
    path.write_bytes(b"old")
    monkeypatch.setattr(os, "fsync", full)
    with pytest.raises(NotWritten, match=r"lot\.pdf can't be written \(No space left.*make room"):
        write_whole(path, b"new")
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["lot.pdf"]


def test_a_block_that_fails_leaves_what_was_there(tmp_path: Path) -> None:
    path = tmp_path / "lot.zip"
    path.write_bytes(b"old")

    def half() -> None:
        with whole_file(path) as stream:
            stream.write(b"half")
            raise ZeroDivisionError

    with pytest.raises(ZeroDivisionError):
        half()
    assert path.read_bytes() == b"old"
    assert names(tmp_path) == ["lot.zip"]


def test_a_folder_that_is_a_file_is_named(tmp_path: Path) -> None:
    (tmp_path / "taken").write_bytes(b"")
    with pytest.raises(NotWritten, match=r"taken.x\.csv can't be written"):
        write_whole(tmp_path / "taken" / "x.csv", b"")


def test_what_a_kill_left_goes_after_a_day_and_nothing_else(tmp_path: Path) -> None:
    left, fresh = tmp_path / f".{'a' * 32}.part", tmp_path / f".{'b' * 32}.part"
    others = [tmp_path / ".mine.part", tmp_path / f"{'c' * 32}.part", tmp_path / "lot.pdf.part"]
    for path in (left, fresh, *others):
        path.write_bytes(b"half")
    for path in (left, *others):
        os.utime(path, (0, 0))
    write_whole(tmp_path / "lot.pdf", b"new")
    assert set(names(tmp_path)) == {fresh.name, "lot.pdf", *(path.name for path in others)}
