"""`bench-voice rehearse`: the sheet's phrases said once, what the ears make of them, and the recordings kept.

Every phrase is written to a file first and heard from there, by the same way as `bench-voice hear`: what was heard at
the rehearsal is what `hear --list` hears afterwards, as long as nothing else was changed.
"""

from __future__ import annotations

import argparse
import json
import os
import re
import sys
from collections.abc import Callable, Iterator
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path
from typing import Any, Protocol

from bench_voice.audio.wav import WavSource, read_shape, read_wav, write_wav
from bench_voice.commands.listening import make_listener
from bench_voice.config import Config
from bench_voice.core.intents import Expected, Intent, Question, id_of
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import BenchError, EngineError, SoundFileError, UsageError
from bench_voice.hearing.witness import witness
from bench_voice.ports import Endpointer, Heard
from bench_voice.rehearsal import report
from bench_voice.rehearsal.prompts import EarHeard, Prompt, Rehearsal, Take, prompts
from bench_voice.session import meaning
from bench_voice.session.listen import Listener
from bench_voice.session.outcomes import Outcome, expected_fields, outcome
from bench_voice.session.whole import hear_whole
from bench_voice.words.phrases import Language, load_language
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


def run(args: argparse.Namespace, config: Config) -> int:
    """0: every phrase that was said was heard right. 1: some were not. Raises UsageError, SheetError, EngineError."""
    from bench_voice.sheets.load import load_sheet

    sheet = load_sheet(Path(args.sheet))
    language = load_language(sheet.language)
    rehearsal = prompts(sheet, language)
    if args.only:
        rehearsal = _only(rehearsal, args.only)
    if args.list:
        _list(rehearsal, args.json)
        return 0
    folder = _folder(args, config, sheet)
    listener: Listener | None = None
    takes: Takes | None = None
    try:
        takes = make_takes(args, config, sheet)
        listener = make_listener(args.engine, config, language)
        made = Rehearsing(Path(args.sheet), sheet, language, listener, folder, args.json).all(rehearsal, takes)
    finally:
        if takes is not None:
            takes.close()
        if listener is not None:
            listener.close()
        with suppress(OSError):
            folder.rmdir()  # where nothing was kept
    if all(take.outcome is Outcome.SKIPPED for take in made):
        raise UsageError(
            "Nothing was said, so nothing can be told.",
            mend="Read the phrases, or give recordings of them with --from DIR.",
            slug="rehearse-nothing",
        )
    shown = report.of(made, rehearsal, sheet, language, config.pronunciations)
    if args.json:
        print(json.dumps({"summary": shown.as_json(), "list": str(folder / LIST_NAME)}, ensure_ascii=False))
    else:
        print("\n".join(shown.lines()))
        print(f"Your recordings: {folder}\nAfter a change: bench-voice hear --list {folder / LIST_NAME}")
    good = (Outcome.RIGHT, Outcome.SKIPPED)
    return 0 if all(take.outcome in good for take in made) else 1


def _only(rehearsal: Rehearsal, numbers: str) -> Rehearsal:
    """The phrases of "3,7-9", their numbers as they were."""
    wanted: set[int] = set()
    last = rehearsal.prompts[-1].number
    for part in numbers.split(","):
        found = re.fullmatch(r"\s*(\d{1,4})(?:-(\d{1,4}))?\s*", part)
        first, end = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
        if not 1 <= first <= end <= last:
            raise UsageError(
                f'"{part.strip()}" is no number of a phrase.',
                mend=f"Write numbers from 1 to {last}, such as 3,7-9; --list shows them.",
                slug="rehearse-only",
            )
        wanted.update(range(first, end + 1))
    return Rehearsal(tuple(prompt for prompt in rehearsal.prompts if prompt.number in wanted))


def _list(rehearsal: Rehearsal, is_json: bool) -> None:
    for prompt in rehearsal.prompts:
        if is_json:
            print(json.dumps({"id": prompt.number, "words": prompt.words, "step": prompt.step}, ensure_ascii=False))
        else:
            print(f"{prompt.number:3d}  {prompt.words}")
    for name in rehearsal.left_out:
        print(f'No phrase could be made for "{name}".', file=sys.stderr)


def _folder(args: argparse.Namespace, config: Config, sheet: JobSheet) -> Path:
    """Where this rehearsal is kept: a folder that is new or empty, so that none overwrites another."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    folder = Path(args.out) if args.out else config.journal.parent / "rehearsals" / f"{sheet.id}--{stamp}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_empty = not any(folder.iterdir())
    except OSError as error:
        raise UsageError(
            f"The folder cannot be made ({error.strerror}).",
            mend="Choose another --out.",
            slug="rehearse-out",
            where=str(folder),
        ) from error
    if not is_empty:
        raise UsageError(
            "There is something in this folder already.",
            mend="Choose another --out: no rehearsal overwrites another.",
            slug="rehearse-out",
            where=str(folder),
        )
    return folder


def make_endpointer() -> Endpointer:
    from bench_voice.audio.endpointer import SileroEndpointer

    return SileroEndpointer()


def make_takes(args: argparse.Namespace, config: Config, sheet: JobSheet) -> Takes:
    def show(text: str) -> None:
        print(text, file=sys.stderr if args.json else sys.stdout, flush=True)

    if args.from_:
        return FromFolder(Path(args.from_), show)
    from bench_voice.rehearsal.live import open_live

    try:
        return open_live(config, sheet, show, is_mute=args.mute)
    except EngineError as error:
        raise EngineError(
            error.what,
            mend="bench-voice doctor shows how to mend it. Or record the phrases elsewhere (--list shows them) and "
            "give them with --from DIR.",
            slug=error.slug,
            where=error.where,
        ) from error


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


__all__ = ["Ended", "FromFolder", "Rehearsing", "Takes", "run"]
