"""Proofreading: every rule over a whole job. A rule is a function `(sheet, places) -> list[Fault]`, linear in steps."""

from __future__ import annotations

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets import proof_flow, proof_limits, proof_words
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places

RULES = (
    proof_flow.register,
    proof_flow.gates,
    proof_flow.order,
    proof_flow.asked,
    proof_flow.lifts,
    proof_limits.limits,
    proof_words.holds,
    proof_words.names,
    proof_words.cautions,
    proof_words.sentences,
    proof_words.unknown_words,
)


def proofread(sheet: JobSheet, places: Places) -> list[Fault]:
    """What is wrong or doubtful in the job, each line and text once.

    `places` says where in the file each thing stands.
    """
    faults = [fault for rule in RULES for fault in rule(sheet, places)]
    faults += proof_limits.unused(places)
    return list(dict.fromkeys(faults))
