"""From evidence to what would have happened, clip by clip, and tables of it with 95 % intervals (Clopper and Pearson).

An outcome of a clip that says something: `right` (recorded without a question), `offered` (asked, and *affirm* takes
the right value), `named` (asked, the right value among those named), `asked` (asked, without it), `again`, `nothing`,
`WRONG` (something else was recorded). Of a clip that says nothing: `acted` with what was done, `asked`, `again`,
`nothing`; a false passing of a hold phrase is `PASSED`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from typing import Any

from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Intent, Kind
from bench_voice.hearing.agree import Act, Decision, agree
from bench_voice.hearing.witness import same
from bench_voice.ports import Heard
from tests.corpus import texts
from tests.corpus.listen import as_looked, heard_of
from tests.corpus.texts import OUTSIDE, Said

Decide = Callable[[Expected, Sequence[Heard]], Decision]
HARMLESS = frozenset({Kind.REPEAT, Kind.WHERE, Kind.LEFT, Kind.HELP, Kind.QUERY})


def by_agreement(expected: Expected, heard: Sequence[Heard]) -> Decision:
    return agree(expected, as_looked(expected, heard), texts.LANGUAGE)


def outcome(line: dict[str, Any], decide: Decide = by_agreement) -> tuple[str, str]:
    """(outcome, why). The pieces of a clip that was cut in two are taken one after the other."""
    said = Said(**line["said"])
    expected = texts.expected_of(said.sheet, said.step)
    truth = texts.truth(said)
    results: list[tuple[str, str]] = []
    for piece in line["pieces"]:
        decision = decide(expected, heard_of(piece))
        judge = _outside if said.kind in OUTSIDE else _inside
        results.append((judge(decision, truth, expected), decision.why))
    order = ("WRONG", "PASSED", "acted", "harmless", "right", "offered", "named", "asked", "again", "nothing")
    return min(results, key=lambda r: order.index(r[0]), default=("nothing", "no speech found"))


def _inside(decision: Decision, truth: Intent, expected: Expected) -> str:
    if decision.kind is Act.RECORD and decision.intent is not None:
        return "right" if _right(decision.intent, truth) else "WRONG"
    if decision.kind is Act.ASK and decision.intent is not None:
        if _right(decision.intent, truth):
            return "right"  # the sentence is a question back whoever hears it
        options = decision.options
        if options and _right(options[0], truth):
            return "offered"
        return "named" if any(_right(o, truth) for o in options) else "asked"
    return decision.kind.value


def _right(intent: Intent, truth: Intent) -> bool:
    if intent.kind in (Kind.NOTE, Kind.REMINDER):
        return intent.kind is truth.kind
    return same(replace(intent, heard=""), replace(truth, heard=""))


def _outside(decision: Decision, truth: Intent, expected: Expected) -> str:
    if decision.kind is not Act.RECORD or decision.intent is None:
        return "asked" if decision.kind is Act.ASK else decision.kind.value
    if decision.intent.kind is Kind.CONFIRM and expected.hold and flat_of(decision.intent).name == expected.hold.id:
        return "PASSED"
    if same(decision.intent, truth):
        return "nothing"  # the sentence means that, for the parser as for anybody: counted apart by `understood`
    return "harmless" if decision.intent.kind in HARMLESS else "acted"


def interval(count: int, total: int) -> str:
    """ "12/40 30 % (17–47)"."""
    from scipy.stats import binomtest

    if total == 0:
        return "0/0"
    low, high = binomtest(count, total).proportion_ci(0.95)
    return f"{count}/{total} {100 * count / total:.1f} % ({100 * low:.1f}–{100 * high:.1f})"


def table(rows: Iterable[tuple[tuple[str, ...], str]]) -> dict[tuple[str, ...], Counter[str]]:
    found: dict[tuple[str, ...], Counter[str]] = {}
    for key, result in rows:
        found.setdefault(key, Counter())[result] += 1
    return found
