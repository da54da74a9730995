"""The voice: espeak-ng through pyttsx3, to samples. The library may come from the `espeakng-loader` wheel.

pyttsx3 says two texts as one, hangs in threads and keeps writing into its last file; so every sentence is one
`save_to_file` in a watched child process, and what is spoken often is kept.
"""

from __future__ import annotations

import contextlib
import ctypes
import importlib.util
import io
import os
import threading
from collections import OrderedDict
from pathlib import Path
from typing import Any

from bench_voice.audio import scratch
from bench_voice.audio.child import ChildLost, WatchedChild
from bench_voice.audio.wav import read_wav
from bench_voice.errors import EngineError

WORDS_A_MINUTE = 160
_KEPT_SENTENCES = 256
_MEND = "Install espeak-ng (Debian: apt install espeak-ng) or the wheel (pip install espeakng-loader)."


def _load_wheel_library() -> bool:
    """Loads the wheel's espeak-ng under the name that pyttsx3 asks for. Must run before pyttsx3 is imported."""
    spec = importlib.util.find_spec("espeakng_loader")
    if spec is None or not spec.submodule_search_locations:
        return False
    folder = Path(next(iter(spec.submodule_search_locations)))
    for library in sorted(folder.glob("*espeak-ng*.so.1")) + sorted(folder.glob("*espeak-ng*.dylib")):
        with contextlib.suppress(OSError):
            # Its soname is now loaded: dlopen("libespeak-ng.so.1") finds this one without any search path.
            ctypes.CDLL(str(library), ctypes.RTLD_GLOBAL)
            os.environ["ESPEAK_DATA_PATH"] = str(folder / "espeak-ng-data")
            return True
    return False


_LONGEST_SYNTHESIS_S = 5.0
_TRIES = 3
_HEADER_BYTES = 44  # of a WAV file without sound


class Synthesiser:
    """Lives in the child. Raises EngineError `voice-none` where there is no espeak-ng."""

    def __init__(self, rate_wpm: int = WORDS_A_MINUTE, voice: str | None = None) -> None:
        _load_wheel_library()
        # On a busy machine `runAndWait` comes back before the synthesiser's own thread has written the file.
        self._is_finished = threading.Event()
        try:
            import pyttsx3

            self._engine: Any = pyttsx3.init()
            self._engine.connect("finished-utterance", self._on_finished)
            self._engine.setProperty("rate", rate_wpm)
            if voice is not None:
                self._engine.setProperty("voice", voice)
        except Exception as error:  # pyttsx3 raises RuntimeError, OSError, KeyError and others for one cause
            raise EngineError("No voice can be loaded.", mend=_MEND, slug="voice-none") from error

    def _on_finished(self, name: object = None, completed: bool = True) -> None:
        self._is_finished.set()

    def speak(self, text: str, rate_wpm: int | None = None) -> bytes:
        """16 kHz mono s16le of the text; empty text gives no sound."""
        text = " ".join(text.split())
        if not text:
            return b""
        if rate_wpm is not None:
            self._engine.setProperty("rate", rate_wpm)
        with scratch.file(".wav") as path:
            # A late word of the sentence before can end the wait too early: then the file has a header and no sound.
            for _ in range(_TRIES):
                self._is_finished.clear()
                with contextlib.redirect_stdout(io.StringIO()):
                    self._engine.save_to_file(text, str(path))
                    self._engine.runAndWait()
                    self._is_finished.wait(_LONGEST_SYNTHESIS_S)
                if path.stat().st_size > _HEADER_BYTES:
                    return read_wav(path)
        raise EngineError("The voice gave no sound.", mend=_MEND, slug="voice-silent")


class Pyttsx3Voice:
    """ports.Voice. `speak` blocks for about 15 ms a new sentence, nothing for one that was said before.

    A synthesiser that hangs is ended and tried once more. Raises EngineError `voice-none`, `voice-hangs`.
    """

    def __init__(self, rate_wpm: int = WORDS_A_MINUTE, voice: str | None = None, *, limit_s: float = 10.0) -> None:
        factory = "bench_voice.audio.voice_pyttsx3:Synthesiser"
        self._child = WatchedChild(factory, (rate_wpm, voice), limit_s=limit_s)
        self.rate_wpm = rate_wpm  # may be changed between two sentences
        self._kept: OrderedDict[tuple[int, str], bytes] = OrderedDict()
        self._child.start()

    def wait_ready(self) -> None:
        """Until it can speak. Raises EngineError `voice-none`, `voice-hangs`."""
        self._try("wait_ready")

    def speak(self, text: str) -> bytes:
        text = " ".join(text.split())
        if not text:
            return b""
        key = self.rate_wpm, text
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        pcm: bytes = self._try("call", "speak", text, self.rate_wpm)
        self._kept[key] = pcm
        if len(self._kept) > _KEPT_SENTENCES:
            self._kept.popitem(last=False)
        return pcm

    def close(self) -> None:
        self._child.close()

    def _try(self, what: str, *arguments: object) -> Any:
        for _ in range(2):
            try:
                return getattr(self._child, what)(*arguments)
            except ChildLost as lost:
                why = str(lost)
        raise EngineError(f"The voice does not answer: {why}.", mend=_MEND, slug="voice-hangs")
