"""Sound to intents: frames through the endpointer, each utterance to every ear at once, one decision back."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from typing import Protocol

from bench_voice.core.intents import Expected, Intent, Unknown
from bench_voice.errors import EarFailed
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.cascade import is_plain_to_all, texts_for, wants
from bench_voice.hearing.homophones import as_phrase
from bench_voice.phonetics import Ways, no_ways
from bench_voice.ports import AudioSource, Endpointer, Heard, Pass, Utterance
from bench_voice.words.phrases import Language


class Ears(Protocol):
    """All ears at once (`audio.ears.Ears`); answers in the ears' order. An ear that fails is told by EarFailed."""

    @property
    def names(self) -> tuple[str, ...]: ...
    def unloaded(self) -> tuple[EarFailed, ...]: ...
    def leave_out(self, name: str) -> None: ...
    def prepare(self, expected: Expected) -> None: ...
    def hear(self, utterance: Utterance, is_enough: Callable[[tuple[Heard, ...]], bool] = ...) -> tuple[Heard, ...]: ...
    def more(
        self, utterance: Utterance, heard: Sequence[Heard], which: Pass, texts: Sequence[str] = ()
    ) -> tuple[Heard, ...]: ...
    def close(self) -> None: ...


class Listener:
    """Owns the ears. Not for more than one thread at a time.

    `addressed`: what of the ears' answers is for us (without a call word); () for what isn't. `ways`: of saying a word.
    `is_hurried`: the slowest ear is not waited for where it can't change anything.
    """

    def __init__(
        self,
        ears: Ears,
        language: Language,
        addressed: Callable[[Sequence[Heard]], tuple[Heard, ...]] = tuple,
        ways: Ways = no_ways,
        is_hurried: bool = False,
    ) -> None:
        self._ears, self._language, self._addressed, self._ways = ears, language, addressed, ways
        self._is_hurried = is_hurried

    @property
    def names(self) -> tuple[str, ...]:
        return self._ears.names

    def unloaded(self) -> tuple[EarFailed, ...]:
        """Waits until the ears have loaded; those that cannot. From any thread, before the first `hear` only."""
        return self._ears.unloaded()

    def leave_out(self, name: str) -> None:
        """Goes on without that ear."""
        self._ears.leave_out(name)

    def hear(
        self, utterance: Utterance, expected: Expected, is_wanted: Callable[[], bool] = lambda: True
    ) -> tuple[Heard, ...]:
        """What each ear made of it, in the ears' order, with the looks that it took to decide.

        `is_wanted`: asked before each pass; False when the speaker has gone on and nobody will ask for the answer.
        """
        if not is_wanted():
            return ()
        self._ears.prepare(expected)

        def is_enough(some: tuple[Heard, ...]) -> bool:
            if not self._is_hurried:
                return False
            for_us = self._addressed(at_hold(some, expected, self._ways))
            return is_plain_to_all(expected, for_us, self._language)

        heard = at_hold(self._ears.hear(utterance, is_enough), expected, self._ways)
        while (
            is_wanted()
            and (for_us := self._addressed(heard))
            and (which := wants(expected, for_us, self._language)) is not None
        ):
            texts: tuple[str, ...] = ()
            if which is not Pass.CLOSER:
                lead = _taken_off(heard, for_us)
                texts = tuple(f"{lead}{text}" for text in texts_for(which, expected, for_us, self._language))
            more = self._ears.more(utterance, heard, which, texts)
            if more == heard:
                break
            heard = at_hold(more, expected, self._ways)
        return heard

    def meaning(self, heard: Sequence[Heard], expected: Expected) -> Intent | None:
        """The agreed meaning; an UNKNOWN intent asks to say it again; None is talk that needs no answer."""
        return meant(agree(expected, heard, self._language), heard)

    def close(self) -> None:
        self._ears.close()


def at_hold(heard: Sequence[Heard], expected: Expected, ways: Ways) -> tuple[Heard, ...]:
    """What was heard, with the hold's phrase where its very sounds were written."""
    return as_phrase(heard, expected.hold.phrase, ways) if expected.hold is not None else tuple(heard)


def meant(decision: Decision, heard: Sequence[Heard]) -> Intent | None:
    """Of a decision, what `Listener.meaning` gives."""
    if decision.kind is Act.NOTHING:
        return None
    if decision.kind is Act.AGAIN or decision.intent is None:
        return Unknown(heard=best_words(heard))
    return decision.intent


def _taken_off(heard: Sequence[Heard], for_us: Sequence[Heard]) -> str:
    """The call word as it was heard, with a space behind it; empty where none was taken off."""
    for whole, rest in zip(heard, for_us, strict=True):
        if whole.free_words and rest.free_words and whole.free_words != rest.free_words:
            return whole.free_words.removesuffix(rest.free_words)
    return ""


def best_words(heard: Sequence[Heard]) -> str:
    """To show of what had no meaning: free text before words that a grammar forced."""
    free = next((one.free_words for one in heard if one.free_words), "")
    return free or next((one.words for one in heard if one.words), "")


def utterances(source: AudioSource, endpointer: Endpointer, is_open: Callable[[], bool]) -> Iterator[Utterance]:
    """Every utterance of a source until it ends or `is_open` says no."""
    for frame in source.frames():
        if not is_open():
            return
        found = endpointer.feed(frame)
        if found is not None:
            yield found
    last = endpointer.flush()
    if last is not None and is_open():
        yield last
