"""Proofreading: every rule over a whole job. A rule is a function `(sheet, places) -> list[Fault]`, linear in steps."""

from __future__ import annotations

import re
from collections import Counter

from bench_voice.core.sheet import JobSheet
from bench_voice.sheets import proof_flow, proof_limits, proof_words
from bench_voice.sheets.faults import Fault
from bench_voice.sheets.spread import Places, in_id

RULES = (
    proof_flow.register,
    proof_flow.gates,
    proof_flow.order,
    proof_flow.hold_ends,
    proof_flow.asked,
    proof_flow.lifts,
    proof_limits.limits,
    proof_limits.torques,
    proof_limits.instruments,
    proof_words.ids,
    proof_words.holds,
    proof_words.names,
    proof_words.cautions,
    proof_words.sentences,
    proof_words.figures,
    proof_words.unknown_words,
    proof_words.pronunciations,
)


def proofread(sheet: JobSheet, places: Places) -> list[Fault]:
    """What is wrong or doubtful in the job. An entry that is spread says its fault for the first of its values only.

    `places` says where in the file each thing stands.
    """
    faults = [fault for rule in RULES for fault in rule(sheet, places)]
    faults += proof_limits.unused(places)
    return _once(faults, places)


def _once(faults: list[Fault], places: Places) -> list[Fault]:
    """Leaves out what differs from an earlier fault only by a value of `for each`, where the entry is written once."""
    written_for = Counter(places.of.values())
    shared = {places.tree.dotted(path) for path, count in written_for.items() if count > 1}
    given = places.tree.data.get("for each")
    values = [
        str(value) for group in (given or {}).values() for value in (group if isinstance(group, list) else [group])
    ]
    words = sorted({form for value in values for form in (value, in_id(value))}, key=len, reverse=True)
    pattern = re.compile(r"\b(?:" + "|".join(map(re.escape, words)) + r")\b") if words else None
    seen: set[tuple[int, str, str, str]] = set()
    out: list[Fault] = []
    for fault in faults:
        what = fault.what
        base = fault.path.split(".")
        is_shared = base[0] in ("limits", "torques") or any(
            ".".join(base[:n]) in shared for n in range(1, len(base) + 1)
        )
        if pattern and is_shared:
            what = pattern.sub("<>", what)
        key = (fault.line, fault.path, fault.slug, what)
        if key not in seen:
            seen.add(key)
            out.append(fault)
    return out
