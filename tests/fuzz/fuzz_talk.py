"""What somebody types next: it goes by what was said last, and often says something else."""

from __future__ import annotations

import re
from collections.abc import Callable
from random import Random

from fuzz_sheets import Plan
from num2words import num2words

Line = tuple[str, frozenset[str]]


def in_words(number: str) -> str:
    """ "2.05" as it is spoken: two point zero five."""
    whole, _, digits = number.partition(".")
    words = str(num2words(int(whole))).replace("-", " ")
    return words + (f" point {' '.join(num2words(int(digit)) for digit in digits)}" if digits else "")


class Talker:
    def __init__(self, rng: Random, plan: Plan, wildness: float) -> None:
        self.rng, self.plan, self.wildness = rng, plan, wildness

    def next(self, said: list[str]) -> Line:
        """`said`: the sentences of the last turn."""
        if self.rng.random() < self.wildness:
            return self._wild()
        text = " ".join(said)
        for pattern, answer in ANSWERS:
            found = re.findall(pattern, text, re.IGNORECASE)
            if found:
                return answer(self, found[-1])
        return ("next", frozenset())

    def _number(self, name: str) -> Line:
        one = next((r for r in self.plan.readings.values() if r.name == name.lower()), None)
        values = one.values if one else ("2.4",)
        value = self.rng.choice(values)
        prefix = f"{name.lower()} " if self.rng.random() < 0.3 else ""
        return (prefix + in_words(value), frozenset({value}))

    def _decide(self, name: str) -> Line:
        return (
            self.rng.choice(("judged, the foreman has seen it",) * 3 + ("do it again", "fit new", "fit new")),
            frozenset(),
        )

    def _wild(self) -> Line:
        rng = self.rng
        if self.plan.readings and rng.random() < 0.45:
            one = rng.choice(list(self.plan.readings.values()))
            value = rng.choice(one.values)
            named = f"{one.name} " if rng.random() < 0.85 else ""
            return (f"correction, {named}{in_words(value)}", frozenset({value}))
        line = rng.choice(self._others())
        return (line, frozenset({"20"} if line == "twenty" else ()))

    def _others(self) -> list[str]:
        holds = [str(step.hold) for step in self.plan.steps if step.hold]
        names = [item.replace("-", " ") for item in self.plan.items]
        near = [f"{hold.rsplit(' ', 1)[0]} wet" for hold in holds] + [hold.replace(" is ", " was ") for hold in holds]
        verbs = [f"{verb} {name}" for verb in ("took off", "put back", "fitted", "removed") for name in names]
        return [
            *["next"] * 4, *["go back"] * 8, *["strike that"] * 8, *["do it again"] * 2, *["judged, it will do"] * 4,
            *["affirm"] * 3, "negative", "say again", "where are we", "what is left", "stand by", "carry on",
            "stop the job", "note, a scratch", "remind me to oil the chain", "done, oil the chain", "fit new",
            "correction", "good", "doubtful", "mark", "timer two minutes", "the weather is fine", "twenty", *holds,
            *near, *verbs,
        ]  # fmt: skip


def _say(line: str) -> Callable[[Talker, str], Line]:
    return lambda talker, found: (line, frozenset())


def _one_of(*lines: str) -> Callable[[Talker, str], Line]:
    return lambda talker, found: (talker.rng.choice(lines), frozenset())


ANSWERS: list[tuple[str, Callable[[Talker, str], Line]]] = [
    (r"Stop the job unfinished: affirm or negative", _one_of("affirm", "negative", "negative")),
    (r"affirm or negative\?", _say("affirm")),
    (r"Standing by", _say("carry on")),
    (r"Go back to (?:it|step)", _say("go back")),
    (r"The ([a-z ]+) keeps this step open\. Do it again", _say("judged, the foreman has seen it")),
    (r"Measure again, fit new", lambda t, name: t._decide("")),
    (r"[Ss]ay: (confirm [a-z ]+)\.", lambda t, phrase: (phrase, frozenset())),
    (r"again: (confirm [a-z ]+)\.", lambda t, phrase: (phrase, frozenset())),
    (r"Not confirmed: (confirm [a-z ]+)\.", lambda t, phrase: (phrase, frozenset())),
    (r"look: good, doubtful or bad", _one_of("good", "good", "good", "doubtful", "bad")),
    (r"Tell me the ([a-z ]+?)[.,]", lambda t, name: t._number(name)),
    (r"(?:^|[.] )([A-Z][a-z ]+), point \w+ of \w+", lambda t, name: t._number(name)),
    (r"I still need the ([a-z ]+)\.", lambda t, name: t._number(name)),
    (r"[Ss]ay: ((?:took off|put back|fitted|done,) [a-z ]+)\.", lambda t, words: (words, frozenset())),
    (r"First the (seal)", lambda t, name: (f"fitted {name}", frozenset())),
]  # fmt: skip
