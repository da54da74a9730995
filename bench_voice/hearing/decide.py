"""From what the witnesses heard to a decision: record, ask, say again, or nothing. Pure.

Evidence -> every meaning that a witness has -> its figures -> the chance that it was said -> what is done at that
chance -> what no chance may do.
"""

from __future__ import annotations

from collections.abc import Sequence

from bench_voice.core.intents import ITEM_KINDS, VALUES, Expected, Intent, id_of
from bench_voice.hearing.candidates import Evidence, evidence_of
from bench_voice.hearing.decision import Act, Decision, ask_about
from bench_voice.hearing.features import Subject, figures
from bench_voice.hearing.graph import Graph
from bench_voice.hearing.model import Model, load_model
from bench_voice.hearing.policy import HOLDS, SILENT_S, proposed
from bench_voice.hearing.safety import stopped
from bench_voice.ports import Heard
from bench_voice.words.phrases import Language, load_language


def decide(
    expected: Expected, heard: Sequence[Heard], language: Language | None = None, graph: Graph | None = None
) -> Decision:
    """The decision for one utterance. `graph`: of all that may be said now (`graph.compiled`), for phone networks."""
    language = language or load_language(expected.sheet.language)
    return decided(evidence_of(expected, heard, language, graph), load_model())


def joined(first: Decision, second: Decision) -> Decision:
    """`first`: the agreement of the recognisers; `second`: the search's. What the recognisers agree on is recorded
    unless the search names another value that may have been said, or an item of the sheet for one that it lacks.
    Otherwise the search may record what is no hold, or ask better."""
    if first.kind is Act.RECORD and first.intent is not None:
        return second if _is_doubted(first.intent, second) else first
    if second.kind is Act.RECORD and second.intent is not None and second.intent.kind not in HOLDS:
        return second
    if second.kind is Act.ASK and first.kind is not Act.NOTHING:
        return second
    return first


def _is_doubted(taken: Intent, second: Decision) -> bool:
    if taken.kind in VALUES:
        return second.kind is Act.ASK and len(second.options) > 1
    meant = second.intent if second.kind is Act.RECORD else next(iter(second.options), None)
    is_named = meant is not None and meant.kind is taken.kind and id_of(meant) is not None
    return taken.kind in ITEM_KINDS and id_of(taken) is None and is_named


def decided(evidence: Evidence, model: Model, without: frozenset[str] = frozenset()) -> Decision:
    """`without`: vetoes left out, for measuring."""
    if not evidence.texts and not any(evidence.networks.values()):
        return Decision(Act.AGAIN if evidence.has_failed else Act.NOTHING, why="no words")
    found = [(figures(evidence, intent), intent) for intent in evidence.candidates]
    ranked = sorted(((model.right.chance(known), intent) for known, intent in found), key=lambda pair: -pair[0])
    best = next((known for known, intent in found if ranked and intent is ranked[0][1]), None)
    for_us = model.for_us.chance(best) if best and evidence.sound.get("speech_s", 1.0) >= SILENT_S else 0.0
    decision = proposed(ranked, for_us, evidence)
    taken = decision.intent if decision.kind is Act.RECORD else next(iter(decision.options), None)
    while taken is not None and (veto := stopped(decision.kind, Subject.of(evidence, taken), without)) is not None:
        decision = ask_about([taken], veto.name) if veto.instead is Act.ASK else Decision(veto.instead, why=veto.name)
        taken = next(iter(decision.options), None)
    return decision
