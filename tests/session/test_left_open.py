"""What a session leaves open is named when the job is stopped, and again when the machine's next session begins."""

from __future__ import annotations

import pytest
from typed_work import STOPPED, UNFINISHED, WHOLE, Bench, mower

from bench_voice.core.events import ItemOpened
from bench_voice.core.state import State
from bench_voice.session import journal as jn
from bench_voice.sheets.load import load_text

BEFORE = "The session before left this open. Noted: red tag is on and must come off."


def register(bench: Bench) -> dict[str, str]:
    """Key and name of what is open in the newest journal."""
    found = jn.read(bench.newest)
    state: State = jn.replay(load_text(found.header["sheet_text"], "x"), found.lines)
    return {key: entry.name for key, entry in state.register.items()}


def test_a_stopped_job_names_what_is_off_and_on(bench: Bench) -> None:
    done = bench.work("next", "removed guard", "remind me to oil it", *STOPPED)
    assert done.code == 10
    assert done.bench[-1] == (
        "Job stopped. The machine is not to be used. Red tag is still on. Guard is still off. Reminder: oil it."
    )


def test_a_stopped_job_names_what_the_step_that_was_begun_may_have_fitted(bench: Bench) -> None:
    said = bench.work(*STOPPED).bench[-1]
    assert said == "Job stopped. The machine is not to be used. Red tag is on, or may be."
    assert register(bench) == {}


def test_the_next_session_asks_for_what_was_begun(bench: Bench) -> None:
    bench.work(*STOPPED)
    done = bench.work("what is left")
    assert f"{BEFORE} Step one." in done.bench[0]
    assert done.bench[1] == "Red tag is still on."


def test_a_stopped_job_with_nothing_open_names_nothing(bench: Bench) -> None:
    said = bench.work("next", "brake pad four", "next", "took off red tag", *STOPPED).bench[-1]
    assert said == "Job stopped. The machine is not to be used."


def test_the_start_after_a_stopped_job_says_it_and_asks_for_it(bench: Bench) -> None:
    bench.work("next", "removed guard", *STOPPED)
    done = bench.work("what is left", "put back guard", *UNFINISHED, "took off red tag", "next")
    assert f"{BEFORE} Noted: guard is off and must go back. Step one." in done.bench[0]
    assert done.bench[1] == "Red tag is still on. Guard is still off."
    assert done.bench[2].startswith("Guard: back on.")
    assert done.code == 0
    assert bench.work().bench[0].endswith("Take care. Step one. Hang the red tag on it. Say next when ready.")


def test_nothing_is_signed_off_over_it(bench: Bench) -> None:
    bench.work("removed guard", *STOPPED)
    done = bench.work(*WHOLE)
    assert done.code == 10
    assert "Guard is still off." in done.bench[-1]


def test_with_new_it_is_said_of_an_open_session_too(bench: Bench) -> None:
    bench.work("next")
    done = bench.new()
    assert BEFORE in done.bench[0]
    assert register(bench) == {"red-tag": "red tag"}


def test_it_goes_from_session_to_session(bench: Bench) -> None:
    bench.work("next", "removed guard", *STOPPED)
    for _ in range(3):
        done = bench.work(*STOPPED)
        assert done.bench[-1].endswith("Red tag is still on. Guard is still off.")
    assert sorted(register(bench).values()) == ["guard", "red tag"]


def test_an_entry_taken_over_keeps_clear_of_the_keys_of_this_session(bench: Bench) -> None:
    """Keys in one's own words count the events: the second part of the second session must not replace the first's."""
    bench.work("note, the guard is loose", "removed guard", *STOPPED)
    bench.work("removed cover", "removed hood", "removed belt", *STOPPED)
    assert sorted(register(bench).values()) == ["belt", "cover", "guard", "hood", "red tag"]


def test_strike_that_does_not_withdraw_it(bench: Bench) -> None:
    bench.work("removed guard", *STOPPED)
    done = bench.work("strike that", "what is left")
    assert done.bench[-1] == "Guard is still off. Red tag is still on."


def test_it_is_on_disk_before_it_is_said(bench: Bench) -> None:
    bench.work("removed guard", *STOPPED)
    bench.work()
    opened = [line.event for line in jn.read(bench.newest).lines if isinstance(line.event, ItemOpened)]
    assert [(event.name, event.by) for event in opened] == [("guard", "earlier"), ("red tag", "earlier")]


def test_after_signing_off_nothing_is_left(bench: Bench) -> None:
    bench.work("next", *STOPPED)
    assert bench.work(*WHOLE).code == 0
    assert "left" not in bench.new().bench[0]


def test_another_machine_is_told_nothing(bench: Bench) -> None:
    bench.work("next", *STOPPED)
    said = bench.work("what is left", text=mower(machine="mower two")).bench
    assert BEFORE not in said[0]
    assert said[1] == "Red tag is on, or may be."


def test_of_another_job_on_the_machine_it_is_named_and_not_asked_for(bench: Bench) -> None:
    other = mower(sheet="other-job", title="Other job")
    bench.work("next", "removed guard", text=other)
    done = bench.work(*WHOLE)
    assert (
        "Another job on this machine is not finished: Other job. Still open there: red tag and guard." in done.bench[0]
    )
    assert done.code == 0
    assert bench.work(text=other).bench[0].startswith("Back again: Other job.")


def test_a_changed_sheet_takes_over_what_it_can_close(bench: Bench) -> None:
    bench.work("next", "removed guard", *STOPPED)
    changed = mower(version=2).replace("red-tag: {kind: temporary}", "red-tag: {kind: temporary, name: warning tag}")
    done = bench.work("took off warning tag", "put back guard", "what is left", text=changed)
    assert "Noted: warning tag is on and must come off. Noted: guard is off and must go back." in done.bench[0]
    assert done.bench[-1] == "Warning tag is on, or may be."


def test_what_a_changed_sheet_cannot_close_is_named_and_blocks_nothing(bench: Bench) -> None:
    """The old entry is a part; in the new sheet its name is a temporary item, and "put back guard" would mean that."""
    bench.work("removed guard", *STOPPED)
    changed = mower(version=2).replace("  red-tag:", "  guard: {kind: temporary}\n  red-tag:")
    changed = changed.replace("[red-tag]", "[red-tag, guard]")
    done = bench.work("next", "brake pad four", "next", "took off guard", "took off red tag", "next", text=changed)
    assert "Left open before, and not asked for here: guard." in done.bench[0]
    assert done.code == 0


def test_a_damaged_journal_before_is_told_with_new(bench: Bench) -> None:
    bench.work("next")
    bent = bench.bend(2)
    done = bench.new()
    assert done.code == 10
    (line,) = (line for line in done.errors if "[journal-passed-over]" in line)
    assert line.startswith(str(bent))


def test_a_sheet_in_german_says_it_in_german(bench: Bench) -> None:
    german = mower().replace("version: 1", "version: 1\nlanguage: de")
    bench.work("weiter", "brich die arbeit ab", "affirmativ", text=german)
    said = bench.work(text=german).bench[0]
    assert "Das ist von der vorigen Sitzung noch offen. Notiert:" in said


@pytest.mark.parametrize("words", ["next", "brake pad four"])
def test_a_session_that_comes_back_says_it_as_before(words: str, bench: Bench) -> None:
    bench.work("next")
    assert bench.work(words).bench[0].startswith("Back again: Small job. Red tag is still on. Step two.")
