"""The live loop: frames in, one decision an utterance, words out; keys, faults and the sound check in between.

One thread owns the session and listens; the mouth speaks in its own. What goes wrong with the sound is said or shown at
once, from the thread that noticed it; the session stays where it is.
"""

from __future__ import annotations

import sys
import threading
import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any, Protocol

from bench_voice.core import replies
from bench_voice.core.intents import Intent, Kind, Setting
from bench_voice.core.replies import Quantity, Reply
from bench_voice.core.state import Phase
from bench_voice.ports import AudioSource, Heard, Utterance
from bench_voice.session.ahead import Ahead, Pausing
from bench_voice.session.console import Console, View
from bench_voice.session.duplex import Duplex
from bench_voice.session.listen import best_words
from bench_voice.session.modes import CallWord, Mode, PushToTalk
from bench_voice.session.mouth import LiveMouth
from bench_voice.session.owner import Owner
from bench_voice.session.soundcheck import SILENT_DB, CheckStep, Floored, SoundCheck, advice, level_db
from bench_voice.session.supervise import EarsLost, GuardedEars, SleepWatch
from bench_voice.words.say import Speaker
from bench_voice.words.wording import worded

FRAME_MS = 20
_TICK_FRAMES = 50  # 1 s
_VIEW_FRAMES = 10
_UNHEARD = 3  # "Say again?" so often in a row: then it says what may help
_BARGE_IN_FRAMES = 15  # of speech, and the assistant stops
_LAST_WORDS_S = 90.0
_OVERFLOW_EVERY_S = 60.0
_DEFAULT_EVERY_S = 1.5


class LiveSource(AudioSource, Protocol):
    """`audio.microphone.Microphone`: knows when its last frame was captured, and can be opened anew."""

    captured_s: float

    @property
    def is_open(self) -> bool: ...
    def reopen(self) -> None: ...


class LiveEndpointer(Pausing, Floored, Protocol):
    """`audio.endpointer.SileroEndpointer`: tells of pauses, and can be told of a room that talks."""


class Volume(Protocol):
    """What the spoken settings change: one step up or down; False where it goes no further."""

    def louder(self, up: bool) -> bool: ...
    def faster(self, up: bool) -> bool: ...


@dataclass
class Wiring:
    """What a live session is made of."""

    owner: Owner
    speaker: Speaker
    ears: GuardedEars
    source: LiveSource
    endpointer: LiveEndpointer
    mouth: LiveMouth
    duplex: Duplex
    console: Console
    volume: Volume
    tones: Mapping[str, bytes]
    mode: Mode = Mode.OPEN
    call: CallWord | None = None
    reopen_output: Callable[[], None] = lambda: None
    keep_floor: Callable[[float], None] = lambda floor_db: None
    on_turn: Callable[[str], None] = lambda what: None
    explain: bool = False
    sleep: SleepWatch | None = None
    clock: Callable[[], float] = time.monotonic


class Live:
    """`run` until the job has ended (True), or until only typing is left (False). `key`, `sound` from any thread."""

    def __init__(self, wiring: Wiring) -> None:
        self._w = wiring
        self._ahead = Ahead(wiring.ears, wiring.endpointer, self._for_us)
        self._talk = PushToTalk()
        self._was_talking = False
        self._check: SoundCheck | None = None
        self._is_typing_left = threading.Event()
        self._heard = ""
        self._unheard = 0  # sentences in a row that were not understood
        self._fed_ms = 0  # of sound given to the endpointer: the time that its utterances are in
        self._level_db = SILENT_DB
        self._state = "listening"
        self._barge_frames = 0
        self._overflow_said_s = self._default_said_s = float("-inf")
        self._has_begun = False
        self.floor_db: float | None = None

    # -- from other threads

    def key(self, sign: str, is_press: bool) -> None:
        """Any key stops what is being said; `r` says the last turn again; else it is the key to talk."""
        if not is_press:
            self._talk.release(self._w.clock())
        elif sign in ("r", "R"):
            self._w.mouth.stop()
            self._w.mouth.repeat()
        else:
            is_stopped = self._w.mouth.stop()
            if self._w.mode is Mode.PUSH_TO_TALK and not (is_stopped and self._talk.is_open(self._w.clock())):
                self._talk.press(self._w.clock())

    def microphone_changed(self, change: str, detail: str) -> None:
        """`change`: of `audio.link.Change`."""
        if change == "overflow":
            now = self._w.clock()
            if now - self._overflow_said_s < _OVERFLOW_EVERY_S:
                return
            self._overflow_said_s = now
        key = {"flat": "mic-stuck" if detail == "stuck" else "mic-flat"}.get(change, f"mic-{change}")
        self.announce(key, is_asked_again=change in ("back", "sound"))
        if detail and change == "lost":
            self._note(detail)

    def loudspeaker_changed(self, change: str, detail: str) -> None:
        if change == "lost":  # shown: there is nothing to say it with
            self._w.mouth.show(worded(self._w.speaker, (Reply("speaker-lost"),))[0])
            self._note(detail)
        elif change == "back":
            self.announce("speaker-back")

    def voice_failed(self, error: Exception) -> None:
        self._note(str(error))
        self.announce("voice-restarted")

    def voice_lost(self, error: Exception) -> None:
        self._note(str(error))
        self.announce("voice-lost")
        self._is_typing_left.set()

    def default_changed(self) -> None:
        self._w.source.reopen()
        self._w.reopen_output()
        now = self._w.clock()
        # Microphone and loudspeaker change one after the other.
        if now - self._default_said_s >= _DEFAULT_EVERY_S:
            self.announce("device-changed")
        self._default_said_s = now

    def announce(self, key: str, *, is_asked_again: bool = False, **fields: Any) -> None:
        """Says and shows a sentence of the wording; with what the step wants, where the person may have lost it."""
        wanted = self._wanted() if is_asked_again else ()
        self._w.mouth.notice(worded(self._w.speaker, (Reply(key, fields), *wanted)), key.partition("-")[0])

    def _wanted(self) -> replies.Replies:
        """What the step wants, once the session has begun."""
        return replies.prompt(self._w.owner.state) if self._has_begun else ()

    def _note(self, text: str) -> None:
        print(text, file=sys.stderr, flush=True)

    def close(self) -> None:
        """After `run`."""
        self._ahead.close()

    # -- the loop

    def check(self) -> None:
        """The sound check by itself, before the session begins."""
        self._start_check()
        for frame in self._w.source.frames():
            self._frame(frame, self._w.source.captured_s)
            if self._check is None or self._is_typing_left.is_set():
                return

    def run(self) -> bool:
        w = self._w
        self._has_begun = True
        w.on_turn("ready")
        try:
            for count, frame in enumerate(w.source.frames()):
                if w.owner.state.ended or self._is_typing_left.is_set():
                    break
                if count % _TICK_FRAMES == 0:
                    self._second()
                if count % _VIEW_FRAMES == 0:
                    self._show(frame)
                self._frame(frame, w.source.captured_s)
        except EarsLost as error:
            self._note(str(error))
            self.announce("ears-lost")
            self._is_typing_left.set()
        if not w.owner.state.ended and self._is_typing_left.is_set():
            return False
        w.mouth.wait_quiet(_LAST_WORDS_S)
        return True

    def _second(self) -> None:
        w = self._w
        w.owner.tick()
        w.ears.tick()
        slept_s = w.sleep.slept_s() if w.sleep else 0.0
        if slept_s:
            w.source.reopen()
            w.reopen_output()
            minutes = max(1, round(slept_s / 60))
            self.announce("slept", is_asked_again=True, quantity=Quantity(Decimal(minutes), "min"))

    def _frame(self, frame: bytes, captured_s: float) -> None:
        w = self._w
        may_hear = w.duplex.is_for_us(captured_s)
        if self._check is not None:
            if may_hear and not w.mouth.is_busy:
                self._fed_ms += FRAME_MS
                self._checked(self._check.feed(frame))
            return
        if w.mode is Mode.PUSH_TO_TALK:
            is_talking = self._talk.is_open(captured_s)
            ended = w.endpointer.flush() if self._was_talking and not is_talking else None
            self._was_talking = is_talking
            may_hear = may_hear and is_talking
            if ended is not None:
                self._utterance(ended)
        self._fed_ms += FRAME_MS
        found = w.endpointer.feed(frame if may_hear else bytes(len(frame)))
        if found is None and getattr(w.endpointer, "is_speaking", True):
            self._ahead.frame(w.owner.state.expected())
        if w.duplex.is_echo_free:
            self._barge_in()
        if found is not None:
            self._utterance(found)

    def _barge_in(self) -> None:
        """Only where it cannot hear itself: the person's voice stops the assistant's."""
        is_over = getattr(self._w.endpointer, "is_speaking", False) and self._w.mouth.is_busy
        self._barge_frames = self._barge_frames + 1 if is_over else 0
        if self._barge_frames == _BARGE_IN_FRAMES:
            self._w.mouth.stop()

    def _utterance(self, utterance: Utterance) -> None:
        w = self._w
        self._state = "thinking"
        w.owner.tick()
        expected = w.owner.state.expected()
        if w.call is not None:
            w.call.tick(w.clock())
        elif not self._ahead.is_heard(utterance, expected):
            w.mouth.tone(w.tones["heard"])
        begun_s = w.clock()
        heard = self._ahead.hear(utterance, expected)
        heard_s = w.clock()
        if w.explain:
            self._note(f"ears: {[(one.ear, one.words, one.free_words) for one in heard]}")
        self._heard = best_words(heard) or self._heard
        heard = self._addressed(heard)
        intent = w.ears.meaning(heard, expected) if heard else None
        if intent is None:
            w.on_turn("talk")
        else:
            self._take(intent, utterance.pcm)
        if w.explain:
            waited_s = begun_s - (w.source.captured_s - (self._fed_ms - utterance.end_ms) / 1000)
            parts = {"endpoint": waited_s, "decode": heard_s - begun_s, "decide": w.clock() - heard_s}
            self._note("times: " + " ".join(f"{name} {1000 * part:.0f}" for name, part in parts.items()))
        self._state = "listening"
        if not w.owner.state.ended:
            w.on_turn("ready")

    def _for_us(self, heard: tuple[Heard, ...]) -> tuple[Heard, ...]:
        return self._w.call.peek(heard, self._w.clock()) if self._w.call else heard

    def _addressed(self, heard: tuple[Heard, ...]) -> tuple[Heard, ...]:
        """What is left of it for us: nothing where the call word was not said."""
        if self._w.call is None:
            return heard
        found = self._w.call.take(heard, self._w.clock())
        if not found.is_for_us:
            return ()
        self._w.mouth.tone(self._w.tones["called" if found.is_bare else "heard"])
        return () if found.is_bare else found.heard

    def _take(self, intent: Intent, sound: bytes = b"") -> None:
        w = self._w
        w.console.line("you", intent.heard)
        phase = w.owner.state.phase()
        is_awake = phase not in (Phase.STAND_BY, Phase.ENDED)
        if intent.kind is Kind.UNKNOWN and is_awake:
            w.mouth.tone(w.tones["again"])
        if intent.kind is Kind.REPEAT and is_awake and w.mouth.repeat(only_stopped=True):
            return
        if isinstance(intent, Setting) and is_awake:
            intent = self._set(intent)
        w.owner.take(intent, sound)
        if intent.kind is Kind.SOUND_CHECK and is_awake:
            self._start_check()
        self._unheard = self._unheard + 1 if intent.kind is Kind.UNKNOWN and is_awake else 0
        if self._unheard == _UNHEARD:
            self._unheard = 0
            self.announce("hear-badly")

    def _set(self, intent: Setting) -> Setting:
        """Changes how it speaks before the answer is spoken, so that the answer shows it."""
        volume = self._w.volume
        if intent.kind is Kind.SOUND_CHECK:
            return intent
        is_up = intent.kind in (Kind.LOUDER, Kind.FASTER)
        change = volume.louder if intent.kind in (Kind.LOUDER, Kind.QUIETER) else volume.faster
        return intent if change(is_up) else replace(intent, is_at_end=True)

    # -- sound check

    def _start_check(self) -> None:
        self._check = SoundCheck(self._w.endpointer)
        self.announce(f"check-{self._check.step}")

    def _checked(self, step: CheckStep | None) -> None:
        if step is None or self._check is None:
            return
        if step is not CheckStep.DONE:
            self.announce(f"check-{step}")
            return
        levels = self._check.levels
        self._check = None
        if self._w.mode is Mode.PUSH_TO_TALK:
            self._w.endpointer.forget_floor()  # who holds the key down means it, however softly
        self.floor_db = levels.room_db
        self._w.keep_floor(levels.room_db)
        said = [Reply(f"check-{one}") for one in advice(levels)]
        self._w.mouth.say(worded(self._w.speaker, (*said, *self._wanted())))

    # -- view

    def _show(self, frame: bytes) -> None:
        w = self._w
        if not w.console.is_terminal:
            return
        state = w.owner.state
        name = self._state
        if not w.source.is_open:
            name = "no microphone"
        elif w.mouth.is_busy:
            name = "speaking"
        elif self._check is not None:
            name = "sound check"
        elif state.standing_by:
            name = "waiting"
        elif w.mode is Mode.PUSH_TO_TALK and not self._was_talking:
            name = "press to talk"
        open_ = tuple(entry.name for entry in state.on_or_off())
        view = View(state.index + 1, len(state.sheet.steps), name, level_db(frame), self._heard, open_)
        w.console.show(view)
