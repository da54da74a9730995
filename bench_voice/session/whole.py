"""A whole recording as one utterance: what `hear` is given. Silence at both ends is cut by the endpointer."""

from __future__ import annotations

from collections.abc import Iterable

from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.ports import AudioSource, Endpointer, Heard, Utterance
from bench_voice.session.listen import Listener, best_words, utterances


def joined(found: Iterable[Utterance]) -> Utterance | None:
    """One recording is one answer: pauses inside it do not cut it. None where there is no speech."""
    parts = tuple(found)
    if not parts:
        return None
    return Utterance(
        b"".join(part.pcm for part in parts), parts[0].start_ms, parts[-1].end_ms, sum(part.speech_s for part in parts)
    )


def hear_whole(
    source: AudioSource, endpointer: Endpointer, listener: Listener, expected: Expected
) -> tuple[tuple[Heard, ...], Intent]:
    """What the ears made of it and what it means; UNKNOWN with no words where there is no speech."""
    utterance = joined(utterances(source, endpointer, lambda: True))
    if utterance is None:
        return (), Intent(Kind.UNKNOWN)
    heard = listener.hear(utterance, expected)
    intent = listener.meaning(heard, expected)
    if intent is None:
        intent = Intent(Kind.UNKNOWN, heard=best_words(heard))
    return heard, intent
