"""Runs typed sessions in this process, through the command line, and lets the judge look after each line."""

from __future__ import annotations

import contextlib
import io
import json
import os
import sys
from collections import Counter
from collections.abc import Callable
from functools import cache
from pathlib import Path
from random import Random
from typing import Any

from fuzz_judge import Broken, Judge, Turn
from fuzz_sheets import plan
from fuzz_talk import Line, Talker

from bench_voice import cli
from bench_voice.commands import work
from bench_voice.sheets import load


class Killed(BaseException):
    """Stands for SIGKILL: what is on disk stays as it is, nothing more is written."""


class Output(io.TextIOBase):
    """Standard output of a process, as lines."""

    def __init__(self) -> None:
        self.text = ""

    def write(self, text: str) -> int:
        self.text += text
        return len(text)

    def take(self) -> list[str]:
        lines, self.text = self.text.splitlines(), ""
        return [line.removeprefix("bench: ") for line in lines if line.startswith("bench: ")]


class Input(io.TextIOBase):
    """Standard input of a process: the next line is made when it is read, after the last turn was judged."""

    def __init__(self, on_read: Callable[[], str]) -> None:
        self._on_read = on_read

    def readline(self, size: int | None = -1) -> str:  # type: ignore[override]
        return self._on_read()


class Fuzz:
    """Sessions in `folder`, one after the other, sometimes two at once; `counts` what was tried."""

    def __init__(self, folder: Path, seed: int, patch: Any) -> None:
        self.rng, self.plan, self.folder = Random(seed), plan(seed), folder / str(seed)
        self.counts: Counter[str] = Counter()
        self.judge = Judge(self.plan, self.folder / "journals")
        self.now_ms, self.left = 1_767_600_000_000, 0
        self.folder.mkdir(parents=True)
        self.sheet = self.folder / "sheet.yaml"
        self.sheet.write_text(self.plan.text, "utf-8")
        self.log: list[str] = []
        self._kill_in = -1
        self._snapshot: dict[Path, bytes] | None = None
        patch.setenv("XDG_CONFIG_HOME", str(self.folder / "settings"))
        patch.setattr(work.WallClock, "now_ms", lambda clock: self._later())
        # A sheet is loaded once; the disk is not waited for.
        patch.setattr(load, "load_text", cached)
        patch.setattr(os, "fsync", self._fsync)

    def _later(self) -> int:
        self.now_ms += self.rng.choice((10, 10, 800, 800, 3000, 16_000))
        return self.now_ms

    def _fsync(self, file: int) -> None:
        if self._snapshot is not None:
            raise Killed
        if self._kill_in == 0:
            name = Path(os.readlink(f"/proc/self/fd/{file}"))
            self._snapshot = {path: path.read_bytes() for path in self.judge.journals()}
            if name in self._snapshot and self.rng.random() < 0.5:
                raw = self._snapshot[name]
                last = raw.rstrip(b"\n").rfind(b"\n") + 1
                self._snapshot[name] = raw[: self.rng.randint(last, len(raw))]
            raise Killed
        self._kill_in -= 1

    def run(self, n_lines: int) -> None:
        """So many lines, in as many sessions as they need. Raises Broken."""
        self.left = n_lines
        while self.left > 0:
            kind = self.rng.choice(("plain",) * 6 + ("new", "aborted", "killed"))
            self.process(
                is_new=kind == "new", n_lines=0 if kind == "aborted" else self.rng.choice((8, 30, 90)), kind=kind
            )

    def records(self) -> None:
        """Each journal's record, as the command line makes it."""
        for path in self.judge.books:
            out = io.StringIO()
            with contextlib.redirect_stdout(out):
                code = cli.main(["record", str(path), "--as", "json"])
            if code != 0:
                raise Broken(f"no record of {path.name}: {code}")
            self.judge.record(path, json.loads(out.getvalue()))
            self.counts["records"] += 1

    def process(self, *, is_new: bool, n_lines: int, kind: str, other: Path | None = None) -> None:
        """One process: it reads `n_lines`, then its input ends. `other`: the journal of one that works beside it."""
        talker = Talker(self.rng, self.plan, self.rng.choice((0.1, 0.25, 0.5)))
        out, turn, own = Output(), Turn(None), None  # type: Output, Turn, Path | None
        is_first, left, said = True, n_lines, []  # type: bool, int, list[str]

        def looked() -> None:
            nonlocal own, is_first, said
            said = out.take() or said
            turn.said = " ".join(said)
            self.log += [f"you: {turn.line}", *(f"bench: {one}" for one in said)]
            if is_first:
                own, is_first = self.judge.started(turn, is_new), False
            else:
                own = self.judge.look(turn, own)

        def read() -> str:
            nonlocal turn, left
            looked()
            if left <= 0:
                return ""
            left -= 1
            self.left -= 1
            if other is None and self.rng.random() < 0.01:
                sys.stdin, sys.stdout, kept = sys.stdin, sys.stdout, (sys.stdin, sys.stdout)
                self.process(is_new=self.rng.random() < 0.4, n_lines=5, kind="beside", other=own)
                sys.stdin, sys.stdout = kept
                self.judge.look(Turn("beside"), own)
            line: Line = talker.next(said)
            turn = Turn(*line)
            self.counts["lines"] += 1
            return line[0] + "\n"

        is_aborted = kind == "aborted"
        self.counts[kind] += 1
        if kind == "killed":
            self._kill_in = self.rng.randint(0, 25)
        if is_aborted:
            self._kill_in = self.rng.choice((0, 1))
        how = ["--new"] if is_new else []
        code, errors = -1, io.StringIO()
        try:
            with contextlib.redirect_stdout(out), contextlib.redirect_stderr(errors):
                sys_in, sys.stdin = sys.stdin, Input(read)
                try:
                    code = cli.main(
                        ["work", str(self.sheet), "--typed", "--mute", "--journal", str(self.judge.folder), *how]
                    )
                finally:
                    sys.stdin = sys_in
        except Killed:
            self._restore()
            turn.is_cut = True
        finally:
            self._kill_in, self._snapshot = -1, None
        if "internal" in errors.getvalue():
            raise Broken(f"an internal error: {errors.getvalue()}")
        if code == 5 and other is not None:
            self.counts["refused beside"] += 1
            return
        if code in (3, 5):
            raise Broken(f"ended with {code}: {errors.getvalue()}")
        if is_first or turn.is_cut or code >= 0:
            looked()
        book = self.judge.books.get(own) if own else None
        if code in (0, 10) and book is not None:
            if (code == 0) != (book.ended == "signed-off"):
                raise Broken(f"ended with {code}, and it is {book.ended or 'open'}")
            self.counts[book.ended or "left open"] += 1

    def _restore(self) -> None:
        assert self._snapshot is not None
        for path in self.judge.journals():
            if path not in self._snapshot:
                path.unlink()
        for path, raw in self._snapshot.items():
            path.write_bytes(raw)

    def tally(self) -> Counter[str]:
        books = self.judge.books.values()
        return self.counts + Counter(decisions=sum(b.decisions for b in books), reopened=sum(b.reopened for b in books))


_load_text = load.load_text


@cache
def cached(text: str, name: str) -> Any:
    return _load_text(text, name)
