"""A whole recording as one utterance: what `hear` is given. Silence at both ends is cut by the endpointer.

The ears take as long as the utterance is, and whisper hears no more than 30 s of it: a recording that holds more than a
sentence is refused while it is read, before any ear is asked. `work --listen` takes such a one sentence by sentence.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from itertools import islice

from bench_voice.core.intents import Expected, Intent, Unknown
from bench_voice.errors import SoundFileError
from bench_voice.ports import RATE_HZ, AudioSource, Endpointer, Heard, Utterance
from bench_voice.session.listen import Listener, best_words, utterances

# Own choice: a spoken sentence is over in a few seconds; this leaves room for a slow speaker and for a long note.
LONGEST_SPEECH_S = 20.0  # with the short pauses inside it, as the ears are given it
LONGEST_SOUND_S = 600.0  # silence costs a second or two for so much
_FRAME_S = 0.02


def joined(found: Iterable[Utterance]) -> Utterance | None:
    """One recording is one answer: pauses inside it do not cut it. None where there is no speech."""
    parts = tuple(found)
    if not parts:
        return None
    return Utterance(
        b"".join(part.pcm for part in parts), parts[0].start_ms, parts[-1].end_ms, sum(part.speech_s for part in parts)
    )


def hear_whole(
    source: AudioSource, endpointer: Endpointer, listener: Listener, expected: Expected, where: str = ""
) -> tuple[tuple[Heard, ...], Intent]:
    """What the ears made of it and what it means; UNKNOWN with no words where there is no speech.

    Raises SoundFileError `sound-long` for more than LONGEST_SPEECH_S of speech or LONGEST_SOUND_S of sound; `where` is
    the recording's name for people.
    """
    utterance = joined(_short(utterances(_ShortSource(source, where), endpointer, lambda: True), where))
    if utterance is None:
        return (), Unknown()
    heard = listener.hear(utterance, expected)
    intent = listener.meaning(heard, expected)
    if intent is None:
        intent = Unknown(heard=best_words(heard))
    return heard, intent


class _ShortSource:
    """A source that is refused once it goes on for longer than LONGEST_SOUND_S."""

    def __init__(self, source: AudioSource, where: str) -> None:
        self._source, self._where = source, where

    def frames(self) -> Iterator[bytes]:
        frames = self._source.frames()
        yield from islice(frames, round(LONGEST_SOUND_S / _FRAME_S))
        if next(frames, None) is not None:
            raise _too_long(f"is longer than {LONGEST_SOUND_S / 60:.0f} minutes", self._where)

    def close(self) -> None:
        self._source.close()


def _short(found: Iterable[Utterance], where: str) -> Iterator[Utterance]:
    given_s = 0.0
    for utterance in found:
        given_s += len(utterance.pcm) / 2 / RATE_HZ
        if given_s > LONGEST_SPEECH_S:
            raise _too_long(f"holds more than {LONGEST_SPEECH_S:.0f} s of speech", where)
        yield utterance


def _too_long(what: str, where: str) -> SoundFileError:
    return SoundFileError(
        f"This recording {what}, and one sentence is heard at a time.",
        mend="Cut it down to the sentence, or let it be taken sentence by sentence: "
        "bench-voice work SHEET --listen FILE.wav.",
        slug="sound-long",
        where=where,
    )
