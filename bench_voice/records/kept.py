"""The job sheet that a journal keeps, and the journal as a job."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property, lru_cache
from pathlib import Path
from typing import Any

from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import BenchError, JournalError
from bench_voice.session import journal as jn


def kept_sheet(header: dict[str, Any], path: Path) -> JobSheet:
    """The sheet whose text stands in the journal's first line. Raises JournalError where no job can be made of it.

    It is not proofread: what the proofreader has learnt since closes no journal.
    """
    try:
        with jn.as_foreign(path, 0):
            return _sheet(header["sheet_text"])
    except JournalError as error:
        if isinstance(error.__cause__, BenchError):
            why = str(error.__cause__).splitlines()[0][:200]
            raise jn.foreign(path, 0, f"its sheet makes no job ({why})") from error
        raise


@lru_cache(maxsize=512)
def _sheet(text: str) -> JobSheet:
    """Reading a sheet takes longer than reading most journals, and a machine's sessions mostly keep the same one.

    So many that a workshop's machines find room, whose journals are read in the order of time and not by machine.
    """
    from bench_voice.sheets.load import load_kept

    return load_kept(text, "the sheet kept in it")


def replayed(found: jn.JournalFile) -> State:
    """The state that the journal ends with. Raises JournalError."""
    return jn.replay(kept_sheet(found.header, found.path), found.lines, found.path)


@dataclass(frozen=True)
class Job:
    """A journal with its sheet. A `Scan` is read anew by each that goes through its lines, and never held."""

    file: jn.JournalFile | jn.Scan
    sheet: JobSheet

    def fold(self) -> Iterator[tuple[jn.Line | None, State, State]]:
        """Each line with the state before and after it (session.journal). Raises JournalError."""
        lines = self.file if isinstance(self.file, jn.Scan) else self.file.lines
        return jn.fold(self.sheet, lines, self.file.path)

    @cached_property
    def state(self) -> State:
        for _, _, state in self.fold():
            last = state
        return last


def open_job(path: Path) -> Job:
    """Raises JournalError; the sheet is the one kept in the journal."""
    scan = jn.Scan(path)
    return Job(scan, kept_sheet(scan.header, path))


def not_begun(path: Path) -> JournalError:
    """A header alone: of a start that came to nothing."""
    return JournalError(
        "No session began in this journal: it has a first line and no event.",
        mend="There is nothing to keep; the file can be deleted.",
        slug="journal-unbegun",
        where=str(path),
    )
