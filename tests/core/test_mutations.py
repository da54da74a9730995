"""Does the net bite? Each small fault put into the core must be caught by the rules of core_quick.

A fault is (file, text, text with the fault). Each is tried in a forked process on freshly loaded modules, so nothing of
it stays behind; the text must occur exactly once, so a fault that no longer applies fails here instead of passing.
"""

# ruff: noqa: E501 (a fault is quoted as it stands in the source)

from __future__ import annotations

import importlib.abc
import importlib.machinery
import importlib.util
import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from types import ModuleType

import pytest

CORE = Path(__file__).resolve().parents[2] / "bench_voice" / "core"

FAULTS: dict[str, tuple[str, str, str]] = {
    "hold check removed from next": ("opens", "    if state.held() is None:", "    if True:"),
    "no hold is ever open": ("state", "                return step.hold\n        return None", "                return None\n        return None"),
    "limit check always good": ("verdict", "    if margin >= guard:\n", "    if True:\n"),
    "limits are not reached themselves": ("verdict", "    if margin >= guard:\n", "    if margin > guard:\n"),
    "uncertainty left out": ("verdict", "    guard = abs(uncertainty)", "    guard = abs(uncertainty) * 0"),
    "borderline never out": ("verdict", "    if margin < -guard or", "    if margin < -9 * guard or"),
    "low limit forgotten": ("verdict", "    if limit.low is not None:", "    if limit.low is None and limit.high is None:"),
    "difference as sure as one reading": ("verdict", "(u_a * u_a + u_b * u_b).sqrt()", "u_a"),
    "the sheet's doubt for one's own instrument": ("state", "return spec.uncertainty if use is None else use.uncertainty(value)", "return spec.uncertainty"),
    "spread not limited": ("verdict", "    if spec.spread is not None and len(values) > 1:", "    if spec.spread is not None and len(values) > 9:"),
    "margin rounded toward passing": ("verdict", "rounding=ROUND_FLOOR", "rounding='ROUND_CEILING'"),
    "left and right not compared": ("state", "        if not others or spec.pair is None or", "        if others or spec.pair is None or"),
    "marking on the part ignored": ("state", "        if marking is None:", "        if True:"),
    "a table judges by its first row": ("sheet", "if row.key == key), None)", "if True), None)"),
    "a table judges without its row": ("cells", "    if spec.limit.rows and state.limit_of(spec) is spec.limit:", "    if False:"),
    "a marking without a row is taken": ("cells", "    is_lost = any(", "    is_lost = False and any("),
    "the old part's marking judges the new one": ("cells", 'for reading in (*markings, *chosen))', "for reading in chosen)"),
    "borderline passes as good": ("state", "in (Verdict.BORDERLINE, Verdict.OUT)", "in (Verdict.OUT,)"),
    "phrase passes without read-back": ("cells", "    return (ev.HoldPhraseHeard(hold.id, intent.heard),)", "    return (ev.HoldConfirmed(hold.id, intent.heard),)"),
    "any hold's phrase passes": ("cells", "    if hold is None or intent.hold != hold.id:", "    if hold is None:"),
    "affirm after 15 s still passes": ("decide", "< state.read_back_ms + READ_BACK_MS:", "< state.read_back_ms + 2 * READ_BACK_MS:"),
    "affirm after a clock that jumped back": ("decide", "not state.clock_ms <= at_ms <", "not at_ms <"),
    "negative passes a hold": ("table", 'Kind.NEGATIVE: Cell("lapse", cells.negate_hold)', 'Kind.NEGATIVE: Cell("lapse", cells.affirm_hold)'),
    "carry on passes a hold": ("table", 'Kind.REPEAT: Cell("tell", _tell),\n    },\n    Phase.FAILED', 'Kind.REPEAT: Cell("tell", _tell),\n        Kind.NEXT: Cell("x", cells.affirm_hold),\n    },\n    Phase.FAILED'),
    "readings taken at a hold": ("table", "        Kind.READING: _HOLD_FIRST,\n", ""),
    "restart asks no hold again": ("decide", 'events.append(ev.HoldReopened(step.hold.id, Reopening.RESTART))', "pass"),
    "restart keeps the read-back": ("decide", 'events.append(ev.HoldLapsed(state.read_back, Lapse.RESTART))', "pass"),
    "restart keeps the question": ("decide", 'events.append(ev.QuestionClosed(Answer.RESTART))', "pass"),
    "going back asks no hold again": ("cells", 'events = (ev.HoldReopened(step.hold.id, Reopening.BACK), *events)', "pass"),
    "a hold is asked again for ever": ("state", "and hold.until not in self.done", ""),
    "undo of a hold acted upon": ("cells", "        if change.step != state.step.id:", "        if False:"),
    "undo of undo passes a hold": ("apply", "changes = tuple(c for c in state.changes if event.hold not in c.held)", "changes = state.changes"),
    "undo brings a whole map back": ("apply", "            kept = {key: value for key, value in now.items() if key not in before}", "            kept = {}"),
    "undo empties the register": ("apply", "            now = now.without(key)\n        for key, value in restored", "            now = Layered()\n        for key, value in restored"),
    "undo takes out a step's item": ("apply", "now[key].by is OpenedBy.STEP}", "now[key].by is None}"),
    "undo has no end": ("apply", "changes=(*state.changes, change)[-UNDO_DEPTH:]", "changes=(*state.changes, change)"),
    "failed reading does not keep the step open": ("opens", "for key in state.failed()]", "for key in ()]"),
    "missing reading does not keep the step open": ("opens", "for key in state.waits()]", "for key in ()]"),
    "bad look does not keep the step open": ("opens", "for key in state.looks_bad()]", "for key in ()]"),
    "judged without a reason": ("cells", "    if not intent.text:\n        return (ev.Refused(Kind.JUDGED", "    if False:\n        return (ev.Refused(Kind.JUDGED"),
    "correction keeps an old decision": ("state", "        if (now.values, now.doubts) != (was.values, was.doubts):", "        if False:"),
    "another limit keeps an old decision": ("state", "        if now.limit != was.limit:", "        if False:"),
    "the other side keeps an old decision": ("state", "        if now.others == was.others:", "        if True:"),
    "a decision reopens without a word": ("decide", "        found += (event, *reopened)", "        found += (event,)"),
    "a withdrawn correction loses the decision": ("apply", "touched.get(key, old)}}", "touched.get(key)}}"),
    "correction is thrown away": ("apply", "    points[event.point] = Point(", "    points[event.point] = points[event.point] if points else Point("),
    "replaced part is still as found": ("apply", "stage = Stage.AS_LEFT if is_replaced", "stage = Stage.AS_FOUND if is_replaced"),
    "replacement opens no step": ("apply", 'fields["replaced"] = state.replaced | {event.reading}', "pass"),
    "passed-over step stays passed over": ("apply", "passed_over=state.passed_over - {event.step},", ""),
    "items opened by a step are forgotten": ("cells", "                events.append(ev.ItemOpened(key, item.name, item.kind, OpenedBy.STEP))", "                pass"),
    "order trap not caught": ("cells", "        if missing:", "        if False:"),
    "built over what is open again": ("opens", "    if state.open_before() is None:", "    if True:"),
    "order trap by an undo": ("opens", "    for key in step.requires:", "    for key in ():"),
    "undo of a new part leaves its marking": ("cells", "    if change.what is Changed.REPLACED:", "    if False:"),
    "undo of do it again brings nothing back": ("apply", "        Changed.REDO,\n        done=", "        Changed.REDO,\n    ).with_(\n        done="),
    "item to close not asked for": ("opens", "    for key in state.closes():", "    for key in ():"),
    "gate lets open items through": ("state", 'return (*((Open.ITEM, key, "") for key in self.register), *found)', "return tuple(found)"),
    "gate lets open readings through": ("state", "                found.append((Open.READING, reading))", "                pass"),
    "gate skipped": ("opens", "    return state.step.gate or state.index == len(state.sheet.steps) - 1", "    return False"),
    "signed off with what the last step opened": ("cells", "    if left.open_at_gate():", "    if False:"),
    "an old split pin is put back": ("register", "Kind.PUT_BACK: {ItemKind.PART},", "Kind.PUT_BACK: {ItemKind.PART, ItemKind.RENEW},"),
    "any verb closes a temporary item": ("register", "Kind.PUT_BACK: {ItemKind.PART},", "Kind.PUT_BACK: {ItemKind.PART, ItemKind.TEMPORARY},"),
    "a shorter name closes unasked": ("register", "        return (ev.Asked(question),)", "        return (ev.ItemClosed(near[0].key, intent.heard),)"),
    "do it again forgets what rests on it": ("cells", "        if found.intersection(step.needs):", "        if False:"),
    "do it again keeps the holds": ("apply", "state.with_(confirmed=state.confirmed - holds, ", "state.with_("),
    "do it again keeps the readings": ("apply", "        if key[0] not in event.steps or value.stage is Stage.AS_LEFT\n    }", "    } and state.taken"),
    "do it again forgets the register": ("apply", "        register = register.set(key, Entry(key, item.name, item.kind, OpenedBy.REDO))", "        pass"),
    "timer due too early": ("decide", "if due_ms <= at_ms)", "if due_ms <= at_ms + 60_000)"),
    "timer said for ever": ("apply", "    return state.with_(timers=layered(state.timers).without(event.key))", "    return state"),
    "stop without asking": ("table", 'Kind.STOP: Cell("ask: stop?", cells.stop)', 'Kind.STOP: Cell("ask: stop?", cells.affirm_stop)'),
    "offer taken without affirm": ("table", '        Kind.NEGATIVE: Cell("close", cells.negate_question),\n        Kind.CORRECTION', '        Kind.NEGATIVE: Cell("close", cells.affirm_question, cells.offered),\n        Kind.CORRECTION'),
    "the end is not the end": ("table", "Phase.ENDED: dict.fromkeys(_DEFAULT, Cell(\"ended\", _ended))", "Phase.ENDED: {}"),
    "value of the unit instead of the words": ("cells", "            value,\n            intent.unit or spec.unit,\n            in_limit_unit,\n            intent.heard,\n            taken.stage,\n            state.judge(", "            value + 1,\n            intent.unit or spec.unit,\n            in_limit_unit,\n            intent.heard,\n            taken.stage,\n            state.judge("),
    "more points than the step wants": ("cells", "    if not pairs or len(pairs) > wanted:", "    if not pairs:"),
}  # fmt: skip


class Faulty(importlib.abc.MetaPathFinder, importlib.abc.Loader):
    """Loads one module of the core from a changed source."""

    def __init__(self, module: str, source: str) -> None:
        self.module, self.source = f"bench_voice.core.{module}", source

    def find_spec(
        self, name: str, path: Sequence[str] | None, target: ModuleType | None = None
    ) -> importlib.machinery.ModuleSpec | None:
        return importlib.util.spec_from_loader(name, self) if name == self.module else None

    def exec_module(self, module: ModuleType) -> None:
        exec(compile(self.source, f"faulty {self.module}", "exec"), module.__dict__)


def broken_rule(module: str, old: str, new: str) -> str:
    """Name of the rule that catches the fault, "" where none does; found in a process of its own."""
    source = (CORE / f"{module}.py").read_text(encoding="utf-8")
    assert source.count(old) == 1, f"the fault does not apply any more: {old!r} occurs {source.count(old)} times"
    reading, writing = os.pipe()
    pid = os.fork()
    if pid == 0:
        try:
            for name in [n for n in sys.modules if n.startswith(("bench_voice.core", "bench_voice.testing", "core_"))]:
                del sys.modules[name]
            sys.meta_path.insert(0, Faulty(module, source.replace(old, new)))
            import core_quick

            os.write(writing, core_quick.run_all().encode())
            os._exit(0)
        except BaseException:
            traceback.print_exc()
            os._exit(1)
    os.close(writing)
    with os.fdopen(reading, "rb") as pipe:
        found = pipe.read().decode()
    assert os.waitstatus_to_exitcode(os.waitpid(pid, 0)[1]) == 0, "the faulty core could not even be loaded"
    return found


def test_the_rules_hold_without_a_fault() -> None:
    assert broken_rule("verdict", "    guard = abs(uncertainty)\n", "    guard = abs(uncertainty)  # as it is\n") == ""


@pytest.mark.parametrize("fault", list(FAULTS))
def test_fault_is_caught(fault: str) -> None:
    assert broken_rule(*FAULTS[fault]), f"nobody notices: {fault}"


def test_there_are_enough_faults() -> None:
    assert len(FAULTS) >= 25
