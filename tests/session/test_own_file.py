"""The files that a person writes by hand are read by one function: the same is forgiven and refused in all three."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest

from bench_voice import config
from bench_voice.audio.own_words import read_own
from bench_voice.errors import UsageError
from bench_voice.records.earlier import instruments_taken
from bench_voice.sheets.load import load_sheet

ROOT = Path(__file__).resolve().parents[2]
SHEET = load_sheet(ROOT / "demo" / "trailer-hub-brake.yaml")
INSTRUMENTS = '[calliper]\nmeasures = "length"\nuncertainty = "0.02 mm"\n'

# what the messages call it and the slug, how it is read, a good one
FILES: list[tuple[str, str, Callable[[Path], object], str]] = [
    ("settings", "config", config.load, "tail_ms = 500\n"),
    ("instruments", "instruments", lambda path: instruments_taken(SHEET, path, 0), INSTRUMENTS),
    ("pronunciations", "pronunciations", read_own, "grommet grow met\n"),
]
EACH = pytest.mark.parametrize(("what", "slug", "read", "good"), FILES, ids=[row[0] for row in FILES])


@EACH
def test_a_byte_order_mark_is_no_part_of_the_text(
    what: str, slug: str, read: Callable[[Path], object], good: str, tmp_path: Path
) -> None:
    """Some editors write one before UTF-8."""
    path = tmp_path / "own"
    path.write_text(good, "utf-8")
    plain = read(path)
    path.write_text(good, "utf-8-sig")
    assert read(path) == plain
    assert plain != read(tmp_path / "none")


@EACH
def test_without_the_file_nothing_is_said(
    what: str, slug: str, read: Callable[[Path], object], good: str, tmp_path: Path
) -> None:
    path = tmp_path / "own"
    found = read(path)
    if isinstance(found, config.Config):
        assert (found.mode, found.ears, found.tail_ms) == ("open", None, 300)
    else:
        assert not found
    path.write_text("", "utf-8")
    read(path / "below")  # a file stands where its folder should be


@EACH
def test_what_cannot_be_read_is_told_with_its_place(
    what: str, slug: str, read: Callable[[Path], object], good: str, tmp_path: Path
) -> None:
    path = tmp_path / "own"
    path.mkdir()
    says = rf"own: The {what} cannot be read: .*\. Mend or delete the file\. \[{slug}\]$"
    with pytest.raises(UsageError, match=says):
        read(path)
    path.rmdir()
    path.write_bytes(b"\xff\xfe\x00")
    with pytest.raises(UsageError, match=says):
        read(path)
