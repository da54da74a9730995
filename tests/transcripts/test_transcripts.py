"""Golden conversations: whole jobs as text, run on the typed path with a fake clock.

A file begins with `sheet: NAME` (a file of sheets/ here, of tests/sheets/good/ or of demo/), then `bench:`, `you:`,
`log:` and stage directions in parentheses. Only the `you:` lines and the directions are input; the rest is what must
come out.
After a change that is meant, write them anew and read the difference:

    python tests/transcripts/test_transcripts.py --accept
"""

from __future__ import annotations

import sys
from pathlib import Path

import pytest

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets.load import load_text
from bench_voice.testing import converse

HERE = Path(__file__).resolve().parent
FILES = sorted(HERE.glob("*.txt"))


def sheet_of(text: str) -> JobSheet:
    name = text.splitlines()[0].removeprefix("sheet: ")
    folders = (HERE / "sheets", HERE.parent / "sheets" / "good", HERE.parents[1] / "demo")
    path = next(folder / name for folder in folders if (folder / name).exists())
    return load_text(path.read_text(encoding="utf-8"), name)


def played(text: str) -> str:
    """The conversation that comes of the input lines in `text`."""
    head, *lines = text.splitlines()
    script = [line.removeprefix("you: ") for line in lines if line.startswith(("you: ", "("))]
    return f"{head}\n" + converse(sheet_of(text), script)


@pytest.mark.parametrize("path", FILES, ids=lambda path: path.stem)
def test_conversation(path: Path) -> None:
    text = path.read_text(encoding="utf-8")
    assert played(text) == text, f"{path.name} went another way; if that is meant: see --accept in this file"


def test_there_are_a_dozen_whole_jobs() -> None:
    ends = [
        path.stem for path in FILES if any(end in path.read_text() for end in ("log: SignedOff", "log: JobStopped"))
    ]
    assert len(ends) >= 12, ends


if __name__ == "__main__" and "--accept" in sys.argv:
    for file in FILES:
        before = file.read_text(encoding="utf-8")
        after = played(before)
        if after != before:
            file.write_text(after, encoding="utf-8")
            print(f"written anew: {file.name}")
