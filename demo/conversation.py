"""The conversation as it goes: printed, kept as a transcript, and as one sound file with both voices in order."""

from __future__ import annotations

from dataclasses import dataclass, field
from pathlib import Path

from driver import Line
from mechanic import to_pcm, to_samples, write_wav

from bench_voice.ports import RATE_HZ

WAV_HEADER_BYTES = 44  # of a plain 16-bit file, before its samples
GAP_S = 0.3  # between two speakers in the sound file
BENCH_RMS = 0.08  # the assistant is brought to about the mechanic's level


@dataclass
class Conversation:
    """Both sides in time order."""

    _lines: list[str] = field(default_factory=list)
    _sound: list[bytes] = field(default_factory=list)
    _taken: dict[Path, int] = field(default_factory=dict)

    def progress(self, text: str) -> None:
        self._print(f"-- {text}")

    def mechanic(self, words: str, pcm: bytes) -> None:
        """What the mechanic says, with the sound that went into the microphone."""
        self._print(f"mechanic: {words}")
        self._sound.append(pcm)

    def line(self, line: Line) -> None:
        """A line that the assistant printed: what it took ("you") or what it said ("bench")."""
        self._print(f"{line.who}: {line.text}")

    def bench_sound(self, path: Path) -> None:
        """What the assistant has said since the last time, from the growing file that `--say-to` writes."""
        done = self._taken.get(path, WAV_HEADER_BYTES)
        pcm = path.read_bytes()[done:] if path.exists() else b""
        if pcm:
            self._taken[path] = done + len(pcm)
            self._sound += [_levelled(pcm[: len(pcm) // 2 * 2]), bytes(2 * round(GAP_S * RATE_HZ))]

    @property
    def seconds(self) -> float:
        n_bytes: int = sum(map(len, self._sound))
        return n_bytes / 2 / RATE_HZ

    def save(self, out: Path) -> None:
        """`transcript.txt` and `conversation.wav` (16 kHz, mono, s16le)."""
        (out / "transcript.txt").write_text("\n".join(self._lines) + "\n", encoding="utf-8")
        write_wav(out / "conversation.wav", b"".join(self._sound))

    def _print(self, text: str) -> None:
        self._lines.append(text)
        print(text, flush=True)


def _levelled(pcm: bytes) -> bytes:
    samples = to_samples(pcm)
    loud = samples[abs(samples) > 0.02]
    if not loud.size:
        return pcm
    return to_pcm(samples * (BENCH_RMS / float((loud**2).mean() ** 0.5)))
