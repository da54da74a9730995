"""Clips to evidence: what each ear heard, piece by piece, kept as lines of JSON so that decisions can be tried on it.

Decoders run in this process, without limits of time: what is measured here is what they hear. Whole: every look is
taken at every utterance (for fitting); otherwise as in a session, where later looks are only taken when wanted.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import asdict, replace
from itertools import repeat
from pathlib import Path
from typing import Any

from bench_voice.audio.ear_moonshine import MoonshineEar
from bench_voice.audio.ear_pocketsphinx import Decoder
from bench_voice.audio.ear_whisper import WhisperEar
from bench_voice.audio.ears import LAST
from bench_voice.audio.phone_net import PhoneJudge, has_net
from bench_voice.audio.reading_net import ReadingWords
from bench_voice.core.intents import Expected, Intent
from bench_voice.grammar.jsgf import jsgf
from bench_voice.grammar.vocabulary import hints, said_unit, vocabulary
from bench_voice.hearing.agree import agree
from bench_voice.hearing.cascade import is_plain_to_all, texts_for, wants
from bench_voice.phonetics import spoken
from bench_voice.ports import Fit, Heard, Pass, Sounding, Utterance
from bench_voice.session.listen import at_hold, meant
from tests.corpus import clips as of
from tests.corpus import cut, texts

_CLOSER = ("limited", "per_frame", "worst", "phones")  # evidence that comes with the closer look


class Hearer:
    """The four ears, as `session.ahead.Hears`."""

    def __init__(self) -> None:
        self._decoder = Decoder()
        self._judge = MoonshineEar(texts.LANGUAGE.numbers, _phones("moonshine"))
        self._free = [
            WhisperEar(
                lambda expected: vocabulary(expected, texts.LANGUAGE).words(),
                lambda expected: hints(expected, texts.LANGUAGE),
                lambda expected: said_unit(expected, texts.LANGUAGE),
                name=name,
                phones=_phones(name) if has_net(name) else None,
            )
            for name in ("whisper", "whisper-tiny")
        ]
        self._sent: object = None
        self.is_whole = False  # take every look at what is heard

    def meaning(self, heard: Sequence[Heard], expected: Expected) -> Intent | None:
        """As `session.listen.Listener` has it."""
        looked = as_looked(expected, heard)
        return meant(agree(expected, looked, texts.LANGUAGE), looked)

    def hear(self, utterance: Utterance, expected: Expected, is_wanted: object = None) -> tuple[Heard, ...]:
        listened_for = vocabulary(expected, texts.LANGUAGE)
        plan = (jsgf(listened_for), listened_for.all_words())
        if plan != self._sent:
            self._decoder.prepare(plan)
            self._sent = plan
        for ear in self._free:
            ear.prepare(expected)
        self._judge.prepare(expected)
        at_once = [ear.hear(utterance) for ear in self._free]
        heard = (self._decoder.hear(utterance), *at_once, self._judge.hear(utterance))
        heard = at_hold(heard, expected, spoken)
        if self.is_whole:
            for each in Pass:
                heard = self._more(utterance, expected, heard, each)
            return heard
        while (which := wants(expected, heard, texts.LANGUAGE)) is not None:
            more = self._more(utterance, expected, heard, which)
            if more == heard:
                break
            heard = more
        return heard

    def _more(
        self, utterance: Utterance, expected: Expected, heard: tuple[Heard, ...], which: Pass
    ) -> tuple[Heard, ...]:
        first, *free, judge = heard
        if which is Pass.CLOSER:
            closer = [ear.closer(utterance, h) for ear, h in zip(self._free, free, strict=True)]
            return at_hold((self._decoder.closer(utterance, first), *closer, judge), expected, spoken)
        asked = texts_for(which, expected, heard, texts.LANGUAGE)
        if which is Pass.SOUNDS:
            written = [ear.sounded(utterance, h, asked) for ear, h in zip(self._free, free, strict=True)]
            return (first, *written, self._judge.sounded(utterance, judge, asked))
        written = [ear.opinion(utterance, h, asked) for ear, h in zip(self._free, free, strict=True)]
        return (first, *written, self._judge.opinion(utterance, judge, asked))


def _phones(ear: str) -> PhoneJudge:
    def words_at(expected: Expected) -> ReadingWords:
        words = vocabulary(expected, texts.LANGUAGE)
        return ReadingWords(words.names, words.units)

    return PhoneJudge(ear, spoken, texts.LANGUAGE.numbers, words_at=words_at)


def as_looked(expected: Expected, heard: Sequence[Heard]) -> tuple[Heard, ...]:
    """Of answers with every look taken, those that a session would have: later looks only where they are wanted, and
    without the slowest ear where that is not waited for."""
    at_once = tuple(_at_once(one) for one in heard)
    others = tuple(one for one in at_once if one.ear != LAST)
    if len(others) < len(at_once) and is_plain_to_all(expected, others, texts.LANGUAGE):
        return others
    which = wants(expected, at_once, texts.LANGUAGE)
    if which is None:
        return at_once
    if which is Pass.CLOSER:
        at_once = tuple(replace(one, fits=(), soundings=(), by_phones=None) for one in heard)
        which = wants(expected, at_once, texts.LANGUAGE)
    return at_once if which is None else tuple(heard)


def _at_once(heard: Heard) -> Heard:
    """Without what the later looks added."""
    evidence = {name: value for name, value in heard.evidence.items() if name not in _CLOSER}
    if heard.free_words is None:
        return replace(heard, evidence=evidence)
    if "limited" not in heard.evidence:  # nothing can hold it to the step's words
        return replace(heard, fits=(), soundings=(), by_phones=None)
    return replace(heard, words="", weight=0.0, alternatives=(), evidence=evidence, soundings=(), by_phones=None)


def listen(
    part: str,
    chosen: Iterable[of.Clip],
    path: Path,
    whole: int,
    is_checked: bool = True,
) -> None:
    """Appends a line a clip; goes on where the file ends. `whole`: clips below this number get every look, for fitting
    and for comparing ways; the others as in a session. `is_checked`: each after a sound check, as a session begins."""
    done = {line["number"] for line in read(path)}
    hearer = Hearer()
    with path.open("a", encoding="utf-8") as out:
        for clip in chosen:
            if clip.number in done:
                continue
            expected = texts.expected_of(clip.said.sheet, clip.said.step)
            hearer.is_whole = clip.number < whole
            endpointer = cut.checked(of.check_sound(part, clip)) if is_checked else cut.SileroEndpointer()
            floor_db = endpointer.floor_db
            pieces = [
                {"speech_s": round(one.speech_s, 3), "heard": [plain(h) for h in heard]}
                for one, _, heard in cut.utterances(of.sound(part, clip), hearer, repeat(expected), endpointer)
            ]
            line = {**asdict(clip), "is_whole": clip.number < whole, "floor_db": floor_db, "pieces": pieces}
            out.write(json.dumps(line) + "\n")
            out.flush()


def plain(heard: Heard) -> dict[str, Any]:
    """As it is kept in a line of JSON."""
    plain = asdict(heard)
    plain["evidence"] = {key: round(value, 4) for key, value in heard.evidence.items()}
    plain["fits"] = [{k: v if k == "words" else round(v, 3) for k, v in fit.items()} for fit in plain["fits"]]
    plain["soundings"] = [
        {k: round(v, 2) if isinstance(v, float) else v for k, v in one.items()} for one in plain["soundings"]
    ]
    plain["alternatives"] = [(words, round(weight, 4)) for words, weight in heard.alternatives]
    return plain


def heard_of(piece: dict[str, Any]) -> tuple[Heard, ...]:
    return tuple(
        Heard(
            **{
                **one,
                "alternatives": tuple((w, v) for w, v in one["alternatives"]),
                "fits": tuple(Fit(**fit) for fit in one["fits"]),
                "soundings": tuple(Sounding(**sounding) for sounding in one.get("soundings", ())),
            }
        )
        for one in piece["heard"]
    )


def read(path: Path) -> Iterator[dict[str, Any]]:
    if path.exists():
        for line in path.read_text("utf-8").splitlines():
            if line.endswith("}"):  # a torn last line is heard again
                yield json.loads(line)
