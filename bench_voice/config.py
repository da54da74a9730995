"""The person's own settings: `config.toml` in the user's config folder, overruled by the environment."""

from __future__ import annotations

import os
import tomllib
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import platformdirs

from bench_voice.errors import UsageError


@dataclass(frozen=True)
class Config:
    """`ears`: names in the order they are asked, None for every ear that works here."""

    ears: tuple[str, ...] | None = None
    journal: Path = Path()
    vosk_model: Path | None = None
    microphone: str | None = None
    loudspeaker: str | None = None


_KEYS = {"ears", "journal", "vosk_model", "microphone", "loudspeaker"}


def load(path: Path | None = None) -> Config:
    """Reads the file where there is one. Raises UsageError naming the wrong key or line."""
    path = path or Path(platformdirs.user_config_dir("bench-voice")) / "config.toml"
    data: dict[str, Any] = {}
    if path.exists():
        try:
            data = tomllib.loads(path.read_text("utf-8"))
        except (OSError, ValueError) as error:
            raise UsageError(
                f"The settings cannot be read: {error}.",
                mend="Mend or delete the file.",
                slug="config",
                where=str(path),
            ) from error
    wrong = sorted(set(data) - _KEYS)
    if wrong:
        raise UsageError(
            f'"{wrong[0]}" is not a setting.',
            mend=f"Use one of {', '.join(sorted(_KEYS))}.",
            slug="config",
            where=str(path),
        )
    ears = data.get("ears")
    model = os.environ.get("BENCH_VOICE_VOSK_MODEL") or data.get("vosk_model")
    if model:
        os.environ["BENCH_VOICE_VOSK_MODEL"] = str(model)
    return Config(
        ears=tuple(map(str, ears)) if isinstance(ears, list) else None,
        journal=Path(data.get("journal") or Path(platformdirs.user_data_dir("bench-voice")) / "journals").expanduser(),
        vosk_model=Path(model) if model else None,
        microphone=data.get("microphone"),
        loudspeaker=data.get("loudspeaker"),
    )
