"""The person's own settings: `config.toml` in the user's config folder, overruled by the environment. What they change
by voice (loudness, speed) and the room's level are kept apart, in `sound.json` of the user's state folder."""

from __future__ import annotations

import contextlib
import json
import os
import tomllib
from collections.abc import Callable
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any

import platformdirs

from bench_voice.errors import UsageError
from bench_voice.own_file import read_own_file
from bench_voice.plain_file import open_plain

MODES = ("open", "call-word", "push-to-talk")
SOUNDS = ("off", "notes", "readings", "all")
_MOST_KEPT_BYTES = 10_000


@dataclass(frozen=True)
class Config:
    """`ears`: names in the order they are asked, None for every ear that works here. `headset`: the microphone cannot
    hear the loudspeaker, so the person may talk over it. `tail_ms`: so long after its own words it does not listen.
    `loudness`: dB over the voice's own level. `speed`: words a minute. `pronunciations`: the person's own file
    (`phonetics.parse_own`), beside the settings where none is named. `logbook`: address of the
    workshop's (postgresql://...), None for a file beside the journals. `who`: works here, for the
    record. `keep_sound`: of what is said, see `records.sound`."""

    ears: tuple[str, ...] | None = None
    journal: Path = Path()
    vosk_model: Path | None = None
    microphone: str | None = None
    loudspeaker: str | None = None
    mode: str = "open"
    call_word: str = "bench"
    headset: bool = False
    tail_ms: int = 300
    sound_check: bool = True
    tones: bool = True
    loudness: float = 0.0
    speed: int = 160
    keys: str | None = None
    pronunciations: Path | None = None
    logbook: str | None = None
    who: str | None = None
    keep_sound: str = "off"


@dataclass(frozen=True)
class _Rule:
    """`is_good` and what to write instead."""

    is_good: Callable[[Any], bool]
    mend: str


def _text(value: Any) -> bool:
    return isinstance(value, str) and bool(value.strip()) and "\0" not in value


def _number(low: float, high: float, *, is_whole: bool = False) -> Callable[[Any], bool]:
    kinds = int if is_whole else (int, float)
    return lambda value: isinstance(value, kinds) and not isinstance(value, bool) and low <= value <= high


_TEXT = _Rule(_text, "Write a text in quotes.")
_SWITCH = _Rule(lambda value: isinstance(value, bool), "Write true or false.")
_RULES: dict[str, _Rule] = {
    "ears": _Rule(
        lambda value: isinstance(value, list) and bool(value) and all(map(_text, value)),
        'Write a list of names, such as ["pocketsphinx", "whisper", "moonshine"].',
    ),
    "journal": _TEXT,
    "vosk_model": _TEXT,
    "microphone": _TEXT,
    "loudspeaker": _TEXT,
    "mode": _Rule(lambda value: value in MODES, f"Write one of {', '.join(MODES)}."),
    "call_word": _TEXT,
    "headset": _SWITCH,
    "tail_ms": _Rule(_number(100, 2000, is_whole=True), "Write whole milliseconds between 100 and 2000."),
    "sound_check": _SWITCH,
    "tones": _SWITCH,
    "loudness": _Rule(_number(-18, 9), "Write decibels between -18 and 9."),
    "speed": _Rule(_number(100, 260, is_whole=True), "Write whole words a minute between 100 and 260."),
    "keys": _TEXT,
    "pronunciations": _TEXT,
    "logbook": _TEXT,
    "who": _TEXT,
    "keep_sound": _Rule(lambda value: value in SOUNDS, f"Write one of {', '.join(SOUNDS)}."),
}


def config_path() -> Path:
    return Path(platformdirs.user_config_dir("bench-voice")) / "config.toml"


def load(path: Path | None = None) -> Config:
    """Reads the file where there is one. Raises UsageError `config` naming the wrong key, value or line."""
    path = path or config_path()
    data: dict[str, Any] = read_own_file(path, tomllib.loads, what="settings", slug="config") or {}
    for key, value in data.items():
        if key not in _RULES:
            raise _fault(path, f'"{key}" is not a setting.', f"Use one of {', '.join(sorted(_RULES))}.")
        if not _RULES[key].is_good(value):
            raise _fault(path, f"{key} = {value!r} cannot be used.", _RULES[key].mend)
    ears = data.pop("ears", None)
    journal = data.pop("journal", None) or Path(platformdirs.user_data_dir("bench-voice")) / "journals"
    said = data.pop("pronunciations", None) or path.parent / "pronunciations.txt"
    model = os.environ.get("BENCH_VOICE_VOSK_MODEL") or data.pop("vosk_model", None)
    data.pop("vosk_model", None)
    if model:
        os.environ["BENCH_VOICE_VOSK_MODEL"] = str(model)
    return Config(
        ears=tuple(ears) if ears else None,
        journal=_expanded(path, "journal", journal),
        vosk_model=Path(model) if model else None,
        pronunciations=_expanded(path, "pronunciations", said),
        **data,
    )


def _expanded(path: Path, key: str, value: str | Path) -> Path:
    """`~` and `~name` as the home folder."""
    try:
        return Path(value).expanduser()
    except RuntimeError:
        home = Path(value).parts[0]
        raise _fault(path, f"{key}: nobody here has the home folder {home}.", "Write the whole path.") from None


def _fault(path: Path, what: str, mend: str) -> UsageError:
    return UsageError(what, mend=mend, slug="config", where=str(path))


@dataclass(frozen=True)
class Kept:
    """What the last session left: None where it was never changed. `floor_db`: the room at the last sound check.
    `who`: what the person answered when asked once who works here, "" for nobody."""

    loudness: float | None = None
    speed: int | None = None
    floor_db: float | None = None
    who: str | None = None


def _kept_path() -> Path:
    return Path(platformdirs.user_state_dir("bench-voice")) / "sound.json"


def load_kept(path: Path | None = None) -> Kept:
    """What is not readable or out of range is as if it were not there."""
    try:
        with open_plain(path or _kept_path()) as file:
            data = json.loads(file.read(_MOST_KEPT_BYTES))
        known = {field.name: data.get(field.name) for field in fields(Kept)}
    except (OSError, ValueError, AttributeError, RecursionError):
        return Kept()
    who = known.pop("who")
    good = {key: value for key, value in known.items() if key in _RULES and _RULES[key].is_good(value)}
    floor = known["floor_db"]
    return Kept(**good, floor_db=floor if _number(-96, 0)(floor) else None, who=who if isinstance(who, str) else None)


def keep(path: Path | None = None, **changed: Any) -> None:
    """Changes what is kept. A folder that cannot be written loses it: the session is worth more."""
    path = path or _kept_path()
    body = asdict(replace(load_kept(path), **changed))
    with contextlib.suppress(OSError):
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(json.dumps(body), "utf-8")
