"""What of all that is said is for the assistant: everything, what begins with its call word, or what is said while a
key is held. Pure; times in seconds of one clock."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from bench_voice.errors import UsageError
from bench_voice.grammar.vocabulary import is_sayable
from bench_voice.phonetics import sound_key
from bench_voice.ports import Heard
from bench_voice.words.phrases import Language


class Mode(StrEnum):
    OPEN = "open"
    CALL_WORD = "call-word"
    PUSH_TO_TALK = "push-to-talk"


ATTENTION_S = 8.0  # after the call word alone: so long the next utterance needs none
MOST_CALL_WORDS = 3
_ENOUGH_WRITERS = 2


@dataclass(frozen=True)
class Called:
    """`heard`: without the call word. `is_for_us` False: not every ear heard it. `is_bare`: it was said alone."""

    is_for_us: bool
    heard: tuple[Heard, ...] = ()
    is_bare: bool = False


def after_call(words: str, call: str) -> str | None:
    """The words behind the call word, None where they do not begin with it. A spelling that sounds the same counts."""
    said, wanted = words.split(), call.split()
    start = said[: len(wanted)]
    if start == wanted or (len(start) == len(wanted) and sound_key(" ".join(start)) == sound_key(call)):
        return " ".join(said[len(wanted) :])
    return None


def called(heard: Sequence[Heard], call: str) -> Called:
    """Takes the call word from what each ear heard. Runs before the agreement.

    An ear that writes freely is asked by its free words: held to the grammar it hears the call word everywhere. Every
    ear that heard anything must have heard it, but where two free ears did, another may have heard something else in
    the noise: what it heard is left out.
    """
    rest: list[Heard] = []
    anyone = False
    writers = {one.ear for one in heard if one.free_words and after_call(one.free_words, call) is not None}
    for one in heard:
        if not one.words and not one.free_words:
            rest.append(one)
            continue
        anyone = True
        free = None if one.free_words is None else after_call(one.free_words, call)
        words = after_call(one.words, call)
        fits = tuple(replace(fit, words=text) for fit in one.fits if (text := after_call(fit.words, call)))
        soundings = tuple(replace(of, words=text) for of in one.soundings if (text := after_call(of.words, call)))
        one = replace(one, by_phones=after_call(one.by_phones, call) or "") if one.by_phones else one
        if (words if one.free_words is None else free) is None:
            if len(writers) < _ENOUGH_WRITERS:
                return Called(False)
            left = one.free_words and ""
            rest.append(
                replace(one, words="", weight=0.0, alternatives=(), free_words=left, fits=fits, soundings=soundings)
            )
            continue
        others = tuple(
            (text, weight) for text, weight in ((after_call(t, call), w) for t, w in one.alternatives) if text
        )
        rest.append(
            replace(one, words=words or "", free_words=free, alternatives=others, fits=fits, soundings=soundings)
        )
    if not anyone:
        return Called(False)
    is_bare = not any(one.words or one.free_words for one in rest)
    return Called(True, tuple(rest), is_bare)


def check_call_word(call: str, language: Language, has_pronunciation: Callable[[str], bool]) -> str:
    """The call word as it is listened for. Raises UsageError `call-word` with what to choose instead.

    `has_pronunciation`: whether the first ear's dictionary knows a word.
    """
    plain = " ".join(call.lower().split())
    words = plain.split()

    def fault(what: str, mend: str) -> UsageError:
        return UsageError(what, mend=mend, slug="call-word", where="call_word")

    if not words:
        raise fault("The call word is empty.", "Write one that is not said otherwise, such as: bench.")
    if len(words) > MOST_CALL_WORDS:
        raise fault(f'The call word "{plain}" has {len(words)} words.', f"Use at most {MOST_CALL_WORDS}.")
    if not is_sayable(plain):
        raise fault(f'The call word "{plain}" cannot be spoken from its letters.', "Use letters only, with a vowel.")
    taken = {word for phrase in language.command_of for word in phrase[:1]} | set(language.number_words)
    taken |= {phrase[0] for phrase in (*language.lead_in_of, *language.units) if phrase}
    if words[0] in taken:
        raise fault(f'The call word "{plain}" begins as a command or a number does.', "Choose another word.")
    unknown = [word for word in words if not has_pronunciation(word)]
    if unknown:
        raise fault(
            f'The recogniser does not know the call word "{unknown[0]}".',
            "Choose a word of the dictionary that is not used otherwise, such as: bench, workshop, mechanic.",
        )
    return plain


@dataclass
class CallWord:
    """The call word with its attention: after the word alone the next utterance needs none. The grammar reads
    `word` and `is_needed` each time it is made."""

    word: str
    open_until_s: float = float("-inf")
    is_needed: bool = True

    def tick(self, at_s: float) -> None:
        self.is_needed = at_s >= self.open_until_s

    def peek(self, heard: Sequence[Heard], at_s: float) -> tuple[Heard, ...]:
        """What of an utterance would be for us; changes nothing. () for what is not, and for the word alone."""
        found = called(heard, self.word)
        if found.is_for_us:
            return () if found.is_bare else found.heard
        return tuple(heard) if at_s < self.open_until_s else ()

    def take(self, heard: Sequence[Heard], at_s: float) -> Called:
        """What of an utterance is for us."""
        self.tick(at_s)
        found = called(heard, self.word)
        if found.is_for_us:
            self.open_until_s = at_s + ATTENTION_S if found.is_bare else float("-inf")
        elif not self.is_needed and any(one.words or one.free_words for one in heard):
            found = Called(True, tuple(heard))
            self.open_until_s = float("-inf")
        self.tick(at_s)
        return found


class PushToTalk:
    """A key that is held, or pressed once to begin and once to end. Terminals send no release, only repeats: a press
    that repeats is taken as held and ends shortly after the last repeat; `release` is for devices that tell it."""

    HELD_GAP_S = 0.3  # between two repeats; the first comes after up to 0.7 s
    FIRST_GAP_S = 0.75

    def __init__(self) -> None:
        self._is_open = False
        self._pressed_s = float("-inf")
        self._last_s = float("-inf")
        self._is_held = False

    def press(self, at_s: float) -> None:
        since = at_s - self._last_s
        self._last_s = at_s
        if self._is_open and since <= (self.HELD_GAP_S if self._is_held else self.FIRST_GAP_S):
            self._is_held = True
        elif self._is_open:
            self._is_open = False
        else:
            self._is_open, self._is_held, self._pressed_s = True, False, at_s

    def release(self, at_s: float) -> None:
        """A press shorter than half a second stays open until the next one."""
        if self._is_open and at_s - self._pressed_s >= 0.5:
            self._is_open = False

    def is_open(self, at_s: float) -> bool:
        if self._is_open and self._is_held and at_s - self._last_s > self.HELD_GAP_S:
            self._is_open = False
        return self._is_open
