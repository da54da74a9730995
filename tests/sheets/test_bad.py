"""Every sheet in `bad/` has one fault, pinned to its whole message in `bad/expected.txt`.

The texts were read and accepted by hand; nothing outside of the project says how a fault is to be worded.
"""

from __future__ import annotations

from collections import defaultdict
from pathlib import Path

import pytest

from bench_voice.errors import SheetError
from bench_voice.sheets import MESSAGES, SheetFaults, check_file, load_sheet

HERE = Path(__file__).parent
BAD = sorted((HERE / "bad").glob("*.yaml"))


def _expected() -> dict[str, list[str]]:
    out: dict[str, list[str]] = defaultdict(list)
    for line in (HERE / "bad" / "expected.txt").read_text(encoding="utf-8").splitlines():
        out[line.removeprefix("note ").split(" line ")[0].split(":")[0]].append(line)
    return out


EXPECTED = _expected()


def test_there_are_enough_and_none_is_left_over() -> None:
    assert len(BAD) >= 60
    assert {path.name for path in BAD} == set(EXPECTED)


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_one_fault_one_message(path: Path) -> None:
    found = check_file(path)
    assert [("note " if f.severity == "note" else "") + str(f) for f in found] == EXPECTED[path.name]
    # One fault; notes about unknown words may stand beside a fault about the same words.
    assert len([f for f in found if f.severity == "fault"]) == 1 or len(found) == 1


@pytest.mark.parametrize("path", BAD, ids=lambda path: path.stem)
def test_what_has_a_fault_is_not_loaded(path: Path) -> None:
    if all(f.severity == "note" for f in check_file(path)):
        assert load_sheet(path).steps
        return
    with pytest.raises(SheetError, match=r"\[sheet-") as caught:
        load_sheet(path)
    assert isinstance(caught.value, SheetFaults)
    assert caught.value.exit_code == 3
    assert [str(f) for f in caught.value.faults] == [str(f) for f in check_file(path) if f.severity == "fault"]


def test_every_slug_has_its_bad_sheet_or_its_own_test() -> None:
    tripped = {f.slug for path in BAD for f in check_file(path)}
    elsewhere = {"sheet-missing-file", "sheet-too-big", "sheet-encoding", "sheet-empty"}  # test_load.py
    assert tripped | elsewhere == set(MESSAGES)


def test_ten_faults_are_shown_all_at_once() -> None:
    found = check_file(HERE / "ten-faults.yaml")
    assert [(f.line, f.slug) for f in found] == [
        (3, "sheet-missing"),
        (11, "sheet-choice"),
        (17, "sheet-unit"),
        (18, "sheet-limit-cross"),
        (22, "sheet-reference"),
        (27, "sheet-name"),
        (32, "sheet-hold-begin"),
        (34, "sheet-key"),
        (37, "sheet-text"),
        (39, "sheet-number"),
    ]
    assert len({f.what for f in found}) == 10
