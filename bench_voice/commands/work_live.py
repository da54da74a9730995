"""Wiring of the live session: microphone, loudspeaker, keys, view, and what watches over them."""

from __future__ import annotations

import argparse
import sys
import threading
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from bench_voice import config as settings
from bench_voice.audio import factory
from bench_voice.audio.link import now_s
from bench_voice.audio.microphone import Microphone
from bench_voice.audio.own_words import read_own
from bench_voice.audio.player import LOUDEST_DB, QUIETEST_DB, STEP_DB, Player
from bench_voice.audio.said_file import SaidFile
from bench_voice.audio.tones import Tone, tone
from bench_voice.commands.listening import make_listener
from bench_voice.config import Config
from bench_voice.errors import EngineError
from bench_voice.ports import Heard, Voice
from bench_voice.session.console import Console
from bench_voice.session.duplex import Duplex
from bench_voice.session.keys import Keys, open_keys
from bench_voice.session.listen import Listener
from bench_voice.session.live import Live, Wiring
from bench_voice.session.modes import CallWord, Mode, check_call_word
from bench_voice.session.mouth import LiveMouth, Loudspeaker
from bench_voice.session.owner import Owner
from bench_voice.session.supervise import GuardedEars, SleepWatch
from bench_voice.words.phrases import Language
from bench_voice.words.say import Speaker

_CLOSE_EARS_S = 2.0
SLOWEST_WPM, FASTEST_WPM, STEP_WPM = 100, 260, 20


class FilePlayer:
    """A loudspeaker that is a file, or nothing: what is played is over at once."""

    def __init__(self, keep: SaidFile | None = None) -> None:
        self._keep = keep
        self.loudness_db = self.ended_s = 0.0
        self.is_open = True

    def play(self, pcm: bytes, is_cancelled: Callable[[], bool]) -> bool:
        if self._keep is not None:
            self._keep.write(pcm)
        return True

    def mix(self, pcm: bytes) -> None: ...
    def wake(self) -> None: ...
    def start(self) -> None: ...
    def reopen(self) -> None: ...

    def wait_open(self, timeout_s: float) -> bool:
        return True

    def close(self) -> None:
        if self._keep is not None:
            self._keep.close()


class NoVoice:
    """With --mute: nothing is spoken."""

    def speak(self, text: str) -> bytes:
        return b""


class Volume:
    """session.live.Volume: loudness and speed in steps; what they are is kept for the next session."""

    def __init__(self, mouth: LiveMouth, player: Loudspeaker, speed: int) -> None:
        self._mouth, self._player, self.speed = mouth, player, speed

    def louder(self, up: bool) -> bool:
        wanted = self._player.loudness_db + (STEP_DB if up else -STEP_DB)
        if not QUIETEST_DB <= wanted <= LOUDEST_DB:
            return False
        self._player.loudness_db = wanted
        settings.keep(loudness=wanted)
        return True

    def faster(self, up: bool) -> bool:
        wanted = self.speed + (STEP_WPM if up else -STEP_WPM)
        if not SLOWEST_WPM <= wanted <= FASTEST_WPM:
            return False
        self.speed = wanted
        if hasattr(self._mouth.voice, "rate_wpm"):
            self._mouth.voice.rate_wpm = wanted
        settings.keep(speed=wanted)
        return True


class LiveWork:
    """Everything of a live session but its owner, which `wire` is given: the owner needs the mouth first.

    Raises EngineError and UsageError for what cannot be had: nothing has been said or written by then.
    """

    def __init__(self, args: argparse.Namespace, config: Config, language: Language) -> None:
        self._args, self._config, self._language = args, config, language
        self._live: Live | None = None
        self._keys: Keys | None = None
        self.mode = Mode(args.mode or config.mode)
        own = read_own(config.pronunciations)
        self.call = None
        if self.mode is Mode.CALL_WORD:

            def has_pronunciation(word: str) -> bool:
                return word in own or factory.has_pronunciation(word)

            word = check_call_word(args.call_word or config.call_word, language, has_pronunciation)
            self.call = CallWord(word)
        self._closing: list[Callable[[], None]] = []
        try:
            self._open()
        except BaseException:
            self.close()
            raise

    def _open(self) -> None:
        args, config = self._args, self._config
        kept = settings.load_kept()
        speed = config.speed if kept.speed is None else kept.speed
        loudness = config.loudness if kept.loudness is None else kept.loudness
        # Keys first: a pedal that cannot be read is said before anything loads.
        self._keys = open_keys(args.keys or config.keys, self._on_key)
        if self.mode is Mode.PUSH_TO_TALK and self._keys is None:
            raise EngineError(
                "There is no key to talk with: standard input is no terminal.",
                mend="Run it in a terminal, or name a pedal or terminal with --keys.",
                slug="keys-none",
            )
        self.duplex = Duplex(is_echo_free=config.headset, tail_s=config.tail_ms / 1000)
        self.console = Console(sys.stdout)
        self._closing.append(self.console.close)
        # What takes its time is begun all at once: the cards, the voice, the ears.
        self.source = Microphone(config.microphone, on_change=self._on_microphone)
        self._closing.append(self.source.close)
        self.source.begin()
        player = self._make_player(loudness)
        self.player = player
        self._closing.append(player.close)
        self.ears = GuardedEars(
            self._make_listener,
            on_restart=lambda why: self._announce("ears-restarted", why),
            on_left_out=lambda line: self._announce("ear-left-out", line),
        )
        self._closing.append(self._close_ears)

        def make_voice() -> Voice:
            return NoVoice() if args.mute and not args.say_to else factory.make_voice(self.volume.speed)

        first = NoVoice() if args.mute and not args.say_to else factory.make_voice(speed)
        self.mouth = LiveMouth(
            lambda text: self.console.line("bench", text),
            first,
            player,
            self.duplex,
            make_voice=make_voice,
            on_voice_failed=self._on_voice_failed,
            on_voice_lost=self._on_voice_lost,
            has_tones=config.tones,
            on_synthesis=self._on_synthesis,
        )
        self._closing.append(self.mouth.close)
        self.volume = Volume(self.mouth, player, speed)
        for stream in (player, self.source):
            stream.start()

    def _make_player(self, loudness_db: float) -> Any:
        if self._args.say_to or self._args.mute:
            return FilePlayer(SaidFile(Path(self._args.say_to)) if self._args.say_to else None)
        player = Player(self._config.loudspeaker, on_change=self._on_loudspeaker, loudness_db=loudness_db)
        player.begin()
        return player

    def _make_listener(self) -> Listener:
        return make_listener(
            self._args.engine,
            self._config,
            self._language,
            call=self._call_now,
            addressed=self._for_us,
            is_hurried=True,
        )

    def _for_us(self, heard: Sequence[Heard]) -> tuple[Heard, ...]:
        return self.call.peek(heard, now_s()) if self.call else tuple(heard)

    def _call_now(self) -> tuple[str, bool]:
        return (self.call.word, self.call.is_needed) if self.call else ("", True)

    def wire(self, owner: Owner) -> Live:
        """The loop, with its owner."""
        from bench_voice.audio.defaults import DefaultWatch
        from bench_voice.audio.endpointer import SileroEndpointer

        def on_turn(what: str) -> None:
            if self._args.turns:
                print(what, file=sys.stderr, flush=True)

        self._live = Live(
            Wiring(
                owner=owner,
                speaker=Speaker(self._language),
                ears=self.ears,
                source=self.source,
                endpointer=SileroEndpointer(),
                mouth=self.mouth,
                duplex=self.duplex,
                console=self.console,
                volume=self.volume,
                tones={"heard": tone(Tone.HEARD), "again": tone(Tone.AGAIN), "called": tone(Tone.LISTENING)},
                mode=self.mode,
                call=self.call,
                reopen_output=self.player.reopen,
                keep_floor=lambda floor_db: settings.keep(floor_db=round(floor_db, 1)),
                on_turn=on_turn,
                explain=self._args.explain,
                sleep=SleepWatch(),
                clock=now_s,
            )
        )
        self._closing.append(self._live.close)
        if self._config.microphone is None or self._config.loudspeaker is None:
            watch = DefaultWatch(self._live.default_changed)
            self._closing.append(watch.close)
        return self._live

    @property
    def has_check(self) -> bool:
        return self._config.sound_check and not self._args.no_sound_check

    def _close_ears(self) -> None:
        """Waits only a moment for an ear that is in the middle of a sentence."""
        closing = threading.Thread(target=self.ears.close, daemon=True)
        closing.start()
        closing.join(timeout=_CLOSE_EARS_S)

    def give_back_keys(self) -> None:
        """Before typing takes standard input."""
        if self._keys is not None:
            self._keys.close()
            self._keys = None

    def close(self) -> None:
        """In the order of their making, the last first; a terminal gets its mode back whatever happens."""
        while self._closing:
            self._closing.pop()()
        self.give_back_keys()

    # -- from other threads, before there is a loop as well

    def _on_key(self, sign: str, is_press: bool) -> None:
        if self._live is not None:
            self._live.key(sign, is_press)

    def _on_microphone(self, change: str, detail: str) -> None:
        if self._live is not None:
            self._live.microphone_changed(change, detail)

    def _on_loudspeaker(self, change: str, detail: str) -> None:
        if self._live is not None:
            self._live.loudspeaker_changed(change, detail)

    def _on_synthesis(self, seconds: float) -> None:
        if self._args.explain:
            print(f"times: synthesis {1000 * seconds:.0f}", file=sys.stderr, flush=True)

    def _on_voice_failed(self, error: Exception) -> None:
        if self._live is not None:
            self._live.voice_failed(error)

    def _on_voice_lost(self, error: Exception) -> None:
        if self._live is not None:
            self._live.voice_lost(error)

    def _announce(self, key: str, why: str) -> None:
        print(why, file=sys.stderr, flush=True)
        if self._live is not None:
            self._live.announce(key)
