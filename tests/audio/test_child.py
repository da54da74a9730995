"""The watched child: answers, errors, a hang and a crash, each in a real process."""

from __future__ import annotations

import threading

import pytest

from bench_voice.audio.child import ChildLost, WatchedChild
from bench_voice.audio.ear_process import ProcessEar
from bench_voice.core.intents import Expected
from bench_voice.core.sheet import JobSheet, Step
from bench_voice.errors import EngineError
from bench_voice.ports import Heard, Utterance

SLEEPER = "bench_voice.audio.child:Sleeper"
STEP = Step("a", "Do it.")
EXPECTED = Expected(JobSheet("s", "S", "1", "machine", "m", (STEP,)), STEP)


class HangingEar:
    """In the child: hangs on the word "hang", dies on "die", else hears what the sound says."""

    def __init__(self) -> None:
        self.plan: object = None

    def prepare(self, plan: object) -> None:
        self.plan = plan

    def hear(self, utterance: Utterance) -> Heard:
        if utterance.pcm == b"hang":
            threading.Event().wait()
        if utterance.pcm == b"spin":
            while True:
                pass
        if utterance.pcm == b"die!":
            raise SystemExit
        return Heard("test", f"{self.plan} {utterance.pcm.decode()}")


def broken() -> None:
    raise EngineError("No model.", mend="Get one.", slug="ear-model-missing", where="there")


def ear(limit_s: float = 1.0) -> ProcessEar:
    return ProcessEar("test", "test_child:HangingEar", lambda expected: expected.step.id, limit_s=limit_s)


@pytest.fixture(autouse=True)
def _findable(monkeypatch: pytest.MonkeyPatch, request: pytest.FixtureRequest) -> None:
    monkeypatch.setenv("PYTHONPATH", str(request.path.parent))


def heard(ear: ProcessEar, sound: bytes) -> Heard:
    return ear.hear(Utterance(sound, 0, 0))


def test_calls_and_errors_cross_the_pipe() -> None:
    child = WatchedChild(SLEEPER)
    assert child.call("echo", {"a": (1, b"\0" * 100_000)}) == {"a": (1, b"\0" * 100_000)}
    with pytest.raises(EngineError, match=r"A worker failed: AttributeError.*\[child-error\]"):
        child.call("no_such_method")
    assert child.call("echo", 1) == 1
    assert child.starts == 1
    child.close()


def test_an_error_while_loading_keeps_its_words() -> None:
    child = WatchedChild("test_child:broken")
    with pytest.raises(EngineError, match=r"^there: No model\. Get one\. \[ear-model-missing\]$"):
        child.wait_ready()
    child.close()


def test_a_hang_and_a_crash_cost_one_call_each() -> None:
    child = WatchedChild(SLEEPER, limit_s=0.3)
    with pytest.raises(ChildLost, match=r"no answer within 0\.3 s") as lost:
        child.call("hang")
    assert lost.value.has_timed_out
    with pytest.raises(ChildLost, match="the worker ended") as lost:
        child.call("die", limit_s=5.0)
    assert not lost.value.has_timed_out
    assert child.call("echo", "back", limit_s=5.0) == "back"
    assert child.starts == 3
    child.close()


@pytest.mark.parametrize(("sound", "evidence"), [(b"hang", "timeout"), (b"spin", "timeout"), (b"die!", "crash")])
def test_an_ear_that_fails_costs_one_utterance_and_knows_its_step_again(sound: bytes, evidence: str) -> None:
    listening = ear()
    listening.prepare(EXPECTED)
    assert heard(listening, b"first").words == "a first"
    lost = heard(listening, sound)
    assert (lost.words, lost.evidence) == ("", {evidence: 1.0})
    assert heard(listening, b"next").words == "a next"
    assert listening.starts == 2
    listening.close()
    assert listening.pid is None
