"""What works on this machine, and how to mend what does not."""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass

from bench_voice import offline
from bench_voice.audio.factory import EarState
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
    found.append(network())
    found += ears(factory.ears_available(are_sums_checked=True), settings.ears)
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


def network() -> Finding:
    """Whether the libraries of this process were told to stay off the network."""
    unset = [name for name, value in offline.SWITCHES.items() if os.environ.get(name) != value]
    if unset:
        return Finding("network", False, f"{', '.join(unset)} was changed while this ran: a library may report")
    return Finding(
        "network",
        True,
        "not used. Libraries are told not to report or fetch; tests/network proves it for work on sound, hear, "
        "rehearse, doctor and the demo",
    )


def ears(states: Sequence[EarState], named: tuple[str, ...] | None) -> list[Finding]:
    """Each ear there is. `named`: those of the settings: each of them is needed, and no other is used. Without them
    one that works is enough."""
    any_works = any(state.is_ok for state in states)
    found = []
    for state in states:
        is_used = named is None or state.name in named
        works = "works" if is_used else "works, but your settings do not name it under ears: it is not used"
        is_needed = not any_works if named is None else state.name in named
        found.append(Finding(f"ear {state.name}", state.is_ok, state.reason or works, is_needed))
    known = [state.name for state in states]
    for name in named or ():
        if name not in known:
            found.append(Finding(f"ear {name}", False, f"Your settings name it. Choose from: {', '.join(known)}."))
    return found


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
