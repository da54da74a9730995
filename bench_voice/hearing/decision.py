"""What is to be done with an utterance, and how a decision is made of a meaning. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import StrEnum

from bench_voice.core.intents import (
    Asks,
    Intent,
    Kind,
    Question,
    id_of,
    options_of,
    unit_of,
)
from bench_voice.hearing.witness import same


class Act(StrEnum):
    """What to do with an utterance."""

    RECORD = "record"
    ASK = "ask"
    AGAIN = "again"
    NOTHING = "nothing"


@dataclass(frozen=True)
class Decision:
    """`intent`: RECORD: what to take; ASK: an AMBIGUOUS intent with its options; else None. `why` names the rule."""

    kind: Act
    intent: Intent | None = None
    why: str = ""

    @property
    def options(self) -> tuple[Intent, ...]:
        return options_of(self.intent) if self.intent else ()


def record(intent: Intent, confidence: float, why: str) -> Decision:
    """An intent that is itself a question is asked, whoever agrees on it."""
    if intent.kind is Kind.AMBIGUOUS:
        return Decision(Act.ASK, intent, why)
    return Decision(Act.RECORD, replace(intent, confidence=round(confidence, 2)), why)


def ask_about(options: Sequence[Intent], why: str) -> Decision:
    """Offers one meaning, or names several values."""
    different: list[Intent] = []
    for option in options:
        if not any(same(option, other) for other in different):
            different.append(option)
    is_offer = len(different) == 1
    asks = Asks.CONFIRM_NUMBER if is_offer else Asks.WHICH_NUMBER
    first = different[0]
    question = Question(
        name=id_of(first),
        unit=unit_of(first),
        heard=first.heard,
        asks=asks,
        options=tuple(different),
        is_offer=is_offer,
    )
    return Decision(Act.ASK, question, why)
