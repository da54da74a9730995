"""P(right) of a meaning from the evidence, and what it does to the rules' decision. Pure; coefficients in model.json.

The rules (`agree`) say what may be done at all; the chance says whether the evidence is good enough for it. It can turn
a record into a question, a question into "say again", and, for what is no hold, a question into a record. It never
makes a hold, *affirm* or *negative* out of less than the rules want.

The model is logistic regression, fitted by `python -m tests.corpus fit` on the calibration part of the corpus.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib import resources
from typing import Any

from bench_voice.core.intents import VALUES, Intent, Kind, id_of
from bench_voice.hearing.evidence import Case
from bench_voice.hearing.figures import figures
from bench_voice.hearing.witness import FREE_TEXT, HOLDS, same
from bench_voice.ports import Heard

# Says something, changes nothing: one good ear is enough.
HARMLESS = frozenset(
    {Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.HELP, Kind.QUERY, Kind.LOUDER, Kind.QUIETER, Kind.FASTER, Kind.SLOWER,
     Kind.SOUND_CHECK}
)  # fmt: skip
# What may be offered: "Next: affirm or negative?". Never a hold, and no text that only one ear heard.
OFFERED = frozenset({"value", "command", "item", "harmless"})


@dataclass(frozen=True)
class Form:
    """One logistic model: P = 1 / (1 + exp(-(bias + sum of weight x figure)))."""

    bias: float
    weights: Mapping[str, float]

    def chance(self, found: Mapping[str, float]) -> float:
        score = self.bias + sum(weight * found.get(name, 0.0) for name, weight in self.weights.items())
        return 1 / (1 + math.exp(-max(-60.0, min(60.0, score))))


@dataclass(frozen=True)
class Model:
    """`forms`: by the looks that were taken (see figures). `record`, `ask`: least chances, by form and group; to record
    they may differ by who says it: "value both", "value free" (see `support_of`)."""

    forms: Mapping[str, Form]
    record: Mapping[str, Mapping[str, float]]
    ask: Mapping[str, Mapping[str, float]]

    def least(self, form: str, case: Case, intent: Intent) -> float:
        """The chance at which it may be recorded."""
        group = group_of(intent)
        return self.record[form].get(f"{group} {support_of(case, intent)}", self.record[form][group])


@cache
def load_model() -> Model:
    """The shipped coefficients, read once."""
    return read_model(resources.files("bench_voice.hearing").joinpath("model.json").read_text("utf-8"))


def read_model(text: str) -> Model:
    raw: dict[str, Any] = json.loads(text)
    forms = {name: Form(form["bias"], form["weights"]) for name, form in raw["forms"].items()}
    return Model(forms, raw["record"], raw["ask"])


def group_of(intent: Intent) -> str:
    """What a mistake would cost: a value, a hold, a command that changes something, free text, an answer only."""
    if intent.kind in VALUES:
        return "value"
    if intent.kind in HOLDS:
        return "hold"
    if intent.kind in HARMLESS:
        return "harmless"
    if intent.kind is Kind.AMBIGUOUS:
        return "question"
    if intent.kind in FREE_TEXT:
        return "text" if id_of(intent) is None else "item"
    return "command"


def support_of(case: Case, intent: Intent) -> str:
    """Who means it: *both*, the first ear and a free text; *free*, two free texts; *weak*, less than either."""
    if case.agreed is None or not same(case.agreed, intent):
        return "weak"
    return "both" if case.is_heard_by_first(intent) else "free"


def form_of(case: Case) -> str | None:
    """Which model weighs this case; None where the ears gave no figures to weigh (another engine, or too few yet)."""
    frees = case.frees
    if any("free" not in w.heard.evidence for w in case.writers):
        return None
    is_closer = all(w.is_limited for w in frees) and all(_has_fit(w.heard) for w in case.firsts)
    if case.firsts and frees:
        if any("confidence" in w.heard.evidence for w in case.firsts):
            return None
        are_all = case.third is not None and case.judge is not None
        if is_closer and not (are_all and case.is_judge_wanted):
            return "slow4" if are_all else "slow"
        return ("quick4" if are_all else "quick") if case.agreed is not None else None
    if not is_closer:
        return None
    return "free" if frees else "first"


def _has_fit(first: Heard) -> bool:
    """Whether its figures are those that the model was fitted with. Another engine has a confidence instead."""
    return not first.words or "worst" in first.evidence


def lacks_fit(first: Heard) -> bool:
    """Whether an ear that is held to a grammar has told no more than its words yet."""
    return bool(first.words) and not {"per_frame", "confidence"} & first.evidence.keys()


@dataclass(frozen=True)
class Ranked:
    intent: Intent
    chance: float
    group: str


def ranking(case: Case, form: str, model: Model) -> Sequence[Ranked]:
    """Every meaning that anybody had, likeliest first. *quick*: only what two mean."""
    is_quick = form.startswith("quick") and case.agreed is not None
    candidates = (case.agreed,) if is_quick and case.agreed is not None else case.candidates
    found = [Ranked(intent, model.forms[form].chance(figures(case, intent)), group_of(intent)) for intent in candidates]
    return sorted(found, key=lambda ranked: -ranked.chance)


def chance_of(intent: Intent, ranked: Sequence[Ranked]) -> float:
    return next((one.chance for one in ranked if same(one.intent, intent)), 0.0)
