"""From the true end of speech to the decision, all ears, at the pace of real sound. Run it on an idle machine.

    .venv/bin/python -m tests.bench.hearing [--count 60] [--noise clean]

Sentences of the corpus's development part are fed in frames of 20 ms by the clock, as a microphone gives them. The true
end is the last sample above a thirtieth of the sentence's top (voices end in silence). `silence`: until the
endpointer ended the sentence; `late`: what of decoding came after that; `decide`: agreement and evidence. Beside it, in
the same run, the same ears started only when the sentence has ended, as one would do it first.
"""

from __future__ import annotations

import argparse
import statistics
import sys
import time
from collections.abc import Iterator
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parents[2]))

from bench_voice.audio.endpointer import SileroEndpointer
from bench_voice.audio.resample import FRAME_BYTES
from bench_voice.commands.listening import make_listener
from bench_voice.config import Config
from bench_voice.session.ahead import Ahead
from bench_voice.session.listen import Listener
from tests.corpus import clips, texts
from tests.corpus.texts import OUTSIDE

FRAME_S = 0.02


def paced(pcm: bytes) -> Iterator[tuple[float, bytes]]:
    """(time on the clock at which the frame's last sample was there, frame)."""
    begun = time.monotonic()
    for number, at in enumerate(range(0, len(pcm), FRAME_BYTES), 1):
        due = begun + number * FRAME_S
        time.sleep(max(0.0, due - time.monotonic()))
        yield due, pcm[at : at + FRAME_BYTES]


def once(listener: Listener, clip: clips.Clip, pcm: bytes, is_ahead: bool) -> dict[str, float] | None:
    """Milliseconds after the true end of speech; None for a sentence that was cut in two or not found."""
    expected = texts.expected_of(clip.said.sheet, clip.said.step)
    endpointer = SileroEndpointer()
    ahead = Ahead(_Meanings(listener), endpointer)
    true_end_s = clips.true_end_s("develop", clip)
    found = None
    try:
        begun = time.monotonic()
        for _, frame in paced(pcm):
            utterance = endpointer.feed(frame)
            if utterance is not None:
                ended = time.monotonic()
                heard = (ahead if is_ahead else listener).hear(utterance, expected)
                heard_at = time.monotonic()
                listener.meaning(heard, expected)
                decided = time.monotonic()
                if found is not None:
                    return None
                found = {
                    "silence": 1000 * (ended - begun - true_end_s),
                    "late": 1000 * (heard_at - ended),
                    "decide": 1000 * (decided - heard_at),
                    "all": 1000 * (decided - begun - true_end_s),
                }
            elif is_ahead:
                ahead.frame(expected)
        return found
    finally:
        ahead.close()


class _Meanings:
    """What Ahead asks of the ears (in a session, `supervise.GuardedEars`)."""

    def __init__(self, listener: Listener) -> None:
        self.hear, self.meaning = listener.hear, listener.meaning


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("--count", type=int, default=60)
    parser.add_argument("--noise", default="clean")
    parser.add_argument("--only-ahead", action="store_true")
    given = parser.parse_args()
    listener = make_listener(None, Config(), texts.LANGUAGE, is_hurried=True)
    listener.unloaded()  # waits; the first one too has loaded by the clips that don't count
    chosen = [
        clip
        for clip in clips.clips("develop", 4000)
        if clip.voice is not None and clip.voice.family == "neural"
        and clip.said.kind not in OUTSIDE and clip.noise == given.noise
    ][: given.count + 2]  # fmt: skip
    ways = (("hearing begins in the pause", True), ("hearing begins when it has ended", False))
    for name, is_ahead in ways[: 1 if given.only_ahead else 2]:
        times = [once(listener, clip, clips.sound("develop", clip), is_ahead) for clip in chosen][2:]
        whole = [found for found in times if found is not None]
        print(f"{name}: {len(whole)} sentences, {len(times) - len(whole)} cut in two or not found")
        for part in ("silence", "late", "decide", "all"):
            values = sorted(found[part] for found in whole)
            p95 = values[min(len(values) - 1, int(0.95 * len(values)))]
            print(f"  {part:8} p50 {statistics.median(values):5.0f} ms   p95 {p95:5.0f} ms")
    listener.close()


if __name__ == "__main__":
    main()
