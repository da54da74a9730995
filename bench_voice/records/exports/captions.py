"""W3C WebVTT for somebody who filmed the work: captions with both sides, chapters for steps.

A journal knows when something was understood, not how long it was spoken. A cue lasts as long as its words can be read,
so that none is faster than `MOST_CPS` and none lies over another: where much was said at once, captions lag behind.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from html import escape
from itertools import groupby

from bench_voice.core import events as ev
from bench_voice.core import replies
from bench_voice.errors import UsageError
from bench_voice.records.kept import Job
from bench_voice.session import journal as jn
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.visible import visible
from bench_voice.words.wording import worded

MOST_CPS = 20.0  # characters a second that can be read
_CPS = 15.0  # about as fast as the voice speaks
_LEAST_MS, _LINE, _LINES = 900, 40, 2
BENCH, YOU = "Bench", "You"


@dataclass(frozen=True)
class Cue:
    """`speaker`: "" for a chapter. Times in ms from the film's begin."""

    start_ms: int
    end_ms: int
    speaker: str
    text: str


@dataclass(frozen=True)
class Turn:
    at_ms: int
    speaker: str
    text: str


def captions(job: Job, mark: int | None = None, film_ms: int = 0) -> str:
    """`mark`: the number of the spoken mark (from 1) that is seen at `film_ms` of the film; without one the film begins
    with the session. What was before the film is left out. Raises UsageError [no-mark].
    """
    shift = _shift(job, mark, film_ms)
    return _vtt(_in_film(_cues(_turns(job)), shift))


def chapters(job: Job, mark: int | None = None, film_ms: int = 0) -> str:
    """A chapter from the opening of each step to that of the next."""
    shift = _shift(job, mark, film_ms)
    opened, last = [], 0
    for line, _, _ in job.fold():
        if line is not None:
            last = line.at_ms
            if isinstance(line.event, ev.StepOpened):
                opened.append((line.at_ms, line.event.step))
    if not opened:
        return _vtt([])
    end = max(last, opened[-1][0] + 1000)
    cues = []
    for (at, step), (until, _) in zip(opened, [*opened[1:], (end, "")], strict=True):
        index = job.sheet.step_index(step)
        if until > at:
            cues.append(Cue(at, until, "", f"{index + 1}. {job.sheet.steps[index].say}"))
    return _vtt(_in_film(cues, shift))


def _shift(job: Job, mark: int | None, film_ms: int) -> int:
    """What is added to a time of the journal."""
    first, marks = None, []
    for line, _, _ in job.fold():
        if line is not None:
            first = line.at_ms if first is None else first
            if isinstance(line.event, ev.MarkSet):
                marks.append(line.at_ms)
    if mark is None:
        return film_ms - (first or 0)
    if not 1 <= mark <= len(marks):
        raise UsageError(
            f"There is no mark {mark} in this session: it has {len(marks)}.",
            mend='Say "mark" at a moment that the film shows, such as a clap; or leave --mark out.',
            slug="no-mark",
            where=job.file.path.name,
        )
    return film_ms - marks[mark - 1]


def _in_film(cues: Iterable[Cue], shift: int) -> list[Cue]:
    moved = (replace(cue, start_ms=cue.start_ms + shift, end_ms=cue.end_ms + shift) for cue in cues)
    # Half a caption cannot be read in time: only chapters may begin before the film.
    return [
        replace(cue, start_ms=max(0, cue.start_ms))
        for cue in moved
        if (cue.start_ms >= 0 if cue.speaker else cue.end_ms > 0)
    ]


def _turns(job: Job) -> Iterator[Turn]:
    """What each side said, in order; of the person the words that were heard, of the bench its sentences."""
    speaker = Speaker(load_language(job.sheet.language))
    both = ((line, before) for line, before, _ in job.fold() if line is not None)
    for at_ms, turn in groupby(both, key=lambda one: one[0].at_ms):
        lines = list(turn)
        batch = tuple(line.event for line, _ in lines)
        heard = next(filter(None, map(_heard, batch)), "")
        if heard:
            yield Turn(at_ms, YOU, heard)
        with jn.as_foreign(job.file.path, lines[0][0].seq):
            said = worded(speaker, replies.after(lines[0][1], batch))
        yield from (Turn(at_ms, BENCH, sentence) for sentence in said)


def _heard(event: ev.Event) -> str:
    """The words as they were heard; "" where the journal does not have them."""
    own = getattr(event, "heard", "")
    if isinstance(own, str) and own:
        return own
    inner = getattr(event, "intent", None) or getattr(event, "question", None)
    found = getattr(inner, "heard", "")
    return found if isinstance(found, str) else ""


def _cues(turns: Iterable[Turn]) -> Iterator[Cue]:
    """One after the other. The person's words end when they were understood, the bench's begin then."""
    free = None
    for turn in turns:
        for number, text in enumerate(_pieces(turn.text)):
            # A millisecond more than the fastest: the end is written in whole ones.
            length = max(_LEAST_MS, int(len(text) / _CPS * 1000) + 1)
            wanted = turn.at_ms - length if turn.speaker == YOU and number == 0 else turn.at_ms
            start = wanted if free is None else max(wanted, free)
            free = start + length
            yield Cue(start, free, turn.speaker, text)


def _pieces(text: str) -> Iterator[str]:
    """Parts of at most two short lines, broken between words; a word that is longer than a line is cut."""
    words = [part for word in _plain(text).split() for part in re.findall(f".{{1,{_LINE}}}", word)]
    lines: list[str] = []
    for word in words:
        if lines and len(lines[-1]) + 1 + len(word) <= _LINE:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    for at in range(0, len(lines), _LINES):
        yield "\n".join(lines[at : at + _LINES])


def _plain(text: str) -> str:
    return " ".join(visible(text).split()).replace("-->", "to")


def _vtt(cues: Iterable[Cue]) -> str:
    parts = ["WEBVTT\n"]
    for cue in cues:
        text = escape(cue.text if cue.speaker else _plain(cue.text), quote=False)
        voice = f"<v {cue.speaker}>" if cue.speaker else ""
        parts.append(f"{_clock(cue.start_ms)} --> {_clock(cue.end_ms)}\n{voice}{text}\n")
    return "\n".join(parts)


def _clock(ms: int) -> str:
    seconds, ms = divmod(ms, 1000)
    return f"{seconds // 3600:02d}:{seconds // 60 % 60:02d}:{seconds % 60:02d}.{ms:03d}"
