"""The free ears: small Whispers through CTranslate2. They must write words, never figures.

One pass of the encoder over a 10 s window, then two beam searches: *free* (anything but figures) and *limited* (only
the tokens of the step's words). Figures are suppressed because Whisper invents decimal points in them; the 30 s window
that it was trained with isn't needed and takes five times as long; shorter than 10 s repeats itself.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.byte_pairs import BytePairs
from bench_voice.audio.free_text import clean, longest_text, weighted
from bench_voice.audio.loading import Loading
from bench_voice.audio.mel import log_mel
from bench_voice.audio.phone_net import PhoneJudge
from bench_voice.audio.resample import Samples, from_s16
from bench_voice.audio.room import sound_evidence
from bench_voice.audio.weights import ModelFiles, as_folder, find_files
from bench_voice.core.intents import Expected
from bench_voice.errors import EngineError
from bench_voice.ports import RATE_HZ, Heard, Utterance

NAME = "whisper"
WINDOW_S = 10
_FRAMES_A_SECOND = 100
_SAMPLES_A_FRAME = 320  # of the encoder's answer; a few more frames know of the sound's end
_SPARE_FRAMES = 4
_BEAMS = 5
# Few words are allowed, so the end of the text is always among the best five and short texts fill the beam: more
# patience lets the whole sentence finish. 4 repeats the sentence, a lower length penalty the last digit (measured).
_LIMITED_SEARCH = (2.0, 1.0)
# One: on two cores the other ear has the other core, and two threads that wait for each other burn both when anything
# else runs (measured at a load of six: 13.7 s of processor time a sentence against 0.9 s).
_THREADS = 1
_MOST_WORDS = 600
_LONGEST_PROMPT = 150  # tokens; the model takes 223
# Shows how things are written here: words, numbers with and without "point", digits one by one, the step's unit. In
# noise a Whisper may write its prompt instead of what was said ("two hundred and twenty"): two that were told different
# numbers can't agree on those.
_PROMPTS = {
    "whisper": " four point six{unit}. six nine eight. two hundred and twenty. next. zero point zero five."
    " affirm. say again.",
    "whisper-tiny": " nine point three{unit}. five one seven. one hundred and eighty. repeat. nought point one two."
    " negative. where are we.",
}
_END = "<|endoftext|>"


class WhisperModel:
    """The loaded network and its tokens. Raises EngineError; takes about a second and 240 MB."""

    def __init__(self, files: ModelFiles | None = None, threads: int = _THREADS) -> None:
        files = files or find_files(NAME)
        # OpenMP's workers spin while they wait; with anything else running they then take three times as long
        # (measured: 5.5 to 9.4 s against 1.9 s a sentence at a load of six). Read once, when the library is loaded.
        os.environ.setdefault("KMP_BLOCKTIME", "0")
        try:
            import ctranslate2
        except (ImportError, OSError) as error:
            raise EngineError(
                f"The engine of the free ears is not installed: {error}.",
                mend='Install it with: pip install "ctranslate2>=4.8,<5".',
                slug="ear-not-installed",
            ) from error
        self._views = ctranslate2.StorageView
        try:
            with as_folder(files) as folder:
                self._net: Any = ctranslate2.models.Whisper(
                    str(folder),
                    device="cpu",
                    compute_type="int8",
                    intra_threads=threads,
                )
            self._tokens = BytePairs(files.path("tokenizer.json"))
        except EngineError:
            raise
        except Exception as error:  # the library raises bare RuntimeError and ValueError
            raise EngineError(
                f"The model of a free ear cannot be loaded: {error}.",
                mend="Use a Whisper model in CTranslate2 form, with its tokenizer.json.",
                slug="ear-model-broken",
                where=str(files.paths[0].parent),
            ) from error
        self._end = self._id(_END)
        what = ("<|en|>", "<|transcribe|>") if self._net.is_multilingual else ()
        starts = ("<|startoftranscript|>", *what, "<|notimestamps|>")
        self._start = [self._id(token) for token in starts]
        self._before = self._id("<|startofprev|>")
        vocabulary = self._tokens.vocabulary
        self._size = 1 + max(vocabulary.values())
        self.figures = self._without(vocabulary)

    def _id(self, token: str) -> int:
        found = self._tokens.vocabulary.get(token)
        if found is None:
            raise EngineError(
                f"The model lacks the token {token}.",
                mend="Use a Whisper model that can write English.",
                slug="ear-model-broken",
            )
        return found

    def _without(self, vocabulary: dict[str, int]) -> list[int]:
        """Tokens never written: all with a digit or a sign of a unit, and everything special but the end."""
        kept_out = [
            number
            for token, number in vocabulary.items()
            if number < self._end and re.search(r"[0-9%°$£€²³½¼¾\[(♪]", token)
        ]
        return [-1, *sorted(kept_out), *range(self._end + 1, self._size)]

    def limit_to(self, words: Sequence[str]) -> list[int]:
        """What to suppress so that only these words' tokens can be written."""
        allowed = {self._end}
        for word in words[:_MOST_WORDS]:
            allowed.update(self._tokens.encode(" " + word))
        return [number for number in range(self._size) if number not in allowed]

    def prompt(self, text: str) -> list[int]:
        ids = self._tokens.encode(text)
        return [self._before, *ids[-_LONGEST_PROMPT:], *self._start] if ids else list(self._start)

    def encode(self, samples: Samples) -> Any:
        window_s = min(30, max(WINDOW_S, math.ceil(len(samples) / RATE_HZ)))
        frames = window_s * _FRAMES_A_SECOND
        padded = np.zeros(window_s * RATE_HZ, dtype=np.float32)
        padded[: len(samples)] = samples[: len(padded)]
        mel = np.ascontiguousarray(log_mel(padded)[None, :, :frames])
        return self._net.encode(self._views.from_array(mel))

    def write(
        self,
        encoded: Any,
        prompt: list[int],
        suppressed: list[int],
        speech_s: float,
        patience: float = 1.0,
        length_penalty: float = 1.0,
    ) -> tuple[list[tuple[str, float]], float]:
        """Hypotheses as (words, log-probability of the whole text), best first, and P(no speech)."""
        result = self._net.generate(
            encoded,
            [prompt],
            beam_size=_BEAMS,
            patience=patience,
            length_penalty=length_penalty,
            num_hypotheses=_BEAMS,
            max_length=len(prompt) + longest_text(speech_s),
            suppress_blank=True,
            suppress_tokens=suppressed,
            return_scores=True,
            return_no_speech_prob=True,
        )[0]
        texts = []
        for ids, score in zip(result.sequences_ids, result.scores, strict=True):
            texts.append((clean(self._tokens.decode(ids)), score * max(1, len(ids)) ** length_penalty))
        return texts, float(result.no_speech_prob)


def frames_of(encoded: Any, samples: int) -> NDArray[np.float32]:
    """The encoder's answer, frames x features, as far as there is sound."""
    return np.asarray(encoded, np.float32)[0, : math.ceil(samples / _SAMPLES_A_FRAME) + _SPARE_FRAMES]


class WhisperEar:
    """ports.Ear. Loads in a thread of its own, so that the first step is spoken meanwhile.

    `name`: which of weights.SOURCES. `plan` gives the words of the step, `hints` names that it is told beforehand (of
    23 clean readings the free text had 17 right without and all with them, of 50 sentences of talk as many stayed talk;
    development part of the corpus), `unit` the step's unit as it is said. `phones`: tells how texts fit what the
    encoder made of the sound.
    Evidence: `no_speech` (0..1), `free` and `limited` (log-probability a word), and those of the
    sound (`audio.room`). Raises EngineError from `hear` and `wait_ready` when loading failed.
    """

    def __init__(
        self,
        plan: Callable[[Expected], Sequence[str]],
        hints: Callable[[Expected], Sequence[str]] = lambda expected: (),
        unit: Callable[[Expected], str] = lambda expected: "",
        *,
        name: str = NAME,
        phones: PhoneJudge | None = None,
    ) -> None:
        self.name = name
        self.phones = phones
        self._plan, self._hints, self._unit = plan, hints, unit
        self._words: tuple[str, ...] = ()
        self._prompt = _PROMPTS[name].format(unit="")
        self._limited: tuple[tuple[str, ...], list[int]] | None = None
        self._last: tuple[bytes, Any] | None = None  # sound, and the encoder's answer
        self._loading = Loading(name, lambda: WhisperModel(find_files(name)))

    def wait_ready(self) -> None:
        self._loading.wait()

    def prepare(self, expected: Expected) -> None:
        if self.phones is not None:
            self.phones.prepare(expected)
        self._words = tuple(self._plan(expected))
        hinted = ", ".join(self._hints(expected))
        unit = self._unit(expected)
        shown = _PROMPTS[self.name].format(unit=unit and f" {unit}")
        self._prompt = f" Words: {hinted}.{shown}" if hinted else shown

    def hear(self, utterance: Utterance) -> Heard:
        """Free text only: `words` is empty. What it needs of processor time is half of what both searches need."""
        model = self._loading.wait()
        if not utterance.pcm:
            return Heard(self.name, "", weight=0.0)
        encoded = self._encoded(model, utterance)
        free, no_speech = model.write(encoded, model.prompt(self._prompt), model.figures, utterance.speech_s)
        free_words = weighted(free)[0][0]
        evidence = {
            **sound_evidence(utterance),
            "no_speech": no_speech,
            "free": free[0][1] / max(1, len(free_words.split())),
        }
        has_phones = self.phones is not None
        return Heard(self.name, "", 0.0, evidence=evidence, free_words=free_words, has_phones=has_phones)

    def closer(self, utterance: Utterance, heard: Heard) -> Heard:
        """`heard` with the search that is held to the step's words."""
        model = self._loading.wait()
        if not utterance.pcm or not self._words:
            return replace(heard, words=heard.free_words or "")
        if self._limited is None or self._limited[0] != self._words:
            self._limited = (self._words, model.limit_to(self._words))
        texts = model.write(
            self._encoded(model, utterance),
            model.prompt(self._prompt),
            self._limited[1],
            heard.evidence["speech_s"],
            *_LIMITED_SEARCH,
        )[0]
        ranked = weighted(texts)
        words, weight = ranked[0]
        evidence = {**heard.evidence, "limited": texts[0][1] / max(1, len(words.split()))}
        return replace(heard, words=words, weight=weight, alternatives=tuple(ranked[1:]), evidence=evidence)

    def opinion(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard:
        """What its phone network says; it has no other opinion."""
        return self.sounded(utterance, heard, texts)

    def sounded(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard:
        """`heard` with how well the texts' phones fit the sound that was heard last."""
        if self.phones is None or self._last is None or self._last[0] != utterance.pcm:
            return heard
        states = frames_of(self._last[1], len(utterance.pcm) // 2)
        return self.phones.heard(states, heard, texts, from_s16(utterance.pcm))

    def _encoded(self, model: WhisperModel, utterance: Utterance) -> Any:
        """The encoder's answer; the last one is kept."""
        if self._last is None or self._last[0] != utterance.pcm:
            self._last = (utterance.pcm, model.encode(from_s16(utterance.pcm)))
        return self._last[1]

    def close(self) -> None:
        self._loading.close()
