"""What works on this machine, and how to mend what does not."""

from __future__ import annotations

from dataclasses import dataclass

from bench_voice.config import Config
from bench_voice.errors import BenchError


@dataclass(frozen=True)
class Finding:
    """`is_needed`: without it `work` with a microphone cannot run."""

    what: str
    works: bool
    detail: str
    is_needed: bool = True


def examine() -> tuple[Finding, ...]:
    """Ears, voice, sound devices, settings."""
    from bench_voice import config
    from bench_voice.audio import factory

    found: list[Finding] = []
    settings = Config()
    try:
        settings = config.load()
        found.append(Finding("settings", True, f"journals in {settings.journal}"))
    except BenchError as error:
        found.append(Finding("settings", False, str(error)))
    ears = factory.ears_available()
    any_works = any(ear.is_ok for ear in ears)
    for ear in ears:
        found.append(Finding(f"ear {ear.name}", ear.is_ok, ear.reason or "works", is_needed=not any_works))
    try:
        voice = factory.make_voice()
        size = len(voice.speak("ready"))
        found.append(Finding("voice", size > 0, "speaks"))
    except BenchError as error:
        found.append(Finding("voice", False, str(error)))
    try:
        from bench_voice.audio.devices import list_devices

        devices = list_devices()
        found.append(Finding("sound devices", bool(devices), "; ".join(map(str, devices)) or "none found"))
    except BenchError as error:
        found.append(Finding("sound devices", False, str(error)))
    else:
        found += [_microphone(settings), _loudspeaker(settings)]
    return tuple(found)


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
