"""`bench-voice work --typed` in this process: lines in, exit code and both streams out, with a clock of its own."""

from __future__ import annotations

import io
from dataclasses import dataclass
from pathlib import Path

import pytest

from bench_voice import cli
from bench_voice.commands import work

MOWER = """\
sheet: {sheet}
title: {title}
version: {version}
machine: {{name: Make-believe mower, id: {machine}}}
source: Invented for this test; no book stands behind it.
limits:
  pad: {{at least: 2.0, unit: mm, source: invented}}
readings:
  brake-pad: {{limit: pad}}
items:
  red-tag: {{kind: temporary}}
steps:
  - id: tag
    say: Hang the red tag on it.
    fit: [red-tag]
  - id: pad
    say: Measure the pad.
    readings: [brake-pad]
  - id: end
    say: Take the red tag off.
    take off: [red-tag]
    final gate: yes
"""
UNFINISHED = ("next", "brake pad four", "next")
WHOLE = (*UNFINISHED, "took off red tag", "next")
STOPPED = ("stop the job", "affirm")


def mower(*, sheet: str = "small-job", title: str = "Small job", version: int = 1, machine: str = "mower one") -> str:
    return MOWER.format(sheet=sheet, title=title, version=version, machine=machine)


@dataclass(frozen=True)
class Done:
    code: int
    bench: list[str]
    """What it said, a turn each."""
    errors: list[str]


class Bench:
    """`work` takes one session from its beginning to the end of the lines; `now_ms` is what its clock shows."""

    def __init__(self, folder: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
        self.folder, self.journals = folder, folder / "journals"
        self.now_ms = 1_767_600_000_000
        self._patch, self._capsys = monkeypatch, capsys
        monkeypatch.setenv("XDG_CONFIG_HOME", str(folder / "settings"))
        monkeypatch.setattr(work.WallClock, "now_ms", lambda clock: self._later())

    def _later(self) -> int:
        self.now_ms += 10
        return self.now_ms

    def work(self, *lines: str, text: str | None = None, more: tuple[str, ...] = ()) -> Done:
        path = self.folder / "sheet.yaml"
        path.write_text(text or mower(), "utf-8")
        self._patch.setattr("sys.stdin", io.StringIO("".join(f"{line}\n" for line in lines)))
        how = () if "--say-to" in more else ("--mute",)
        code = cli.main(["work", str(path), "--typed", *how, "--journal", str(self.journals), *more])
        out, err = self._capsys.readouterr()
        said = [line.removeprefix("bench: ") for line in out.splitlines() if line.startswith("bench: ")]
        return Done(code, said, err.splitlines())

    def new(self, *lines: str, text: str | None = None) -> Done:
        return self.work(*lines, text=text, more=("--new",))

    @property
    def newest(self) -> Path:
        return max(self.journals.glob("*.jsonl"), key=lambda path: path.name.rpartition("--")[2])

    def bend(self, line: int) -> Path:
        """Damages that line of the newest journal."""
        path = self.newest
        lines = path.read_bytes().splitlines(keepends=True)
        lines[line] = lines[line].replace(b'"seq"', b'"sec"')
        path.write_bytes(b"".join(lines))
        return path
