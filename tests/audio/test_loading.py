"""A model that loads in a thread of its own: its failure isn't lost, and a closed ear says so."""

from __future__ import annotations

import threading
from collections.abc import Callable

import pytest

from bench_voice.audio.loading import Loading
from bench_voice.errors import EngineError


def test_it_is_made_at_once_and_waited_for_when_it_is_needed() -> None:
    may_go = threading.Event()
    threads: list[str] = []

    def load() -> str:
        threads.append(threading.current_thread().name)
        assert may_go.wait(5)
        return "model"

    loading = Loading("ghost", load)  # comes back while the model is still loading
    may_go.set()
    assert [loading.wait() for _ in range(3)] == ["model"] * 3
    assert threads == ["load-ghost"]  # once, and not in the caller's


def refuse() -> None:
    raise EngineError("The file is torn.", mend="Mend it.", slug="ear-model-broken", where="x.bin")


def stumble() -> None:
    raise KeyError("gone")


@pytest.mark.parametrize(
    ("load", "says"),
    [
        (refuse, r"^x\.bin: The file is torn\. Mend it\. \[ear-model-broken\]$"),  # for people already: as it is
        (stumble, r"The ear ghost cannot be loaded: KeyError: 'gone'\..*\[ear-broken\]$"),
    ],
)
def test_why_there_is_no_model_is_raised_each_time(load: Callable[[], None], says: str) -> None:
    loading = Loading("ghost", load)
    for _ in range(3):
        with pytest.raises(EngineError, match=says):
            loading.wait()
    loading.close()
    with pytest.raises(EngineError, match=says):  # still the cause, not that it was closed
        loading.wait()


def test_a_closed_ear_says_so_and_lets_its_model_go() -> None:
    loading = Loading("ghost", lambda: "model")
    assert loading.wait() == "model"
    for _ in range(2):  # closing twice does no harm
        loading.close()
        with pytest.raises(EngineError, match=r"The ear ghost has been closed\..*\[ear-broken\]$"):
            loading.wait()


def test_closing_waits_for_a_load_that_is_under_way() -> None:
    """Else a model that comes late would be kept by an ear that nobody has any more."""
    may_go = threading.Event()
    loading = Loading("ghost", lambda: may_go.wait(5))
    threading.Timer(0.1, may_go.set).start()
    loading.close()
    assert may_go.is_set()
    with pytest.raises(EngineError, match="has been closed"):
        loading.wait()
