"""Free texts as they were meant: what can't be meant beside a number, commands and names by their sound. Pure."""

from __future__ import annotations

import re
from collections.abc import Callable

from bench_voice.core.intents import ITEM_KINDS, Expected
from bench_voice.phonetics import letter_distance, sound_key
from bench_voice.words.phrases import Language

_LONGEST_COMMAND = 4  # words
_LEAD_NEAR = 0.5  # letters' distance of what stands before an item's name and a lead-in ("took off") that it may be
_LONGEST_LEAD = 3  # words
_LEAST_REPEATED = 3  # words: shorter sentences may be said twice, and rows of digits repeat themselves
_NAME_NEAR = 0.34  # letters' distance of a free text's beginning and a name below which it is that name

# How a free text spells what can't be meant there: beside "point" only a number stands. Own list, from the
# development set.
_NUMBERS = {"to": "two", "too": "two", "for": "four", "fore": "four", "won": "one", "ate": "eight", "tree": "three"}
_MENDS: tuple[tuple[re.Pattern[str], str | Callable[[re.Match[str]], str]], ...] = (
    (re.compile(r"\b(?:not|naught|nod) point\b"), "nought point"),
    (re.compile(r"(?<=\bpoint )(to|too|for|fore|won|ate|tree)\b"), lambda m: _NUMBERS[m[1]]),
    (re.compile(r"\b(to|too|for|fore|won|ate|tree)(?= point\b)"), lambda m: _NUMBERS[m[1]]),
    # "Thirty boy one": what a free ear writes for a "point" that is spoken fast.
    (re.compile(r"(?<=\w )boy (?=(?:zero|oh|one|two|three|four|five|six|seven|eight|nine)\b)"), "point "),
    # The end of "newton metres" is often lost, and no step reads a force.
    (re.compile(r"\bnewt(?:ons?)?(?: (?:matters?|measures?|mappers?))?$"), "newton metres"),
    (re.compile(r"\bnew(?:ton|t)? (?=met(?:er|re)s?\b)"), "newton "),
)


def said_once(text: str, language: Language) -> str:
    """A sentence that a free ear writes over and over until it is cut off, once: a Whisper does so with short ones."""
    unit = repeated(text)
    return text if all(word in language.number_words for word in unit.split()) else unit


def repeated(text: str) -> str:
    """What the text repeats, three words or more, from its beginning to its end; else the text."""
    words = text.split()
    for length in range(_LEAST_REPEATED, len(words) // 2 + 1):
        if all(word == words[at % length] for at, word in enumerate(words)):
            return " ".join(words[:length])
    return text


def mended(free_words: str, language: Language) -> str:
    """Free text with numbers beside "point" spelt as numbers. English only."""
    if language.code == "en":
        for pattern, instead in _MENDS:
            free_words = pattern.sub(instead, free_words)
    return free_words


def respelt(free_words: str, language: Language) -> str:
    """ "A firm" is *affirm*: free text of a few words that sounds exactly like a command is that command. Never a hold
    phrase, and never for one ear: what it gives must still be heard by the other."""
    if len(free_words.split()) > _LONGEST_COMMAND or tuple(free_words.split()) in language.command_of:
        return free_words
    key = sound_key(free_words)
    for phrase in language.command_of:
        if len(phrase) <= _LONGEST_COMMAND and sound_key(" ".join(phrase)) == key:
            return " ".join(phrase)
    return free_words


def with_name(text: str, expected: Expected, language: Language) -> str:
    """ "Rope with eight point nine" at a step that waits for the rope width: free text whose beginning, before a
    number, sounds like the name of a reading that is wanted. Empty for other texts."""
    words = text.split()
    wanted = [expected.sheet.readings[name] for name in dict.fromkeys((*expected.waits, *expected.step.readings))]
    found: tuple[float, str] = (_NAME_NEAR, "")
    for spec in wanted:
        for name in (spec.name, *spec.aliases):
            length = len(name.split())
            for head in range(max(1, length - 1), min(length + 2, len(words))):
                if words[head] in language.number_words:
                    far = letter_distance(" ".join(words[:head]), name)
                    found = min(found, (far, " ".join((name.lower(), *words[head:]))))
    return found[1]


def with_lead_in(text: str, expected: Expected, language: Language) -> str:
    """ "Two off gear cover", "for back gear cover": an item of the sheet by its whole name, after something like a
    lead-in. In noise the free ears lose the beginning of "took off". Empty for other texts."""
    found: tuple[float, str] = (_LEAD_NEAR, "")
    leads = [lead for kind in ITEM_KINDS for lead in language.lead_ins.get(kind, ())]
    for item in expected.sheet.items.values():
        for name in (item.name, *item.aliases):
            head = text.removesuffix(f" {name.lower()}")
            if head == text or len(head.split()) > _LONGEST_LEAD:
                continue
            for lead in leads:
                if head.endswith(f" {lead}"):  # "say: took off gear cover"
                    return ""
                found = min(found, (letter_distance(head, lead), f"{lead} {name.lower()}"))
    return found[1]
