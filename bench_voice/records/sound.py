"""Sound of a session, kept only where it is wanted: FLAC files in a folder beside the journal, named by the event that
they belong to. The journal does not need them; `forget` takes them away.
"""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Iterable, Sequence
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import IO, Any
from urllib.parse import quote

from bench_voice.core import events as ev
from bench_voice.records.moments import Zone

OFF, NOTES, READINGS, ALL = "off", "notes", "readings", "all"
CHOICES = (OFF, NOTES, READINGS, ALL)
_SUFFIX = ".sound"
_NOTE: tuple[type, ...] = (ev.NoteTaken,)
_VALUES: tuple[type, ...] = (
    ev.ReadingRecorded, ev.ReadingCorrected, ev.HoldPhraseHeard, ev.HoldConfirmed, ev.LookJudged, ev.ReadingDecided,
)  # fmt: skip
_NAMES = {
    "NoteTaken": "note",
    "ReadingRecorded": "reading",
    "ReadingCorrected": "correction",
    "HoldPhraseHeard": "hold",
    "HoldConfirmed": "affirm",
    "LookJudged": "look",
    "ReadingDecided": "decision",
}


def _flac(file: IO[bytes], rate_hz: int) -> Any:
    import soundfile

    return soundfile.SoundFile(file, "w", rate_hz, 1, "PCM_16", format="FLAC")


def folder_of(journal: Path) -> Path:
    return journal.with_suffix(_SUFFIX)


def wanted(choice: str, events: Sequence[ev.Event]) -> ev.Event | None:
    """The event of a decision whose sound is to be kept; None where none is."""
    kinds = {NOTES: _NOTE, READINGS: (*_NOTE, *_VALUES)}.get(choice, ())
    if choice == ALL and events:
        return next((one for one in events if isinstance(one, (*_NOTE, *_VALUES))), events[0])
    return next((one for one in events if isinstance(one, kinds)), None) if kinds else None


@dataclass
class SoundKeeper:
    """Keeps what `choice` says. A disk that is full or a folder that may not be written costs the sound, never the
    session: `problem` says so then, once.
    """

    journal: Path
    choice: str
    rate_hz: int = 16_000
    problem: str = ""
    on_problem: Callable[[str], None] = lambda text: None

    def keep(self, pcm: bytes, first_seq: int, events: Sequence[ev.Event]) -> Path | None:
        """`pcm`: mono s16le of the utterance that led to `events`, whose first has the number `first_seq`."""
        event = wanted(self.choice, events)
        if event is None or not pcm or self.problem:
            return None
        import soundfile

        seq = first_seq + next(at for at, one in enumerate(events) if one is event)
        path = folder_of(self.journal) / f"{seq:06d}-{_NAMES.get(type(event).__name__, 'talk')}.flac"
        part = path.with_suffix(".part")
        try:
            path.parent.mkdir(exist_ok=True)
            with part.open("wb") as raw, _flac(raw, self.rate_hz) as file:
                file.buffer_write(pcm[: len(pcm) // 2 * 2], dtype="int16")
            os.replace(part, path)
        except (OSError, soundfile.LibsndfileError) as error:
            with suppress(OSError):
                part.unlink()
            why = getattr(error, "strerror", None) or str(error)
            self.problem = f"{path}: The sound is not kept any more ({why}). The session goes on. [sound-not-kept]"
            self.on_problem(self.problem)
            return None
        return path


@dataclass(frozen=True)
class Kept:
    """A sound as the record shows it. `href`: from the folder of the journal."""

    href: str
    words: str
    at: str
    step: str


def kept_sounds(journal: Path, steps: Sequence[dict[str, Any]], zone: Zone) -> list[Kept]:
    """What is there, in order. `steps`: the openings of steps as the summary has them."""
    folder = folder_of(journal)
    found = []
    for path in _flacs(folder):
        number, _, kind = path.stem.partition("-")
        if not number.isdigit():
            continue
        before = [row for row in steps if row["seq"] <= int(number)]
        at = zone.short(int(path.stat().st_mtime * 1000))
        found.append(Kept(quote(f"{folder.name}/{path.name}"), kind, at, before[-1]["step"] if before else ""))
    return found


def _flacs(folder: Path) -> list[Path]:
    try:
        return sorted(path for path in folder.iterdir() if path.suffix == ".flac")
    except OSError:
        return []


@dataclass
class Forgotten:
    """What `forget` took away: number and bytes by session, and what it could not."""

    sessions: dict[str, tuple[int, int]]
    problems: list[str]


def forget(journals: Path, older_than_days: float, now_s: float | None = None) -> Forgotten:
    """Removes sound whose file is older than that. Journals, records and the logbook stay as they are."""
    end = (time.time() if now_s is None else now_s) - older_than_days * 86_400
    done = Forgotten({}, [])
    for folder in _sound_folders(journals):
        count = size = 0
        for path in _flacs(folder):
            try:
                stat = path.stat()
                if stat.st_mtime <= end:
                    path.unlink()
                    count, size = count + 1, size + stat.st_size
            except OSError as error:
                done.problems.append(f"{path}: It cannot be removed ({error.strerror}). [sound-not-kept]")
        if count:
            done.sessions[folder.stem] = (count, size)
        with suppress(OSError):
            folder.rmdir()  # only where nothing is left in it
    return done


def _sound_folders(journals: Path) -> Iterable[Path]:
    return sorted(path for path in journals.glob(f"*{_SUFFIX}") if path.is_dir() and not path.is_symlink())
