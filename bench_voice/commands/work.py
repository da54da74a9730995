"""Wiring of one session: `bench-voice work`. Picks the sheet, the journal, the ears, the voice, and runs the loop."""

from __future__ import annotations

import argparse
import contextlib
import re
import sys
import time
from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

from bench_voice.config import Config
from bench_voice.core.cases import Ending
from bench_voice.core.events import Carried, ReadingsCarried, SessionDetails
from bench_voice.core.intents import Setting
from bench_voice.core.replies import Reply
from bench_voice.core.sheet import JobSheet
from bench_voice.core.state import State
from bench_voice.errors import BenchError, EngineError, JournalError, UsageError
from bench_voice.ports import AudioSource
from bench_voice.records.earlier import LeftOpen, at_start, left_open
from bench_voice.records.kept import kept_sheet, replayed
from bench_voice.records.known import earlier_taken
from bench_voice.records.sound import OFF, SoundKeeper
from bench_voice.session import journal as jn
from bench_voice.session.duplex import Duplex
from bench_voice.session.mouth import LiveMouth, Mouth
from bench_voice.session.owner import Owner
from bench_voice.speech.queries import AGAINST
from bench_voice.speech.understand import understand
from bench_voice.streams import typed_lines
from bench_voice.words.phrases import Language, load_language
from bench_voice.words.say import Speaker
from bench_voice.words.text import words
from bench_voice.words.wording import worded

if TYPE_CHECKING:
    from bench_voice.commands.work_live import LiveWork
    from bench_voice.session.live import Live
    from bench_voice.session.supervise import GuardedEars

SIGNED_OFF, LEFT_OPEN = 0, 10
_LAST_WORDS_S = 90.0


class WallClock:
    def now_ms(self) -> int:
        return time.time_ns() // 1_000_000


def read_sheet(path: Path) -> tuple[str, JobSheet]:
    """Text and sheet. Raises SheetError."""
    from bench_voice.sheets.load import load_text
    from bench_voice.sheets.yamltext import read_text

    text = read_text(path)
    return text, load_text(text, path.name)


def sheet_to_work_by(path: Path, folder: Path, is_new: bool) -> tuple[str, JobSheet]:
    """`read_sheet`; where the sheet has faults and an open session keeps an earlier text of it: no text, and the kept
    sheet. Whoever edits a sheet in mid job and slips does not lose the session by it."""
    from bench_voice.sheets.faults import SheetFaults
    from bench_voice.sheets.yamltext import read_text

    try:
        return read_sheet(path)
    except SheetFaults as faults:
        found = None
        if not is_new:
            with contextlib.suppress(BenchError):
                ids = _ids_in(read_text(path))
                found = jn.find_open(folder, *ids) if ids else None
        if found is None:
            raise
        print(faults, file=sys.stderr)
        return "", kept_sheet(found.header, found.path)


def _ids_in(text: str) -> tuple[str, str] | None:
    """Sheet and machine that a text names, also where it is no YAML any more."""
    sheet = re.search(r"^sheet:[ \t]*([^#\n]+)", text, re.MULTILINE)
    machine = re.search(r"^machine:[ \t]*(?:#.*)?\n(?:[ \t]+.*\n|\n)*?[ \t]+id:[ \t]*([^#\n]+)", text, re.MULTILINE)
    machine = machine or re.search(r"^machine:[ \t]*\{.*?\bid:[ \t]*([^,}\n]+)", text, re.MULTILINE)
    if sheet is None or machine is None:
        return None
    return sheet[1].strip().strip("\"'"), machine[1].strip().strip("\"'")


def carried_over(text: str, sheet: JobSheet, folder: Path) -> ReadingsCarried | None:
    """With --new: what stands in the open session of this job, where its sheet has been changed since."""
    try:
        found = jn.find_open(folder, sheet.id, sheet.machine_id)
    except JournalError:
        return None  # a damaged one is no reason not to start another
    if found is None or found.header["sheet_text"] == text:
        return None
    try:
        old = replayed(found)
    except JournalError:
        return None
    values = tuple(
        Carried(step, reading, number, point.value, point.unit, taken.stage)
        for (step, reading), taken in old.taken.items()
        for number, point in enumerate(taken.points)
    )
    return ReadingsCarried(found.path.name, values)


@dataclass(frozen=True)
class Back:
    """How a session comes back. `is_changed`: its sheet was edited meanwhile; `torn_bytes`: cut off of its end."""

    is_changed: bool
    torn_bytes: int | None


def open_session(
    args: argparse.Namespace, text: str, sheet: JobSheet, folder: Path, clock: WallClock, lock: jn.SessionLock
) -> tuple[State, jn.JournalWriter, Back | None]:
    """State, writer, and how the session comes back; None where it is a new one. `lock`: held already."""
    found = None if args.new else jn.find_open(folder, sheet.id, sheet.machine_id, _print_passed_over)
    if found is None:
        if not text:  # the session that kept the sheet has ended meanwhile
            text, sheet = read_sheet(Path(args.sheet))
        name = jn.new_name(folder, sheet.id, sheet.machine_id, clock.now_ms())
        return State(sheet), jn.JournalWriter.create(folder, name, text, sheet, lock), None
    old_text = found.header["sheet_text"]
    is_changed = old_text != text
    state = replayed(found) if is_changed else jn.replay(sheet, found.lines, found.path)
    writer = jn.JournalWriter.reopen(found, lock)
    if found.torn:
        print(
            f"{found.path.name}: its end was torn ({len(found.torn)} bytes), so what was said last is not in it; it is "
            f"kept in {found.path.with_suffix('.torn').name}. [journal-torn]",
            file=sys.stderr,
        )
    if is_changed:
        print(
            f"{args.sheet}: the sheet has been changed since this session began. Going on with the text kept in the "
            "journal. To start anew, with the readings carried over into the record: --new. [sheet-changed]",
            file=sys.stderr,
        )
    return state, writer, Back(is_changed, len(found.torn) or None)


def _print_passed_over(error: BenchError) -> None:
    print(
        f"{error.where}: {error.what} It is passed over; what that session left open is not known. Take a copy from a "
        "backup, or keep it elsewhere. [journal-passed-over]",
        file=sys.stderr,
    )


def _print_problem(text: str) -> None:
    print(text, file=sys.stderr, flush=True)


def _ask_who() -> str:
    """Asked once, where there is somebody at a terminal to answer; kept beside loudness and speed."""
    from bench_voice import config as settings

    known = settings.load_kept().who
    if known is None and sys.stdin.isatty() and sys.stderr.isatty():
        print("Who works here? It is written into the records; Enter for nobody: ", end="", file=sys.stderr, flush=True)
        known = sys.stdin.readline().strip()
        settings.keep(who=known)
    return known or ""


def details(args: argparse.Namespace, config: Config, sheet: JobSheet) -> tuple[SessionDetails, ...]:
    """Who, the machine's marks, its distance or hours where they were given, the zone. Raises UsageError [work-at]."""
    from bench_voice.records.moments import zone_here
    from bench_voice.words.quantities import read_quantity

    at, unit = None, ""
    if args.at:
        found = [
            one
            for one in read_quantity(words(args.at), load_language("en"))
            if one.unit in AGAINST and one.number.is_sure
        ]
        if len(found) != 1:
            raise UsageError(
                f'--at "{args.at}" is no distance and no hours.', mend='Write it as "4200 km".', slug="work-at"
            )
        at, unit = found[0].number.value, found[0].unit or ""
    who = next((one for one in (args.who, config.who) if one is not None), None)
    if who is None:
        who = _ask_who()
    return (SessionDetails(who or "", sheet.machine_marks, zone_here(), at, unit),)


def make_mouth(args: argparse.Namespace, config: Config) -> Mouth | LiveMouth:
    """The spoken side of a recording or of typed lines: into a file, to the loudspeaker, or only printed where there is
    no voice or no loudspeaker."""

    def show(text: str) -> None:
        print(f"bench: {text}", flush=True)

    if args.say_to:
        from bench_voice.audio import factory
        from bench_voice.audio.said_file import SaidFile

        file = SaidFile(Path(args.say_to))  # before the voice is started
        return Mouth(show, factory.make_voice(config.speed), file)
    if args.mute:
        return Mouth(show)
    from bench_voice.audio import factory
    from bench_voice.audio.player import Player

    try:
        player = Player(config.loudspeaker, loudness_db=config.loudness)
        player.start()
        voice = factory.make_voice(config.speed)
    except EngineError as error:
        print(f"{error} Going on without sound.", file=sys.stderr)
        return Mouth(show)
    return LiveMouth(show, voice, player, Duplex(), make_voice=lambda: factory.make_voice(config.speed))


def run(args: argparse.Namespace, config: Config) -> int:
    """One session. Returns the exit code."""
    folder = Path(args.journal) if args.journal else config.journal
    text, sheet = sheet_to_work_by(Path(args.sheet), folder, args.new)
    # Before anything is read: what another process writes between reading and locking would be passed over.
    lock = jn.SessionLock.take(folder, jn.session_stem(sheet.id, sheet.machine_id))
    try:
        return _session(args, config, text, sheet, folder, lock)
    finally:
        lock.release()


def _session(
    args: argparse.Namespace, config: Config, text: str, sheet: JobSheet, folder: Path, lock: jn.SessionLock
) -> int:
    clock = WallClock()
    carried = carried_over(text, sheet, folder) if args.new else None
    # Before the journal is opened: a fault in the person's file stops here, and this session is no history of its own.
    told = details(args, config, sheet)
    known = (*at_start(sheet, folder, clock.now_ms()), *earlier_taken(sheet, folder), *told)
    state, writer, back = open_session(args, text, sheet, folder, clock, lock)
    listener = None
    mouth: Mouth | LiveMouth | None = None
    parts: LiveWork | None = None
    live: Live | None = None
    try:
        language = load_language(state.sheet.language)
        left = LeftOpen()
        if back is None:
            left = left_open(state, folder, writer.path, language, _print_passed_over)
        if args.listen:

            def on_left_out(line: str) -> None:
                print(line, file=sys.stderr, flush=True)
                if mouth is not None:
                    mouth.say(worded(Speaker(language), (Reply("ear-left-out"),)))

            listener, source = _start_ears(args, config, language, on_left_out)
        elif not args.typed:
            parts = start_live(args, config, language)
        mouth = parts.mouth if parts else make_mouth(args, config)
        mouth.respell = state.sheet.for_voice
        owner = Owner(state, writer, Speaker(language), clock, mouth.say)
        if config.keep_sound != OFF:
            owner.keep_sound = SoundKeeper(writer.path, config.keep_sound, on_problem=_print_problem).keep
        if parts:
            live = parts.wire(owner)
            if parts.has_check:
                live.check()
        try:
            if back is None:
                owner.begin(carried, (*known, *left.taken), left.said)
            else:
                owner.resume(back.is_changed, back.torn_bytes)
            if args.typed:
                _typed(owner, language)
            elif live and parts:
                if not live.run():
                    parts.give_back_keys()
                    _typed(owner, language)
            else:
                _listen(args, owner, listener, source)
        except JournalError:
            # Whoever has both hands on the wheel does not read standard error. A disk that is full may take no sound.
            with contextlib.suppress(BenchError, OSError):
                mouth.say(worded(Speaker(language), (Reply("not-written" if writer.n_events else "not-begun"),)))
                mouth.wait_quiet(_LAST_WORDS_S)
            raise
        mouth.wait_quiet(_LAST_WORDS_S)
        if owner.state.ended:
            # To be written down or kept elsewhere: who has it can tell later whether the journal was cut or rewritten.
            print(f"journal: {writer.path.name}, {writer.n_events} events, last hash {writer.last_hash}", flush=True)
        return SIGNED_OFF if owner.state.ended is Ending.SIGNED_OFF else LEFT_OPEN
    finally:
        writer.close()
        if parts is not None:
            parts.close()
        elif mouth is not None:
            mouth.close()
        if listener is not None:
            listener.close()


def _start_ears(
    args: argparse.Namespace, config: Config, language: Language, on_left_out: Callable[[str], None]
) -> tuple[GuardedEars, AudioSource]:
    """A recording is checked before anything is said."""
    from bench_voice.commands.listening import make_listener
    from bench_voice.session.supervise import GuardedEars

    source: AudioSource
    if args.listen == "-":
        from bench_voice.audio.stream import StreamSource

        source = StreamSource(sys.stdin.buffer)
    else:
        from bench_voice.audio.wav import WavSource

        source = WavSource(Path(args.listen))

    def on_restart(why: str) -> None:
        print(why, file=sys.stderr, flush=True)

    # Nobody says again what stands in a recording: what was lost with an ear is heard by those that are left.
    make = partial(make_listener, args.engine, config, language)
    return GuardedEars(make, on_restart, on_left_out, hears_again=True), source


def start_live(args: argparse.Namespace, config: Config, language: Any) -> LiveWork:
    """Microphone, loudspeaker, keys. Raises what cannot be had, before anything is said."""
    from bench_voice.commands.work_live import LiveWork

    return LiveWork(args, config, language)


def _typed(owner: Owner, language: Any) -> None:
    lines = typed_lines()
    while not owner.state.ended and (line := next(lines, None)) is not None:
        words = line.strip()
        if not words:
            continue
        owner.tick()
        print(f"you: {words}", flush=True)
        intent = understand(words, owner.state.expected(), language)
        # There is no loudspeaker to set and no microphone to check where somebody types.
        owner.take(replace(intent, is_at_end=True) if isinstance(intent, Setting) else intent)


def _listen(args: argparse.Namespace, owner: Owner, listener: Any, source: AudioSource) -> None:
    """A recording: as fast as the ears decode."""
    from bench_voice.audio.endpointer import SileroEndpointer
    from bench_voice.session.listen import utterances

    def ready() -> None:
        if args.turns:
            print("ready", file=sys.stderr, flush=True)

    ready()
    try:
        for utterance in utterances(source, SileroEndpointer(), lambda: not owner.state.ended):
            owner.tick()
            expected = owner.state.expected()
            heard = listener.hear(utterance, expected)
            intent = listener.meaning(heard, expected)
            if args.explain:
                print(f"ears: {[(one.ear, one.words, one.free_words) for one in heard]}", file=sys.stderr, flush=True)
            if intent is not None:
                print(f"you: {intent.heard}", flush=True)
                taken = replace(intent, is_at_end=True) if isinstance(intent, Setting) else intent
                owner.take(taken, utterance.pcm)
            elif args.turns:
                print("talk", file=sys.stderr, flush=True)
            if not owner.state.ended:
                ready()
    finally:
        source.close()
