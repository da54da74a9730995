"""The first ear: pocketsphinx with a grammar made for the step. `Decoder` lives in a child (see ear_process).

A grammar turns nearly any sound into one of its phrases. The evidence says how much better the phrase fits than a free
loop of phones on the same sound: `per_frame` is the difference of the acoustic scores, in natural logarithms a 10 ms
frame, near 0 for a good fit and below -1 for forced ones; `worst` is the same of the word that fits worst, the loop's
score shared out by frames; `phones` is the edit distance of the two phone strings, divided by the phrase's length.
"""

from __future__ import annotations

import math
import os
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np

from bench_voice import phonetics
from bench_voice.audio.room import sound_evidence
from bench_voice.errors import EngineError
from bench_voice.phonetics import phones_of, propose
from bench_voice.ports import RATE_HZ, Heard, Utterance

NAME = "pocketsphinx"
_MEND = 'Install it with: pip install "pocketsphinx>=5.1,<6".'
_FILLERS = {"<sil>", "[NOISE]", "<s>", "</s>", "(NULL)", "[SPEECH]"}
_SILENT_PHONES = {"SIL", "+NOISE+", "+SPN+"}
_MOST_WAYS = 9  # of saying one word
Plan = tuple[str, tuple[str, ...]] | tuple[str, tuple[str, ...], tuple[tuple[str, str], ...]]


def model_folder() -> Path:
    """The bundled English model. Raises EngineError `ear-not-installed`."""
    if (model := phonetics.model_folder()) is not None:
        return model
    raise EngineError("pocketsphinx with its English model is not installed.", mend=_MEND, slug="ear-not-installed")


class Decoder:
    """Two decoders on one sound: the grammar's at once, the phone loop's when asked. `prepare` takes `(grammar,
    words)`, or with the pronunciations of sheet and person `(grammar, words, pairs)`.

    `has_phone_loop` False saves 40 MB and leaves its figures out of the evidence.
    Raises EngineError `ear-not-installed`, `ear-broken`.
    """

    def __init__(self, has_phone_loop: bool = True) -> None:
        model = model_folder()
        try:
            import pocketsphinx

            common = {"hmm": str(model / "en-us"), "lm": None, "samprate": float(RATE_HZ), "loglevel": "FATAL"}
            self._words: Any = pocketsphinx.Decoder(
                **common,
                dict=str(phonetics.dictionary_file(model)),
                bestpath=False,  # with loops in a grammar the best-path pass can hang for ever
                # In noise thousands of states a frame stay alive, to no use: with 30,000, 3,000, 1,500 and 800 at most
                # 27 of 76 mixed sentences were right each time, and took 0.31, 0.27, 0.23 and 0.19 s.
                maxhmmpf=800,
            )
            self._phones: Any = None
            if has_phone_loop:
                self._phones = pocketsphinx.Decoder(
                    **common,
                    allphone=str(model / "en-us-phone.lm.bin"),
                    lw=2.0,
                    pip=0.3,
                    beam=1e-10,
                    pbeam=1e-10,
                )
        except (RuntimeError, ValueError, OSError, ImportError) as error:
            raise EngineError(
                f"pocketsphinx could not load its model: {error}.",
                mend="Reinstall it with: pip install --force-reinstall pocketsphinx.",
                slug="ear-broken",
            ) from error
        self._active: str | None = None
        self._last: tuple[bytes, bytes, list[_Segment]] | None = None  # sound, dithered, what was said in it
        self._grammars = 0
        self._added: set[str] = set()

    def has_words(self, words: tuple[str, ...]) -> tuple[bool, ...]:
        """For each word whether it has a pronunciation."""
        return tuple(self._words.lookup_word(word) is not None for word in words)

    def prepare(self, plan: Plan) -> tuple[str, ...]:
        """`plan`: JSGF text, its words, and (word, how it is said) pairs: phones, or known words that sound so. A word
        that the dictionary has already gets one more pronunciation. Words that it lacks get a proposed one; one unknown
        word would make the decoder refuse the whole grammar. Returns those words."""
        grammar, words = plan[0], plan[1]
        for word, said in plan[2] if len(plan) == 3 else ():
            self._say(word, said)
        proposed = []
        for word in words:
            if self._words.lookup_word(word) is None:
                phones = propose(word, self._words.lookup_word)
                if phones:
                    self._words.add_word(word, phones, False)
                    self._added.add(word)
            if word in self._added:
                proposed.append(word)
        # A fresh name each time, activate, then remove the old one: adding the active name again can crash.
        self._grammars += 1
        name = f"step{self._grammars}"
        try:
            self._words.add_jsgf_string(name, grammar)
            self._words.activate_search(name)
        except (RuntimeError, ValueError, KeyError) as error:
            raise EngineError(
                f"The grammar of the step was refused: {error}.",
                mend="Run bench-voice check on the sheet; it lists the words without a pronunciation.",
                slug="ear-grammar",
            ) from error
        if self._active is not None:
            self._words.remove_search(self._active)
        self._active = name
        return tuple(proposed)

    def _say(self, word: str, said: str) -> None:
        """One more pronunciation of the word, unless it has it already: "lead", "lead(2)" …"""
        phones = phones_of(said, self._words.lookup_word)
        names = (word, *(f"{word}({number})" for number in range(2, _MOST_WAYS + 1)))
        for name in names if phones else ():
            known = self._words.lookup_word(name)
            if known == phones:
                return
            if known is None:
                self._words.add_word(name, phones, False)
                return

    def hear(self, utterance: Utterance) -> Heard:
        """The grammar's phrase. How well it fits, only `closer` tells: that takes as long again."""
        self._last = None
        if self._active is None or not utterance.pcm:
            return Heard(NAME, "", weight=0.0)
        pcm = dithered(utterance.pcm)
        said = self._decode(self._words, pcm)
        # "lead(2)" is the dictionary's second pronunciation of "lead".
        plain = [segment.name.split("(")[0] for segment in said if segment.name not in _FILLERS]
        if not plain:
            return Heard(NAME, "", weight=0.0, evidence=sound_evidence(utterance))
        self._last = (utterance.pcm, pcm, said)
        evidence = {**sound_evidence(utterance), "words": float(len(plain))}
        return Heard(NAME, " ".join(plain), evidence=evidence)

    def closer(self, utterance: Utterance, heard: Heard) -> Heard:
        """`heard`, the last that `hear` gave, with the figures of a loop of phones on the same sound."""
        if self._phones is None or self._last is None or self._last[0] != utterance.pcm:
            return heard
        _, pcm, said = self._last
        words = [segment.name for segment in said if segment.name not in _FILLERS]
        loop = self._decode(self._phones, pcm)
        frames = max(1, len(utterance.pcm) // 320)
        phones = [p for word in words for p in (self._words.lookup_word(word) or "").split()]
        free = [segment.name for segment in loop if segment.name not in _SILENT_PHONES]
        fit = {
            "per_frame": (sum(s.score for s in said) - sum(s.score for s in loop)) / frames,
            "worst": _worst(said, loop),
            "phones": phonetics.edits(phones, free) / max(1, len(phones)),
        }
        return replace(heard, evidence={**heard.evidence, **fit})

    @staticmethod
    def _decode(decoder: Any, pcm: bytes) -> list[_Segment]:
        """Words or phones with their acoustic scores in natural logarithms; empty for nothing."""
        decoder.start_utt()
        decoder.process_raw(pcm, full_utt=True)
        decoder.end_utt()
        if decoder.hyp() is None:
            return []
        # The wrapper gives exp of a score that the decoder holds divided by 1024 (its SENSCR_SHIFT of 10).
        return [
            _Segment(s.word, 1024 * math.log(max(s.ascore, 1e-300)), s.start_frame, s.end_frame) for s in decoder.seg()
        ]


class _Segment(NamedTuple):
    """A word or phone from frame `first` to frame `last`, both in it; frames of 10 ms."""

    name: str
    score: float
    first: int
    last: int


def _worst(said: list[_Segment], loop: list[_Segment]) -> float:
    """The smallest difference a frame of a word's score and the loop's on the same frames."""
    ends = max((s.last for s in (*said, *loop)), default=-1)
    free = np.zeros(ends + 2)
    for s in loop:
        free[s.first : s.last + 1] = s.score / max(1, s.last + 1 - s.first)
    found = [
        (s.score - float(free[s.first : s.last + 1].sum())) / max(1, s.last + 1 - s.first)
        for s in said
        if s.name not in _FILLERS
    ]
    return min(found, default=0.0)


def dithered(pcm: bytes) -> bytes:
    """The sound with a noise of four steps of 16 bits. Digital silence upsets the model's noise removal so much that
    clean sentences after it come out as other words."""
    samples = np.frombuffer(pcm, dtype="<i2", count=len(pcm) // 2).astype(np.int32)
    noise = np.random.default_rng(16_000).integers(-4, 5, len(samples))
    noisy: bytes = np.clip(samples + noise, -32768, 32767).astype("<i2").tobytes()
    return noisy


def make_decoder(has_phone_loop: bool = True) -> Decoder:
    """For the child process. Two small cores: one thread for the numeric libraries."""
    os.environ.setdefault("OMP_NUM_THREADS", "1")
    return Decoder(has_phone_loop)
