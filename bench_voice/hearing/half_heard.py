"""What was heard well enough to ask about it, though not to be taken: half an item, something like a command. Pure."""

from __future__ import annotations

from itertools import combinations

from bench_voice.core.intents import ITEM_KINDS, Intent, Kind
from bench_voice.hearing.evidence import FREE_TEXT, HOLDS, NEAR, VALUES, Case, same
from bench_voice.hearing.likeness import distance

_NEVER = VALUES | HOLDS | FREE_TEXT | {Kind.UNKNOWN, Kind.AMBIGUOUS}


def half_heard(case: Case) -> Intent | None:
    """To be offered where nothing better is known of an utterance; never a hold."""
    return _item(case) or _command(case)


def _item(case: Case) -> Intent | None:
    """An item that two ears mean or may mean, one of which lost its lead-in. What two families of ears wrote alike was
    said so: "look at the gear cover"."""
    for one, other in combinations(case.writers, 2):
        if one.family != other.family and one.heard.free_words == other.heard.free_words:
            return None
    means = [w.item if w.item.kind is not Kind.UNKNOWN else w.free or w.intent for w in (*case.writers, *case.firsts)]
    items = [intent for intent in means if intent.kind in ITEM_KINDS and intent.name is not None]
    return next((one for one, other in combinations(items, 2) if same(one, other)), None)


def _command(case: Case) -> Intent | None:
    """A command of several words that the first ear heard, and two free ears something that sounds like it: "undo that"
    is "and do that" to them."""
    for first in case.firsts:
        words = first.heard.words
        near = [w for w in case.writers if distance(words, w.heard.free_words or "") <= NEAR]
        if first.intent.kind not in _NEVER and len(words.split()) > 1 and len(near) > 1:
            return first.intent
    return None
