"""Errors for people: what is wrong, where, how to mend it, a slug that docs/messages.md explains, an exit code.

BenchError
├── UsageError          2  wrong use of the command
├── SheetError          3  the job sheet cannot be used (may carry many faults)
├── EngineError         4  no usable sound device, voice, engine or model
│   └── EarFailed       4  one ear of several failed; carries its name
├── SoundFileError      4  a recording that cannot be read
└── JournalError        5  the journal cannot be read or written
"""

from __future__ import annotations


class BenchError(Exception):
    """Base. `str()` gives the one line a person sees: `where: what. mend [slug]`."""

    exit_code = 2

    def __init__(self, what: str, *, mend: str, slug: str, where: str = "") -> None:
        super().__init__(what)
        self.what, self.mend, self.slug, self.where = what, mend, slug, where

    def __str__(self) -> str:
        place = f"{self.where}: " if self.where else ""
        return f"{place}{self.what} {self.mend} [{self.slug}]"


class UsageError(BenchError):
    exit_code = 2


class SheetError(BenchError):
    exit_code = 3


class EngineError(BenchError):
    exit_code = 4


class EarFailed(EngineError):
    """What an ear raised, with the name of the `ear`. A BenchError keeps its text, mend and slug."""

    def __init__(self, ear: str, error: Exception) -> None:
        if isinstance(error, BenchError):
            super().__init__(error.what, mend=error.mend, slug=error.slug, where=error.where)
        else:
            super().__init__(
                f"The ear {ear} failed inside: {type(error).__name__}: {error}.",
                mend="bench-voice self-check shows which ears can be used.",
                slug="ear-broken",
            )
        self.ear = ear


class SoundFileError(BenchError):
    exit_code = 4


class JournalError(BenchError):
    exit_code = 5
