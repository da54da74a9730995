"""What turns a hold's phrase round: the same with a small word exchanged ("was", "is not", "conform"). Pure.

In noise the ears write the likelier sentence, so "confirm everyone was clear of the mixer" may be the phrase to three
of them. The phone networks hear the difference, and now and then an ear writes it.
"""

from __future__ import annotations

from bench_voice.core.intents import Intent
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.sounded import whole_leads
from bench_voice.words.phrases import Language

# Chosen on the develop and calibrate parts' holds and such contraries of them, in noise; see docs/hearing.md.
_THOUGHT_OF = 0.2  # weight of a contrary among an ear's alternatives
# How far the whole phrase has to lead over each, on average of the networks: by its sounds alone; where the first ear
# heard it; where two others did; over a text that only begins otherwise ("conform"), which nobody says of himself.
_BY_SOUND, _HEARD_BY_FIRST, _BY_TWO, _BEGINNING = 14.0, 8.0, 10.0, 4.0


def contraries(phrase: str, language: Language) -> list[str]:
    """The phrase with one of its small words turned round."""
    words = phrase.split()
    return [
        " ".join((*words[:at], other, *words[at + 1 :]))
        for at, word in enumerate(words)
        for other in language.contraries.get(word, ())
    ]


def leads_by_sound(case: Case, phrase: str, language: Language) -> bool:
    """Whether it leads far enough over each contrary to be taken by its sounds, and over none falls behind in either
    network. One that they were not asked about denies it, and so does a language that names none."""
    leads = [whole_leads(case, phrase, other) for other in contraries(phrase, language)]
    return bool(leads) and all(len(each) > 1 and min(each) >= 0 and _mean(each) >= _BY_SOUND for each in leads)


def is_turned_round(case: Case, taken: Intent, phrase: str, language: Language) -> bool:
    """Whether a contrary may have been said instead of the phrase that two ears mean: an ear wrote one or thought of
    it, or both networks find one nearly as likely."""
    if _is_written(case, phrase, language):
        return True
    of_verbs = _HEARD_BY_FIRST if case.is_heard_by_first(taken) else _BY_TWO
    begin = phrase.split()[0]
    for other in contraries(phrase, language):
        leads = whole_leads(case, phrase, other)
        least = of_verbs if other.split()[0] == begin else _BEGINNING
        if len(leads) > 1 and _mean(leads) < least:
            return True
    return False


def is_whole(case: Case, taken: Intent, phrase: str) -> bool:
    """The first ear or two free ones have it word for word. Held to the step's words two Whispers had "... sprayer is
    empty" of "was" in noise, where one of them had written "square" and moonshine something else."""
    return case.is_heard_by_first(taken) or sum(w.heard.free_words == phrase for w in case.writers) > 1


def _is_written(case: Case, phrase: str, language: Language) -> bool:
    """A free ear wrote a contrary of one of its verbs, or gives it weight."""
    wrote = [_has_contrary(w.heard.free_words or "", phrase, language) for w in case.writers]
    weights = (
        sum(weight for text, weight in w.heard.alternatives if _has_contrary(text, phrase, language))
        for w in case.frees
    )
    return any(wrote) or any(weight >= _THOUGHT_OF for weight in weights)


def _has_contrary(text: str, phrase: str, language: Language) -> bool:
    """Every word of a contrary that the phrase hasn't is there. Its first word is left out: "and firm" is "confirm"."""
    said, own = set(text.split()), phrase.split()
    others = (set(other.split()) - set(own) for word in own[1:] for other in language.contraries.get(word, ()))
    return any(other <= said for other in others if other)


def _mean(values: list[float]) -> float:
    return sum(values) / len(values)


__all__ = ["contraries", "is_turned_round", "is_whole", "leads_by_sound"]
