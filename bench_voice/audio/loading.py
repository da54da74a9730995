"""A model that loads in a thread of its own, so that the first step is spoken meanwhile."""

from __future__ import annotations

import threading
from collections.abc import Callable
from typing import Generic, TypeVar

from bench_voice.errors import EngineError

Model = TypeVar("Model")


class Loading(Generic[Model]):
    """`wait` gives the model, or raises the EngineError why there is none. `name`: the ear's, for the message."""

    def __init__(self, name: str, load: Callable[[], Model]) -> None:
        self._name, self._load = name, load
        self._model: Model | None = None
        self._failure: EngineError | None = None
        self._thread = threading.Thread(target=self._run, name=f"load-{name}", daemon=True)
        self._thread.start()

    def _run(self) -> None:
        try:
            self._model = self._load()
        except EngineError as error:
            self._failure = error
        except Exception as error:  # whatever a library raises; a thread's own would be lost
            self._failure = EngineError(
                f"The ear {self._name} cannot be loaded: {type(error).__name__}: {error}.",
                mend="Run bench-voice self-check; it says what is missing.",
                slug="ear-broken",
            )

    def wait(self) -> Model:
        self._thread.join()
        if self._failure is not None:
            raise self._failure
        if self._model is None:
            raise EngineError(
                f"The ear {self._name} has been closed.", mend="Start the session again.", slug="ear-broken"
            )
        return self._model

    def close(self) -> None:
        self._thread.join()
        self._model = None
