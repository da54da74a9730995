"""`bench-voice rehearse`: the sheet's phrases said once, what the ears make of them, and the recordings kept.

Every phrase is written to a file first and heard from there, by the same way as `bench-voice hear`: what was heard at
the rehearsal is what `hear --list` hears afterwards, as long as nothing else was changed.
"""

from __future__ import annotations

import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any, Protocol

from bench_voice.audio.wav import WavSource, read_shape, read_wav, write_wav
from bench_voice.core.intents import Expected, Intent, Question, id_of
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import BenchError, SoundFileError, UsageError
from bench_voice.hearing.witness import witness
from bench_voice.ports import Endpointer, Heard
from bench_voice.rehearsal import report
from bench_voice.rehearsal.prompts import EarHeard, Prompt, Rehearsal, Take
from bench_voice.session import meaning
from bench_voice.session.listen import Listener
from bench_voice.session.outcomes import Outcome, expected_fields, outcome
from bench_voice.session.whole import hear_whole
from bench_voice.words.phrases import Language
from bench_voice.words.say import Speaker

LIST_NAME = "list.jsonl"
LONGEST_TAKE_S = 60.0  # own choice: every take is copied, and twenty seconds of speech are heard


class Takes(Protocol):
    """Where the sound comes from."""

    def take(self, prompt: Prompt, of: int) -> bytes | None:
        """The phrase as it was said, 16 kHz mono s16le; None where it was skipped. Raises `Ended` to end early."""

    def close(self) -> None: ...


class Ended(Exception):
    """The person has had enough; what was said so far is reported."""


class FromFolder:
    """Recordings named by the number of the phrase: `7.wav`, `07.wav`, `007-left-hub.wav`."""

    def __init__(self, folder: Path, show: Callable[[str], None]) -> None:
        if not os.path.isdir(folder):
            raise UsageError(
                "There is no such folder.",
                mend="Name the folder with the recordings; --list shows their numbers.",
                slug="rehearse-from",
                where=str(folder),
            )
        self._show = show
        self._files: dict[int, Path] = {}
        for path in sorted(folder.iterdir()):
            number = re.match(r"0*(\d+)(?!\d)", path.name)
            if path.suffix.lower() == ".wav" and number:
                self._files.setdefault(int(number[1]), path)
        if not self._files:
            raise UsageError(
                "There is no recording named by a number.",
                mend="Name them 1.wav, 2.wav …; --list shows the phrases with their numbers.",
                slug="rehearse-from",
                where=str(folder),
            )

    def take(self, prompt: Prompt, of: int) -> bytes | None:
        path = self._files.get(prompt.number)
        if path is None:
            return None
        try:
            long_s = read_shape(path).seconds
            if long_s > LONGEST_TAKE_S:
                raise SoundFileError(
                    f"This recording lasts {long_s:.0f} s, and a phrase is over in a few. It is passed over.",
                    mend=f"Cut it down to its phrase, at most {LONGEST_TAKE_S:.0f} s with the silence around it.",
                    slug="sound-long",
                    where=str(path),
                )
            return read_wav(path)
        except BenchError as error:  # one bad recording keeps none of the others from being heard
            self._show(str(error))
            return None

    def close(self) -> None: ...


def make_endpointer() -> Endpointer:
    from bench_voice.audio.endpointer import SileroEndpointer

    return SileroEndpointer()


class Rehearsing:
    """Takes each phrase, keeps it, hears it, and shows what came of it."""

    def __init__(
        self, path: Path, sheet: JobSheet, language: Language, listener: Listener, folder: Path, is_json: bool
    ) -> None:
        self._path, self._sheet, self._language = path.resolve(), sheet, language
        self._listener, self._folder, self._is_json = listener, folder, is_json

    def all(self, rehearsal: Rehearsal, takes: Takes) -> tuple[Take, ...]:
        made: list[Take] = []
        try:
            for prompt in rehearsal.prompts:
                made.append(self._one(prompt, len(rehearsal.prompts), takes))
        except (Ended, KeyboardInterrupt):
            said = {take.prompt.number for take in made}
            made += [Take(p, Outcome.SKIPPED) for p in rehearsal.prompts if p.number not in said]
        return tuple(made)

    def _one(self, prompt: Prompt, of: int, takes: Takes) -> Take:
        pcm = takes.take(prompt, of)
        if pcm is None:
            take = Take(prompt, Outcome.SKIPPED)
            self._show(take, None)
            return take
        wav = self._folder / f"{prompt.number:03d}.wav"
        write_wav(wav, pcm)
        expected = Expected.at(self._sheet, self._sheet.steps[self._sheet.step_index(prompt.step)])
        try:
            heard, intent = hear_whole(WavSource(wav), make_endpointer(), self._listener, expected, str(wav))
        except SoundFileError as error:  # too much speech: kept for nobody, and none of the others is lost by it
            wav.unlink()
            print(error, file=sys.stderr, flush=True)
            take = Take(prompt, Outcome.SKIPPED)
            self._show(take, None)
            return take
        body = meaning.as_json(prompt.number, intent, expected, intent.heard)
        fields = expected_fields(prompt.wanted)
        found = outcome(body, fields)
        other = _other(found, intent, prompt)
        instead = Speaker(self._language).intent_words(other, expected) or other.heard if other else ""
        take = Take(
            prompt,
            found,
            tuple(self._ears(heard, prompt, expected)),
            instead,
            id_of(other) if other is not None else None,
            body["question"] or "",
        )
        line = {
            "id": prompt.number, "wav": wav.name, "sheet": str(self._path), "step": prompt.step,
            "words": prompt.words, "expect": fields, "was": found.value,
        }  # fmt: skip
        with (self._folder / LIST_NAME).open("a", encoding="utf-8") as out:
            out.write(json.dumps(line, ensure_ascii=False) + "\n")
        self._show(take, body | {"ears": [{"ear": ear.ear, "heard": ear.words} for ear in take.ears]})
        return take

    def _ears(self, heard: tuple[Heard, ...], prompt: Prompt, expected: Expected) -> Iterator[EarHeard]:
        is_alone = len({one.ear for one in heard}) == 1
        for one in heard:
            found = witness(one, expected, self._language, is_alone)
            words, meant = (one.words, found.intent) if found.free is None else (one.free_words, found.free)
            yield EarHeard(one.ear, words or "", meant.meaning() == prompt.wanted.meaning())

    def _show(self, take: Take, body: dict[str, Any] | None) -> None:
        if self._is_json:
            known = {"id": take.prompt.number, "words": take.prompt.words, "outcome": take.outcome.value}
            print(json.dumps((body or {}) | known, ensure_ascii=False), flush=True)
            return
        print("\n".join(report.take_lines(take)), flush=True)


def _other(found: Outcome, intent: Intent, prompt: Prompt) -> Intent | None:
    """What was taken or offered in its place."""
    if found is Outcome.WRONG:
        return intent
    offered = intent.offered if found is Outcome.ASKED and isinstance(intent, Question) else None
    return offered if offered is not None and offered.meaning() != prompt.wanted.meaning() else None


__all__ = ["LIST_NAME", "Ended", "FromFolder", "Rehearsing", "Takes"]
