"""A free ear of another family: a small Moonshine through onnxruntime, from the sound itself to words.

It knows neither the step nor its names, so nothing can put words into its mouth. It writes what it hears (never in
figures) and says, when asked, how well other texts fit the same sound: `opinion`.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import IntEnum
from itertools import pairwise
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from bench_voice.audio.free_text import clean, longest_text, weighted
from bench_voice.audio.loading import Loading
from bench_voice.audio.phone_net import PhoneJudge
from bench_voice.audio.resample import Samples, from_s16
from bench_voice.audio.room import sound_evidence
from bench_voice.audio.weights import ModelFiles, find_files
from bench_voice.core.intents import Expected
from bench_voice.errors import EngineError
from bench_voice.phonetics import american_unit
from bench_voice.ports import Fit, Heard, Utterance
from bench_voice.words.phrases import NumberWords

NAME = "moonshine"
_BEAMS = 5
_FAR = 4.0  # log-probability below the best whole text at which going on can't change what is heard
_MOST_TEXTS = 16
_LEAST_SAMPLES = 1600  # the network refuses less than 0.06 s
_START, _END = 1, 2
_BYTES = range(3, 259)  # tokens of single bytes, for what the vocabulary can't spell
_NEVER = -1e9
_FLOOR = -30.0  # what a fit and a margin are cut off at
_FIGURES = re.compile(rb"[0-9%$\[\]()<>]|[\xc2-\xe1\xe3-\xf4]|\xe2[^\x80\x96]")
_ENDINGS = (".", "?", "!", ",")
_NOUGHT = ("nought", "not")  # as it writes it
_LEAST_RIVAL = 5  # bytes of "▁" and two letters: shorter beginnings of number words begin anything

Floats = NDArray[np.float32]


class _Place(IntEnum):
    """Where a token stands. WORD: the beginning of a word where a number could stand; REST: the rest of a number."""

    OUTSIDE = 0
    WORD = 1
    REST = 2
    POINT = 3


@dataclass(frozen=True)
class _Encoded:
    states: Floats
    best: float  # log-probability of its own best text


class MoonshineModel:
    """The loaded network and its tokens. `words`: how numbers are said. Raises EngineError."""

    def __init__(self, words: NumberWords, files: ModelFiles | None = None) -> None:
        files = files or find_files(NAME)
        files.check()
        try:
            import onnxruntime
        except (ImportError, OSError) as error:
            raise EngineError(
                f"The engine of the ear {NAME} is not installed: {error}.",
                mend='Install it with: pip install "onnxruntime>=1.20,<2".',
                slug="ear-not-installed",
            ) from error
        options = onnxruntime.SessionOptions()
        # One thread, as for the other ears: they hear side by side on few cores.
        options.intra_op_num_threads = options.inter_op_num_threads = 1
        options.enable_cpu_mem_arena = False
        options.log_severity_level = 3
        try:
            self._encoder, self._decoder = (
                onnxruntime.InferenceSession(str(files.path(name)), options, providers=["CPUExecutionProvider"])
                for name in ("encoder_model.ort", "decoder_model_merged.ort")
            )
            self.tokens = _read_tokens(files.path("tokenizer.bin"))
            if len(self.tokens) != self._decoder.get_outputs()[0].shape[-1]:
                raise ValueError("tokenizer.bin does not belong to the decoder")
        except Exception as error:  # onnxruntime has errors of its own for each cause
            raise EngineError(
                f"The model of the ear {NAME} cannot be loaded: {error}.",
                mend="Install its weights again; bench-voice self-check names the package.",
                slug="ear-model-broken",
                where=str(files.path("encoder_model.ort").parent),
            ) from error
        self._inputs = [one.name for one in self._decoder.get_inputs()]
        self._past = {
            one.name: (int(one.shape[1]), int(one.shape[3]))
            for one in self._decoder.get_inputs()
            if one.name.startswith("past_key_values")
        }
        self._outputs = [one.name for one in self._decoder.get_outputs()]
        self._ids = {token: at for at, token in enumerate(self.tokens) if token and at not in _BYTES}
        allowed = [
            at in (_END,) or (at > 258 and bool(token) and not _FIGURES.search(token))
            for at, token in enumerate(self.tokens)
        ]
        self._free = np.where(allowed, 0.0, _NEVER).astype(np.float32)
        numbers = words.plain
        spelled = [self.spell(form) for word in numbers for form in (word, word.capitalize())]
        first = {ids[0] for ids in spelled if ids}
        self._numbers = np.array(sorted(at for at in first if len(self.tokens[at]) > _LEAST_RIVAL))
        self._number_words, self._points, self._joiner = frozenset(numbers), words.point, words.said_and
        self._endings = np.array([self._ids[mark.encode()] for mark in _ENDINGS] + [_END])

    def spell(self, text: str) -> list[int]:
        """Tokens of a text, joined in pairs, the pair with the lowest number first (byte-pair encoding)."""
        parts = [character.encode() for character in f" {text}".replace(" ", "▁")]
        while True:
            pairs = [(self._ids.get(a + b, -1), at) for at, (a, b) in enumerate(pairwise(parts))]
            known = [pair for pair in pairs if pair[0] >= 0]
            if not known:
                return [self._ids[part] for part in parts if part in self._ids]
            at = min(known)[1]
            parts[at : at + 2] = [parts[at] + parts[at + 1]]

    def encode(self, samples: Samples) -> Floats:
        samples = np.pad(samples, (0, max(0, _LEAST_SAMPLES - len(samples))))
        feed = {"input_values": samples[None], "attention_mask": np.ones((1, len(samples)), np.int64)}
        states: Floats = self._encoder.run(None, feed)[0]
        return states

    def _run(self, states: Floats, ids: NDArray[np.int64], past: dict[str, Floats] | None) -> tuple[Floats, Any]:
        """Log-probabilities of the next token after each, and the decoder's memory."""
        rows = len(ids)
        feed: dict[str, Any] = {
            "input_ids": ids,
            "encoder_hidden_states": np.repeat(states, rows, 0),
            # Nothing is filled up, so one place stands for all. It counts samples: as many as states fail from 9 s on.
            "encoder_attention_mask": np.ones((rows, 1), np.int64),
            "use_cache_branch": np.array([past is not None]),
        }
        for name, (heads, size) in self._past.items():
            feed[name] = past[name] if past is not None else np.zeros((rows, heads, 0, size), np.float32)
        found = self._decoder.run(None, {name: feed[name] for name in self._inputs})
        names = (one.replace("present", "past_key_values") for one in self._outputs[1:])
        memory = dict(zip(names, found[1:], strict=True))
        logits: Floats = found[0]
        logits -= logits.max(-1, keepdims=True)
        return logits - np.log(np.exp(logits).sum(-1, keepdims=True)), memory

    def write(self, states: Floats, longest: int) -> list[tuple[str, float]]:
        """Texts as they are written, with the log-probability of each whole text, best first. Beam search."""
        scores, memory = self._run(states, np.array([[_START]]), None)
        sound = {name: np.repeat(value, _BEAMS, 0) for name, value in memory.items() if ".encoder." in name}
        said = {name: value for name, value in memory.items() if ".decoder." in name}
        texts: list[tuple[list[int], float]] = [([], 0.0)]
        whole: list[tuple[list[int], float]] = []
        for _ in range(longest):
            total = scores[:, -1] + self._free + np.array([score for _, score in texts], np.float32)[:, None]
            best = np.argpartition(-total, _BEAMS, axis=None)[:_BEAMS]
            rows, ids = np.unravel_index(best, total.shape)
            found = sorted(zip(rows, ids, total[rows, ids], strict=True), key=lambda one: -one[2])
            whole += [(texts[row][0], float(score)) for row, token, score in found if token == _END]
            going = [one for one in found if one[1] != _END]
            top = max((score for _, score in whole), default=-math.inf)
            if len(whole) >= _BEAMS or not going or going[0][2] < top - _FAR:
                break
            texts = [([*texts[row][0], int(token)], float(score)) for row, token, score in going]
            kept = [row for row, _, _ in going]
            said = {name: value[kept] for name, value in said.items()}
            past = {**said, **{name: value[: len(kept)] for name, value in sound.items()}}
            scores, memory = self._run(states, np.array([[ids[-1]] for ids, _ in texts]), past)
            said = {name: value for name, value in memory.items() if ".decoder." in name}
        else:
            whole = whole or texts
        return sorted(((self._text(ids), score) for ids, score in whole), key=lambda one: -one[1])

    def _text(self, ids: Sequence[int]) -> str:
        return b"".join(self.tokens[at] for at in ids).decode("utf-8", "replace").replace("▁", " ").strip()

    def fits(self, states: Floats, texts: Sequence[str], best: float) -> tuple[Fit, ...]:
        """How well each text (lower case, words only) fits the sound; see ports.Fit."""
        asked = list(dict.fromkeys(text for text in texts if text))[:_MOST_TEXTS]
        spelled = [self._spelled(text) for text in asked]
        if not spelled:
            return ()
        longest = max(len(ids) for ids, _ in spelled)
        rows = np.full((len(spelled), longest + 1), _END, np.int64)
        for row, (ids, _) in enumerate(spelled):
            rows[row, 0], rows[row, 1 : len(ids) + 1] = _START, ids
        scores, _ = self._run(states, rows, None)
        return tuple(
            self._fit(text, ids, numeric, scores[row], best)
            for row, (text, (ids, numeric)) in enumerate(zip(asked, spelled, strict=True))
        )

    def _spelled(self, text: str) -> tuple[list[int], list[_Place]]:
        """Tokens, and the place of each."""
        ids: list[int] = []
        places: list[_Place] = []
        for at, word in enumerate(text.split()):
            shown = american_unit(word).replace(*_NOUGHT)
            tokens = self.spell(shown.capitalize() if at == 0 else shown)
            is_number = word in self._number_words
            # "Hundred [and] thirty": no other number is likely for leaving out what may be left out.
            stands = (is_number or any(places)) and word != self._joiner
            place = _Place.POINT if word in self._points and stands else _Place.WORD if stands else _Place.OUTSIDE
            ids += tokens
            places += [place, *([_Place.REST if is_number else _Place.OUTSIDE] * (len(tokens) - 1))]
        return ids, places

    def _fit(self, text: str, ids: list[int], places: list[_Place], scores: Floats, best: float) -> Fit:
        each = [float(scores[at, token]) for at, token in enumerate(ids)]
        each.append(float(np.logaddexp.reduce(scores[len(ids), self._endings])))
        first = next((at for at, place in enumerate(places) if place), None)
        leads: dict[_Place, list[float]] = {place: [] for place in _Place}
        for at, (token, place) in enumerate(zip(ids, places, strict=True)):
            rivals = (
                np.delete(scores[at], token)
                if place is _Place.REST
                else scores[at, self._numbers[self._numbers != token]]
            )
            leads[place].append(each[at] - float(rivals.max()))
        if first is not None:
            leads[_Place.WORD].append(each[-1] - float(scores[len(ids), self._numbers].max()))
        margin = min((_FAR, *leads[_Place.WORD], *leads[_Place.REST])) if first is not None else 0.0
        point = min((_FAR, *leads[_Place.POINT])) if leads[_Place.POINT] else 0.0
        tail = float(np.mean(each[first or 0 :]))
        return Fit(text, *(max(_FLOOR, figure) for figure in (sum(each) - best, tail, margin, point)))


def _read_tokens(path: Path) -> list[bytes]:
    """The bytes of each token: a length of one byte or two (seven bits first, then the rest), then so many bytes."""
    raw = path.read_bytes()
    tokens, at = [], 0
    while at < len(raw):
        length, at = raw[at], at + 1
        if length >= 128:
            length, at = length - 128 + 128 * raw[at], at + 1
        tokens.append(raw[at : at + length])
        at += length
    return tokens


class MoonshineEar:
    """ports.Ear; loads in a thread of its own. It isn't told what is expected.

    `words` and `free_words` are the same: nothing holds it to the step. Evidence: `free` (log-probability a word),
    those of the sound (`audio.room`). `phones`: tells how texts fit the encoder's answer. Raises EngineError from
    `hear` and `wait_ready` when loading failed.
    """

    def __init__(self, words: NumberWords, phones: PhoneJudge | None = None) -> None:
        self.name = NAME
        self.phones = phones
        self._loading = Loading(NAME, lambda: MoonshineModel(words))
        self._last: tuple[bytes, _Encoded] | None = None

    def wait_ready(self) -> None:
        self._loading.wait()

    def prepare(self, expected: Expected) -> None:
        if self.phones is not None:
            self.phones.prepare(expected)

    def hear(self, utterance: Utterance) -> Heard:
        model = self._loading.wait()
        if not utterance.pcm:
            return Heard(self.name, "", weight=0.0)
        states = model.encode(from_s16(utterance.pcm))
        texts = model.write(states, longest_text(utterance.speech_s))
        self._last = (utterance.pcm, _Encoded(states, texts[0][1]))
        ranked = weighted([(clean(text), score) for text, score in texts])
        words, weight = ranked[0]
        evidence = {**sound_evidence(utterance), "free": texts[0][1] / max(1, len(words.split()))}
        has_phones = self.phones is not None
        return Heard(self.name, words, weight, tuple(ranked[1:]), evidence, words, has_phones=has_phones)

    def opinion(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard:
        """`heard` with how well the texts fit the sound that was heard last."""
        if self._last is None or self._last[0] != utterance.pcm:
            return heard
        encoded = self._last[1]
        fits = self._loading.wait().fits(encoded.states, texts, encoded.best)
        return self.sounded(utterance, replace(heard, fits=fits), texts)

    def sounded(self, utterance: Utterance, heard: Heard, texts: Sequence[str]) -> Heard:
        """`heard` with how well the texts' phones fit the sound that was heard last."""
        if self.phones is None or self._last is None or self._last[0] != utterance.pcm:
            return heard
        return self.phones.heard(self._last[1].states[0], heard, texts, from_s16(utterance.pcm))

    def close(self) -> None:
        self._loading.close()
