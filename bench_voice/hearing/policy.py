"""What is done at which chance, by what a mistake would cost. Pure. Every number here is a stated risk."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from bench_voice.core.intents import ITEM_KINDS, VALUES, Intent, Kind, id_of
from bench_voice.hearing.candidates import Evidence
from bench_voice.hearing.decision import Act, Decision, ask_about, record

HOLDS = frozenset({Kind.CONFIRM, Kind.AFFIRM, Kind.NEGATIVE})
# Their text is free: a recogniser writes it, and nothing can be held against it.
FREE_TEXT = frozenset({Kind.NOTE, Kind.REMINDER, Kind.DONE, Kind.JUDGED, *ITEM_KINDS})
# Says something, changes nothing.
HARMLESS = frozenset(
    {Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.HELP, Kind.QUERY, Kind.LOUDER, Kind.QUIETER, Kind.FASTER, Kind.SLOWER,
     Kind.SOUND_CHECK}
)  # fmt: skip


@dataclass(frozen=True)
class Least:
    """The least chance to record it, and to offer it or name it in a question; above 1: never."""

    record: float
    ask: float


# A wrong value may go into the record: one in two thousand. A wrong command costs an undo, a harmless one a sentence.
# A hold, affirm and negative are read back or answer a question; the vetoes hold them to more than a chance.
LEAST = {
    "value": Least(0.993, 0.3),
    "command": Least(0.9, 0.4),
    "item": Least(0.95, 0.4),
    "harmless": Least(0.9, 0.4),
    "hold": Least(0.5, 2.0),
    "question": Least(0.4, 0.4),
}
BY_TEXTS = 0.85  # where no network was asked: two recognisers of different families agree
SECOND = 0.05  # a second value is named beside the first
FOR_US = 0.35  # something was said to us: "say again"
SILENT_S = 0.25  # shorter is no speech


def group_of(intent: Intent) -> str:
    """What a mistake would cost."""
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


def proposed(ranked: Sequence[tuple[float, Intent]], for_us: float, evidence: Evidence) -> Decision:
    """`ranked`: every meaning with its chance, likeliest first; `for_us`: the chance that anything was said to us."""
    if (written := _written(evidence)) is not None:
        return record(written, 0.9, "its beginning by two witnesses, its text by one")
    ranked = [(chance, intent) for chance, intent in ranked if group_of(intent) != "text"]
    if ranked:
        chance, best = ranked[0]
        least = LEAST[group_of(best)]
        if chance >= (least.record if evidence.networks else min(least.record, BY_TEXTS)):
            return record(best, chance, "likely enough")
        if chance >= least.ask and for_us >= FOR_US:
            others = [intent for other, intent in ranked[1:2] if other >= SECOND and group_of(intent) == "value"]
            return ask_about([best, *(others if group_of(best) == "value" else ())], "not likely enough")
    return Decision(Act.AGAIN if for_us >= FOR_US else Act.NOTHING, why="nothing likely")


def _written(evidence: Evidence) -> Intent | None:
    """A note, a reminder, an item that the sheet lacks: two recognisers of different families began it so, or one and
    a network; the text is the first one's."""
    for text in evidence.texts:
        if text.is_free and group_of(text.intent) == "text" and not _is_named(evidence, text.intent.kind):
            families = {other.family for other in evidence.texts if other.intent.kind is text.intent.kind}
            if len(families) > 1 or opened(evidence, text.intent.kind):
                return text.intent
    return None


def _is_named(evidence: Evidence, kind: Kind) -> bool:
    """Whether a network hears an item of the sheet there: "put back your cover", the gear cover."""
    best = (found[0].intent for found in evidence.networks.values() if found)
    return any(intent.kind is kind and id_of(intent) is not None for intent in best)


def opened(evidence: Evidence, kind: Kind) -> bool:
    """Whether a network's likeliest sentence begins as this kind does."""
    leads = evidence.language.lead_ins.get(kind, ())
    best = (found[0].words for found in evidence.networks.values() if found)
    return any(f"{words} ".startswith(f"{lead} ") for words in best for lead in leads)
