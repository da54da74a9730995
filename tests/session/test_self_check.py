"""What `self-check` says of the ears: which are used, which are needed. No device is opened."""

from __future__ import annotations

import pytest

from bench_voice import offline
from bench_voice.audio.factory import EARS, EarState
from bench_voice.commands.self_check import Finding, ears, network


def states(*working: str) -> list[EarState]:
    return [EarState(name, name in working, "" if name in working else "It is missing. Install it.") for name in EARS]


def needed(found: list[Finding]) -> set[str]:
    return {one.what.removeprefix("ear ") for one in found if one.is_needed}


def test_without_names_in_the_settings_one_ear_that_works_is_enough() -> None:
    found = ears(states("pocketsphinx"), None)
    assert [(one.what, one.works) for one in found] == [(f"ear {name}", name == "pocketsphinx") for name in EARS]
    assert needed(found) == set()
    assert needed(ears(states(), None)) == set(EARS)


def test_an_ear_that_the_settings_leave_out_is_told() -> None:
    """Who named two ears before there were four must not believe that all of them listen."""
    here = states("pocketsphinx", "whisper", "whisper-tiny", "moonshine")
    found = {one.what: one for one in ears(here, ("pocketsphinx", "whisper"))}
    assert found["ear whisper"].detail == "works"
    for name in ("whisper-tiny", "moonshine"):
        assert "is not used" in found[f"ear {name}"].detail
        assert not found[f"ear {name}"].is_needed


def test_all_ears_that_work_are_used_where_none_is_named() -> None:
    found = {one.what: one for one in ears(states("pocketsphinx", "whisper", "whisper-tiny", "moonshine"), None)}
    assert [name for name in EARS if found[f"ear {name}"].works] == [name for name in EARS if name != "vosk"]
    assert not any("is not used" in one.detail for one in found.values())


@pytest.mark.parametrize("missing", ["whisper-tiny", "moonshine", "whisper-small"])
def test_an_ear_that_is_named_and_cannot_be_had_is_needed(missing: str) -> None:
    """`work` refuses to begin without it, so `self-check` must not say that all is well."""
    found = ears(states("pocketsphinx", "whisper"), ("pocketsphinx", missing))
    assert needed(found) == {"pocketsphinx", missing}
    assert [one.what for one in found if one.is_needed and not one.works] == [f"ear {missing}"]


@pytest.mark.parametrize("name", offline.SWITCHES)
def test_a_library_that_may_report_is_told(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    assert network().works
    monkeypatch.delenv(name)
    assert not network().works
    assert name in network().detail


def test_a_persons_environment_does_not_turn_reports_on(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("ORT_DISABLE_TELEMETRY", "0")
    offline.apply()
    assert network().works
