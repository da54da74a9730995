"""How a sheet says that words are said: its `pronunciations`, held against the dictionary."""

from __future__ import annotations

from bench_voice.core.sheet import Pronunciation
from bench_voice.phonetics import PHONES, are_phones, dictionary, proposal, words_of


def pronounced(word: str, text: str, language: str, say: str = "") -> Pronunciation | tuple[str, str]:
    """How the sheet says `word`: phones ("S P R AA NG L") or known words ("sprawl angle"); else what and mend.

    `say`: how to write it for the voice, beside phones. In another language than English there is no dictionary to
    look words up in: they are for the voice only.
    """
    if words_of(word) != [word]:
        return f'"{word}" is not one word.', "Give each word its own line."
    if not text.split() or are_phones(text):
        return Pronunciation(word, tuple(text.split()), say)
    if say:
        lost = next(part for part in text.split() if part not in PHONES)
        return f'"{lost}" is not a phone.', f"Write CMU phones, perhaps {proposal(word)}."
    like = text.lower()
    if language != "en" or not dictionary():
        return Pronunciation(word, (), like)
    unknown = [part for part in words_of(like) if part not in dictionary()]
    if unknown or not words_of(like):
        what = f'The dictionary does not have "{unknown[0] if unknown else text}".'
        return what, f"Write known words that sound like it, or phones, perhaps {proposal(word)}."
    return Pronunciation(word, sum((dictionary()[part][0] for part in words_of(like)), ()), like)
