"""Every phase by every kind: events or an explicit silence, never an exception, and a wording for each answer."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pytest

from bench_voice.core import events as ev
from bench_voice.core import replies
from bench_voice.core.cases import OpenedBy
from bench_voice.core.decide import decide, fold
from bench_voice.core.flat import Flat, flat_of, intent_of
from bench_voice.core.intents import SETTINGS, Asks, Command, Intent, Kind, Question
from bench_voice.core.sheet import ItemKind, JobSheet
from bench_voice.core.state import Entry, Phase, Point, State, Taken
from bench_voice.core.table import TABLE, drawn
from bench_voice.testing import reading, small_sheet, step
from bench_voice.words.phrases import load_language
from bench_voice.words.say import Speaker
from bench_voice.words.wording import worded

ROOT = Path(__file__).resolve().parents[2]


def sheet() -> JobSheet:
    return small_sheet(
        step("block", hold="confirm both wheels are blocked"),
        step("measure", readings=["wear", "play"]),
        step("look", looks=["cable"]),
        step("rebuild", closes=["guard"], opens=["tape"]),
        step("plain"),
        step("end", gate=True, closes=["tape"]),
        readings=[reading("wear", low="2.0", points=2, uncertainty="0.1"), reading("play", "0.02", "0.12")],
        looks=["cable"],
        temporary=["tape"],
        parts=["guard"],
        renew=["pin"],
    )


def at(phase: Phase) -> State:
    """A state in that phase."""
    start = State(sheet(), seq=7, at_ms=1000)
    blocked = start.with_(confirmed=frozenset({"block"}))
    out = Taken(tuple(Point(n, Decimal("1.0"), "mm", Decimal("1.0")) for n in (1, 2)))
    question = Question(name="wear", asks=Asks.WHICH_NUMBER, options=(), heard="one ten")
    tape = Entry("tape", "tape", ItemKind.TEMPORARY, OpenedBy.STEP)
    guard = Entry("guard", "guard", ItemKind.PART, OpenedBy.STEP)
    return {
        Phase.HOLD: start,
        Phase.READ_BACK: start.with_(read_back="block", read_back_ms=1000),
        Phase.READING: blocked.with_(index=1),
        Phase.FAILED: blocked.with_(index=1, taken={("measure", "wear"): out}),
        Phase.LOOK: blocked.with_(index=2),
        Phase.CLOSE: blocked.with_(index=3, register={"guard": guard}),
        Phase.READY: blocked.with_(index=4),
        Phase.GATE: blocked.with_(index=5, register={"tape": tape}),
        Phase.ASKED: blocked.with_(index=1, question=question),
        Phase.STOPPING: blocked.with_(index=1, stopping=True),
        Phase.STAND_BY: blocked.with_(index=1, standing_by=True),
        Phase.ENDED: blocked.with_(index=5, ended="signed-off"),
    }[phase]


def intents(kind: Kind) -> list[Intent]:
    """Sensible and senseless intents of a kind: fields missing, ids of other steps, ids that exist nowhere."""
    full = intent_of(
        Flat(
            kind, name="wear", value=Decimal("3.1"), unit="mm", in_limit_unit=Decimal("3.1"), text="good", heard="words"
        )
    )
    nowhere = intent_of(
        Flat(kind, name="no-such", value=Decimal("-1e9"), unit="h", text="some words", heard="some words")
    )
    found = [full, nowhere, intent_of(Flat(kind)), intent_of(Flat(kind, text="tape on the cable", heard="x"))]
    found += [
        intent_of(Flat(kind, name=name, text=name)) for name in ("block", "cable", "tape", "guard", "pin", "play")
    ]
    found.append(intent_of(Flat(kind, name="wear", values=(Decimal("3.1"), Decimal("3")), unit="mm")))
    found.append(intent_of(Flat(kind, values=(Decimal(1),) * 9)))
    found += [
        intent_of(Flat(kind, name=name, asks=asks, options=options, is_offer=is_offer, detail="N*m"))
        for asks in Asks
        for name in (None, "wear")
        for options in ((), (flat_of(full),), (flat_of(full), flat_of(nowhere)))
        for is_offer in (False, True)
        if kind is Kind.AMBIGUOUS
    ]
    found += [
        intent_of(
            Flat(
                kind,
                name=name,
                text=topic,
                value=Decimal("4.6"),
                unit="mm",
                in_limit_unit=Decimal("0.181"),
                detail="in",
            )
        )
        for topic in ("limit", "reading", "step", "conversion")
        for name in (None, "wear", "no-such")
        if kind is Kind.QUERY
    ]
    found += [
        intent_of(Flat(kind, value=Decimal(10), unit=unit, text=text)) for unit in ("s", "min") for text in ("", "glue")
    ]
    return found


SILENT = {(Phase.STAND_BY, kind) for kind in Kind if kind is not Kind.CARRY_ON}


def test_every_cell_is_filled() -> None:
    assert set(TABLE) == set(Phase)
    for phase in Phase:
        assert set(TABLE[phase]) == set(Kind)
        assert all(cell.word for cell in TABLE[phase].values())


@pytest.mark.parametrize("phase", list(Phase))
def test_the_states_of_this_walk_are_in_their_phase(phase: Phase) -> None:
    assert at(phase).phase() is phase


@pytest.mark.parametrize("phase", list(Phase))
@pytest.mark.parametrize("kind", list(Kind))
def test_every_intent_in_every_phase_is_answered_in_words(phase: Phase, kind: Kind) -> None:
    speaker = Speaker(load_language("en"))
    state = at(phase)
    for intent in intents(kind):
        events = decide(state, intent, 2000)
        assert events == decide(state, intent, 2000), "the same question has the same answer"
        sentences = worded(speaker, replies.after(state.with_(at_ms=2000), events))
        if (phase, kind) in SILENT:
            assert events == ()
            assert sentences == ()
            continue
        assert events, (phase, kind, intent)
        assert sentences, (phase, kind, intent, events)
        assert all("{" not in sentence for sentence in sentences)
        after = fold(state, events)
        if after.phase() in (Phase.ASKED, Phase.STOPPING, Phase.READ_BACK):
            # Whatever was asked can be answered.
            for answer in (Command(Kind.AFFIRM, heard="affirm"), Command(Kind.NEGATIVE, heard="negative")):
                more = decide(after, answer, 3000)
                assert worded(speaker, replies.after(after.with_(at_ms=3000), more))


def test_a_setting_that_goes_no_further_says_so() -> None:
    speaker = Speaker(load_language("en"))
    for kind in SETTINGS:
        said = []
        for detail in ("", "end"):
            events = decide(at(Phase.READING), intent_of(Flat(kind, detail=detail, heard="words")), 2000)
            assert [type(event) for event in events] == [ev.Told], "it changes nothing in the session"
            said.append(worded(speaker, replies.after(at(Phase.READING), events)))
        assert said[0] != said[1]


def test_nothing_but_affirm_in_read_back_passes_a_hold() -> None:
    for phase in Phase:
        for kind in Kind:
            for intent in intents(kind):
                events = decide(at(phase), intent, 2000)
                if any(isinstance(event, ev.HoldConfirmed) for event in events):
                    assert (phase, kind) == (Phase.READ_BACK, Kind.AFFIRM)


def test_the_table_in_the_documents_is_the_program() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    begin, end = "<!-- table:begin -->", "<!-- table:end -->"
    assert begin in text, f"DEVELOPERS.md has lost the line {begin}; put it back before the table of phases"
    assert end in text, f"DEVELOPERS.md has lost the line {end}; put it back after the table of phases"
    shown = text.split(begin)[1].split(end)[0].strip()
    assert shown == drawn().strip(), (
        "The table in DEVELOPERS.md is not the program's. Write it anew between its markers with: "
        "python -m bench_voice.core.table"
    )
