"""What works on this machine, and how to mend what does not."""

from __future__ import annotations

from dataclasses import dataclass

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
    return tuple(found)
