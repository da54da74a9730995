"""Wiring of one session: `bench-voice work`. Picks the sheet, the journal, the ears, the voice, and runs the loop."""

from __future__ import annotations

import argparse
import re
import sys
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from bench_voice.config import Config
from bench_voice.core.events import Carried, ReadingsCarried
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import EngineError, JournalError
from bench_voice.known import at_start
from bench_voice.ports import RATE_HZ, AudioSource
from bench_voice.session import journal as jn
from bench_voice.session.owner import Owner
from bench_voice.speech.phrases import load_language
from bench_voice.speech.say import Speaker
from bench_voice.speech.understand import understand

SIGNED_OFF, LEFT_OPEN = 0, 10
# Silence between two sentences of a turn.
_GAP = b"\0\0" * (RATE_HZ // 6)


class WallClock:
    def now_ms(self) -> int:
        return time.time_ns() // 1_000_000


@dataclass
class Mouth:
    """Prints each turn, then speaks it: to a file, to the loudspeaker, or not at all.

    `has_spoken`: sound went out since this was last set to False; the microphone heard it too.
    """

    player: Any = None
    keep: Any = None
    voice: Any = None
    has_spoken: bool = False

    def say(self, sentences: tuple[str, ...]) -> None:
        if not sentences:
            return
        print("bench: " + " ".join(sentences), flush=True)
        if self.voice is None:
            return
        for sentence in sentences:
            pcm = self.voice.speak(sentence) + _GAP
            if self.keep is not None:
                self.keep.write(pcm)
            if self.player is not None:
                self.has_spoken = True
                self.player.play(pcm)

    def close(self) -> None:
        if self.keep is not None:
            self.keep.close()
        if self.player is not None:
            self.player.close()
        if self.voice is not None:
            self.voice.close()


class SoundFile:
    """The spoken side as a growing WAV whose header is right after every sentence."""

    def __init__(self, path: Path) -> None:
        import wave

        try:
            self._file = path.open("wb")
        except OSError as error:
            raise EngineError(
                f"The sound file cannot be written ({error.strerror}).",
                mend="Give --say-to a file in a folder that can be written.",
                slug="say-to-unwritable",
                where=str(path),
            ) from error
        self._wave = wave.open(self._file, "wb")  # noqa: SIM115 (closed in close)
        self._wave.setnchannels(1)
        self._wave.setsampwidth(2)
        self._wave.setframerate(RATE_HZ)

    def write(self, pcm: bytes) -> None:
        self._wave.writeframes(pcm)
        self._file.flush()

    def close(self) -> None:
        self._wave.close()
        self._file.close()


class StreamSource:
    """Raw 16 kHz mono s16le from standard input, as it comes."""

    def frames(self) -> Iterator[bytes]:
        stream = sys.stdin.buffer
        while frame := stream.read(640):
            yield frame.ljust(640, b"\0")

    def close(self) -> None:
        return


def _slug(text: str) -> str:
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-") or "x"


def read_sheet(path: Path) -> tuple[str, JobSheet]:
    """Text and sheet. Raises SheetError."""
    from bench_voice.sheets.load import load_text
    from bench_voice.sheets.yamltext import read_text

    text = read_text(path)
    return text, load_text(text, path.name)


def carried_over(text: str, sheet: JobSheet, folder: Path) -> ReadingsCarried | None:
    """With --new: what stands in the open session of this job, where its sheet has been changed since."""
    try:
        found = jn.find_open(folder, sheet.id, sheet.machine_id)
    except JournalError:
        return None  # a damaged one is no reason not to start another
    if found is None or found.header["sheet_text"] == text:
        return None
    from bench_voice.sheets.load import load_text

    old = jn.replay(load_text(found.header["sheet_text"], found.path.name), found.lines)
    values = tuple(
        Carried(step, reading, number, point.value, point.unit, taken.stage)
        for (step, reading), taken in old.taken.items()
        for number, point in enumerate(taken.points)
    )
    return ReadingsCarried(found.path.name, values)


def open_session(
    args: argparse.Namespace, text: str, sheet: JobSheet, folder: Path, clock: WallClock
) -> tuple[State, jn.JournalWriter, str]:
    """State, writer, and how: "new", "resumed" or "resumed-changed" (the sheet was edited meanwhile)."""
    from bench_voice.sheets.load import load_text

    found = None if args.new else jn.find_open(folder, sheet.id, sheet.machine_id)
    if found is None:
        stamp = datetime.fromtimestamp(clock.now_ms() / 1000, UTC).strftime("%Y%m%dT%H%M%S%fZ")
        name = f"{_slug(sheet.id)}--{_slug(sheet.machine_id)}--{stamp}"
        return State(sheet), jn.JournalWriter.create(folder, name, text, sheet, clock.now_ms()), "new"
    old_text = found.header["sheet_text"]
    is_changed = old_text != text
    old = load_text(old_text, f"the sheet kept in {found.path.name}") if is_changed else sheet
    state = jn.replay(old, found.lines)
    writer = jn.JournalWriter.reopen(found)
    if found.torn:
        print(
            f"{found.path.name}: its last line was torn ({len(found.torn)} bytes); it is kept in "
            f"{found.path.with_suffix('.torn').name}. [journal-torn]",
            file=sys.stderr,
        )
    if is_changed:
        print(
            f"{args.sheet}: the sheet has been changed since this session began. Going on with the text kept in the "
            "journal. To start anew, with the readings carried over into the record: --new. [sheet-changed]",
            file=sys.stderr,
        )
    if not found.lines:
        return state, writer, "new"
    return state, writer, "resumed-changed" if is_changed else "resumed"


def make_mouth(args: argparse.Namespace, config: Config) -> Mouth:
    """The spoken side that was asked for. Live work needs a loudspeaker; a recording or typed lines go on without."""
    mouth = Mouth()
    keep = SoundFile(Path(args.say_to)) if args.say_to else None
    if args.mute and keep is None:
        return mouth
    from bench_voice.audio import factory

    mouth.keep = keep
    is_live = not args.typed and not args.listen
    try:
        mouth.voice = factory.make_voice()
        if not args.mute and keep is None:
            from bench_voice.audio.player import Player

            mouth.player = Player(config.loudspeaker)
    except EngineError as error:
        if is_live or keep is not None:
            raise
        mouth.voice = None
        print(f"{error} Going on without sound.", file=sys.stderr)
    return mouth


def run(args: argparse.Namespace, config: Config) -> int:
    """One session. Returns the exit code."""
    clock = WallClock()
    folder = Path(args.journal) if args.journal else config.journal
    text, sheet = read_sheet(Path(args.sheet))
    carried = carried_over(text, sheet, folder) if args.new else None
    # Before the journal is opened: a fault in the person's file stops here, and this session is no history of its own.
    known = at_start(sheet, folder, clock.now_ms())
    state, writer, how = open_session(args, text, sheet, folder, clock)
    listener = None
    mouth = None
    try:
        language = load_language(state.sheet.language)
        if not args.typed:
            listener, source = _start_ears(args, config, language)
        mouth = make_mouth(args, config)
        owner = Owner(state, writer, Speaker(language), clock, mouth.say)
        owner.begin(carried, known) if how == "new" else owner.resume(how == "resumed-changed")
        if args.typed:
            _typed(owner, language)
        else:
            _listen(args, owner, listener, source, mouth)
        return SIGNED_OFF if owner.state.ended == "signed-off" else LEFT_OPEN
    finally:
        writer.close()
        if mouth is not None:
            mouth.close()
        if listener is not None:
            listener.close()


def _start_ears(args: argparse.Namespace, config: Config, language: Any) -> tuple[Any, AudioSource]:
    """Ears load while the first step is read out; a recording is checked before anything is said."""
    from bench_voice.audio import factory
    from bench_voice.audio.ears import Ears
    from bench_voice.session.listen import Listener

    source: AudioSource
    if args.listen == "-":
        source = StreamSource()
    elif args.listen:
        from bench_voice.audio.wav import WavSource

        source = WavSource(Path(args.listen))
    else:
        from bench_voice.audio.microphone import Microphone

        source = Microphone(config.microphone)
    names = [args.engine] if args.engine else (list(config.ears) if config.ears else None)
    return Listener(Ears(factory.make_ears(names, language)), language), source


def _typed(owner: Owner, language: Any) -> None:
    while not owner.state.ended:
        line = sys.stdin.readline()
        if not line:
            return
        words = line.strip()
        if not words:
            continue
        owner.tick()
        print(f"you: {words}", flush=True)
        owner.take(understand(words, owner.state.expected(), language))


def _listen(args: argparse.Namespace, owner: Owner, listener: Any, source: AudioSource, mouth: Mouth) -> None:
    from bench_voice.audio.endpointer import SileroEndpointer
    from bench_voice.session.listen import utterances

    def ready() -> None:
        if args.turns:
            print("ready", file=sys.stderr, flush=True)

    ready()
    endpointer = SileroEndpointer()
    is_live = not args.listen
    frames = _Half(source, mouth, owner) if is_live else source
    try:
        for utterance in utterances(frames, endpointer, lambda: not owner.state.ended):
            owner.tick()
            expected = owner.state.expected()
            heard = listener.hear(utterance, expected)
            intent = listener.meaning(heard, expected)
            if args.explain:
                print(f"ears: {[(one.ear, one.words, one.free_words) for one in heard]}", file=sys.stderr, flush=True)
            if intent is not None:
                print(f"you: {intent.heard}", flush=True)
                owner.take(intent)
            elif args.turns:
                print("talk", file=sys.stderr, flush=True)
            if not owner.state.ended:
                ready()
    finally:
        source.close()


class _Half:
    """Half duplex: what the microphone took while the assistant spoke is thrown away, and a short tail after it."""

    TAIL_FRAMES = 15  # of 20 ms

    def __init__(self, source: Any, mouth: Mouth, owner: Owner) -> None:
        self._source, self._mouth, self._owner = source, mouth, owner

    def frames(self) -> Iterator[bytes]:
        tail = 0
        for count, frame in enumerate(self._source.frames()):
            if count % 50 == 0:
                self._owner.tick()
            if self._mouth.has_spoken:
                self._mouth.has_spoken = False
                self._source.drain()
                tail = self.TAIL_FRAMES
            elif tail:
                tail -= 1
            yield frame if not tail else b"\0" * len(frame)

    def close(self) -> None:
        self._source.close()
