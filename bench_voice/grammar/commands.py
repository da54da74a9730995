"""What is already taken in a language: phrases that mean something by themselves, and words that begin something.

For the proofreader of sheets: a thing with such a name could never be named.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

from bench_voice.words.phrases import load_language


@dataclass(frozen=True)
class Taken:
    """`phrases`: said alone they are a command or a judgement. `beginnings`: what follows them is theirs ("note …").
    `numbers`: words that can stand in a number. `negations`: words that deny. `hold_opening`: the word that each hold's
    phrase begins with."""

    phrases: frozenset[str]
    beginnings: tuple[str, ...]
    numbers: frozenset[str]
    negations: frozenset[str]
    hold_opening: str

    def why(self, name: str) -> str:
        """ "is a command", "begins like a command", "is a number", or "" where the name is free."""
        if name in self.phrases:
            return "is a command"
        if any(name == one or name.startswith(f"{one} ") for one in self.beginnings):
            return "begins like a command"
        return "is a number" if all(word in self.numbers for word in name.replace("-", " ").split()) else ""


@lru_cache(maxsize=4)
def taken(code: str) -> Taken:
    """Of the language `code`."""
    language = load_language(code)
    judgements = (phrase for phrases in language.judgements.values() for phrase in phrases)
    commands = (phrase for phrases in language.commands.values() for phrase in phrases)
    queries = (" ".join(phrase) for phrase in language.query_of)
    leads = {phrase for phrases in language.lead_ins.values() for phrase in phrases}
    numbers = frozenset(language.number_words) - language.numbers.and_ - language.numbers.articles
    return Taken(
        phrases=frozenset((*commands, *judgements, *queries)),
        beginnings=(language.hold_opening, *sorted(leads)),
        numbers=numbers,
        negations=language.negations,
        hold_opening=language.hold_opening,
    )
