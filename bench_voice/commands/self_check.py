"""What works on this machine, and how to mend what does not. What it says works it has loaded and used."""

from __future__ import annotations

import os
import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from functools import partial
from importlib import resources
from pathlib import Path

from bench_voice import offline
from bench_voice.audio.factory import EarState
from bench_voice.config import Config
from bench_voice.errors import BenchError, EngineError
from bench_voice.ports import RATE_HZ, Utterance

# Half a second of the assistant's own voice, which every ear hears right.
CLIP, CLIP_WORDS = "where-are-we.wav", "where are we"
_SILENCE_S = (0.3, 0.8)  # before the words, as much as the endpointer keeps, and behind them, longer than its hang-over


@dataclass(frozen=True)
class Finding:
    """`is_needed`: without it `work` with a microphone cannot run."""

    what: str
    works: bool
    detail: str
    is_needed: bool = True


def examine() -> tuple[Finding, ...]:
    """Settings and folders, languages, voice, voice detector, ears, sound devices: about ten seconds."""
    from bench_voice import config

    found: list[Finding] = []
    settings = Config()
    try:
        settings = config.load()
        path = config.config_path()
        found.append(Finding("settings", True, str(path) if path.exists() else f"none; they would stand in {path}"))
        found.append(journals(settings.journal))
    except BenchError as error:
        found.append(Finding("settings", False, str(error)))
    found.append(network())
    found += [*_languages(), _seen("voice", _voice), _seen("voice detector", _detector)]
    found += _ears(settings.ears)
    portaudio = _seen("PortAudio", _portaudio)
    found.append(portaudio)
    if portaudio.works:
        found += [_seen("sound devices", _devices), _microphone(settings), _loudspeaker(settings)]
    return tuple(found)


def network() -> Finding:
    """Whether the libraries of this process were told to stay off the network."""
    unset = [name for name, value in offline.SWITCHES.items() if os.environ.get(name) != value]
    if unset:
        return Finding("network", False, f"{', '.join(unset)} was changed while this ran: a library may report")
    return Finding(
        "network",
        True,
        "not used. Libraries are told not to report or fetch; tests/network proves it for work on sound, hear, "
        "rehearse, self-check and the demo",
    )


def _seen(what: str, look: Callable[[], str]) -> Finding:
    """What `look` says of it, or the error that it raises."""
    try:
        return Finding(what, True, look())
    except BenchError as error:
        return Finding(what, False, str(error))


def journals(folder: Path) -> Finding:
    """Whether a session can be written there; nothing is made."""
    place = folder
    while not os.path.lexists(place) and place != place.parent:
        place = place.parent
    if not place.is_dir():
        return Finding(
            "journals", False, f"{folder}: {place} is no folder. Name another under journal in the settings."
        )
    if not os.access(place, os.W_OK | os.X_OK):
        mend = "Give yourself the right to write there, or name another folder under journal in the settings."
        return Finding("journals", False, f"{folder}: this user may not write into {place}. {mend}")
    return Finding("journals", True, f"{folder}" + ("" if place == folder else ", made by the first session"))


def _languages() -> list[Finding]:
    """Each language's files, read and proofread."""
    from bench_voice.words.phrases import language_codes, load_language

    def read(code: str) -> str:
        language = load_language(code)
        return f"{len(language.vocabulary())} words, {len(language.wording)} sentences; {language.folder}"

    return [_seen(f"language {code}", partial(read, code)) for code in dict.fromkeys(("en", *language_codes()))]


def _voice() -> str:
    from bench_voice.audio import factory

    seconds = len(factory.make_voice().speak("ready")) / 2 / RATE_HZ
    if not seconds:
        mend = "Install it again: pip install --force-reinstall pyttsx3 espeakng-loader."
        raise EngineError("It gives no sound.", mend=mend, slug="voice-silent")
    return f'says "ready" in {seconds:.1f} s'


def _clip() -> bytes:
    """16 kHz mono s16le, silence around it. Raises SoundFileError."""
    from bench_voice.audio.wav import read_wav

    with resources.as_file(resources.files("bench_voice.audio").joinpath(CLIP)) as path:
        before, behind = (bytes(2 * round(seconds * RATE_HZ)) for seconds in _SILENCE_S)
        return before + read_wav(path) + behind


def _cut() -> Utterance | None:
    """What the endpointer makes of the shipped words."""
    from bench_voice.audio.endpointer import SileroEndpointer
    from bench_voice.audio.resample import FRAME_BYTES

    endpointer, pcm = SileroEndpointer(), _clip()
    cut = [endpointer.feed(pcm[at : at + FRAME_BYTES]) for at in range(0, len(pcm), FRAME_BYTES)]
    return next((one for one in (*cut, endpointer.flush()) if one is not None), None)


def _detector() -> str:
    utterance = _cut()
    if utterance is None:
        what = f'It finds no speech where "{CLIP_WORDS}" is said.'
        raise EngineError(what, mend="Install bench-voice again.", slug="vad-broken")
    return f"hears {utterance.speech_s:.1f} s of speech"


def _ears(named: tuple[str, ...] | None) -> list[Finding]:
    """Each ear there is, loaded one after the other and asked what the shipped words are."""
    from bench_voice.audio import factory

    states, details = [], {}
    for state in factory.ears_available():
        if state.is_ok:
            try:
                details[state.name] = _heard_by(state.name)
            except BenchError as error:
                state = EarState(state.name, False, str(error))
        states.append(state)
    return ears(states, named, details)


def _heard_by(name: str) -> str:
    """What it hears, how fast, and where its weights are. Raises BenchError."""
    from bench_voice.audio import factory
    from bench_voice.audio.weights import SOURCES, find_files
    from bench_voice.session.meaning import Meanings
    from bench_voice.sheets.load import load_sheet
    from bench_voice.words.phrases import load_language

    begun = time.monotonic()
    (ear,) = factory.make_ears([name], load_language("en"))
    try:
        ear.prepare(Meanings(load_sheet).expected(None, None))
        utterance = Utterance(_clip(), 0, 0, speech_s=0.5)
        heard = ear.hear(utterance)
    finally:
        ear.close()
    words = heard.words or heard.free_words or ""
    if not words:
        what = f'It loads, but hears nothing where "{CLIP_WORDS}" is said.'
        raise EngineError(what, mend="Install its weights again.", slug="ear-broken")
    place = f"; {find_files(name).paths[0].parent}" if name in SOURCES else ""
    # A person's own model may be of another language: it is told, not judged.
    is_own = "" if words == CLIP_WORDS else f' where "{CLIP_WORDS}" is said'
    return f'works: heard "{words}"{is_own}, {time.monotonic() - begun:.1f} s with loading{place}'


def ears(
    states: Sequence[EarState], named: tuple[str, ...] | None, details: Mapping[str, str] | None = None
) -> list[Finding]:
    """Each ear there is. `named`: those of the settings: each of them is needed, and no other is used. Without them
    one that works is enough. `details`: what an ear that works was seen to do."""
    any_works = any(state.is_ok for state in states)
    found = []
    for state in states:
        works = (details or {}).get(state.name, "works")
        if named is not None and state.name not in named:
            works += ", but your settings do not name it under ears: it is not used"
        is_needed = not any_works if named is None else state.name in named
        found.append(Finding(f"ear {state.name}", state.is_ok, state.reason or works, is_needed))
    known = [state.name for state in states]
    for name in named or ():
        if name not in known:
            found.append(Finding(f"ear {name}", False, f"Your settings name it. Choose from: {', '.join(known)}."))
    return found


def _portaudio() -> str:
    from bench_voice.audio.devices import sound_library

    return str(sound_library().get_portaudio_version()[1])


def _devices() -> str:
    from bench_voice.audio.devices import PLUG, list_devices

    devices = list_devices()
    if not devices:
        raise EngineError("There are no sound devices.", mend=PLUG, slug="sound-no-device")
    return "; ".join(map(str, devices))


def _microphone(settings: Config) -> Finding:
    """Opens it and listens for half a second."""
    from bench_voice.audio.microphone import Microphone
    from bench_voice.session.soundcheck import SILENT_DB, room_level

    microphone = Microphone(settings.microphone)
    try:
        microphone.start()
        level_db = room_level([frame for frame, _ in zip(microphone.frames(), range(25), strict=False)])
        shape = f"{microphone.rate_hz} Hz, {microphone.channels} channels"
    except BenchError as error:
        return Finding("microphone", False, str(error))
    finally:
        microphone.close()
    if level_db <= SILENT_DB:
        return Finding("microphone", True, f"opens ({shape}), but gives exactly nothing: is it switched off?")
    return Finding("microphone", True, f"opens ({shape}); the room is {level_db:.0f} dB below full scale")


def _loudspeaker(settings: Config) -> Finding:
    from bench_voice.audio.player import Player

    player = Player(settings.loudspeaker)
    try:
        player.start()
        return Finding("loudspeaker", True, f"opens ({player.rate_hz} Hz, {player.channels} channels)")
    except BenchError as error:
        return Finding("loudspeaker", False, str(error))
    finally:
        player.close()
