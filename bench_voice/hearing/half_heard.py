"""What was heard well enough to ask about it, though not to be taken: half an item, something like a command. Pure."""

from __future__ import annotations

from itertools import combinations

from bench_voice.core.intents import ITEM_KINDS, Expected, Intent, Kind, id_of
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.mend import with_lead_in
from bench_voice.hearing.witness import NEAR, NO_COMMAND, Witness, same
from bench_voice.phonetics import letter_distance
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import Language


def half_heard(case: Case, expected: Expected, language: Language) -> Intent | None:
    """To be offered where nothing better is known of an utterance; never a hold."""
    return _item(case, expected, language) or _command(case)


def _item(case: Case, expected: Expected, language: Language) -> Intent | None:
    """An item that two ears mean or may mean, one of which lost its lead-in. What two families of ears wrote alike was
    said so: "look at the gear cover"."""
    for one, other in combinations(case.writers, 2):
        if one.family != other.family and one.heard.free_words == other.heard.free_words:
            return None
    means = [*(_meant(w, expected, language) for w in case.writers), *(first.intent for first in case.firsts)]
    items = [intent for intent in means if intent.kind in ITEM_KINDS and id_of(intent) is not None]
    return next((one for one, other in combinations(items, 2) if same(one, other)), None)


def _meant(writer: Witness, expected: Expected, language: Language) -> Intent:
    """What its free text means, or the item that it ends with, as its beginning may mean."""
    if writer.free is not None and writer.free.kind is not Kind.UNKNOWN:
        return writer.free
    return understand(with_lead_in(writer.heard.free_words or "", expected, language), expected, language)


def _command(case: Case) -> Intent | None:
    """A command of several words that the first ear heard, and two free ears something that sounds like it: "undo that"
    is "and do that" to them."""
    for first in case.firsts:
        words = first.heard.words
        if first.intent.kind in NO_COMMAND or len(words.split()) < 2:
            continue
        if sum(letter_distance(words, w.heard.free_words or "") <= NEAR for w in case.writers) > 1:
            return first.intent
    return None
