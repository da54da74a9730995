"""A listener with graphs: where the recognisers do not agree, the phone networks' search decides."""

from __future__ import annotations

from collections.abc import Callable, Sequence

from bench_voice.core.intents import Kind, Question, id_of, options_of
from bench_voice.hearing.graph import Graphs
from bench_voice.phonetics import spoken
from bench_voice.ports import Heard, Pass, Utterance
from bench_voice.session.listen import Listener
from tests.corpus import texts
from tests.hearing.test_search import said

AT = texts.expected_of("develop-mixer", "belt")
SOUND = {"snr_db": 40.0, "hiss_db": -10.0, "speech_s": 1.2, "free": -0.5}


class Ears:
    """Two recognisers that wrote nonsense, and what their networks made of the sound."""

    names = ("whisper", "moonshine")

    def __init__(self, words: str, wrote: Sequence[str]) -> None:
        self._heard = tuple(
            Heard(ear, "", 0.0, evidence=SOUND, free_words=text, phones=said(words))
            for ear, text in zip(self.names, wrote, strict=True)
        )

    def unloaded(self) -> tuple[()]:
        return ()

    def leave_out(self, name: str) -> None: ...
    def prepare(self, expected: object) -> None: ...
    def close(self) -> None: ...

    def hear(self, utterance: Utterance, is_enough: Callable[..., bool] = lambda heard: False) -> tuple[Heard, ...]:
        return self._heard

    def more(
        self, utterance: Utterance, heard: Sequence[Heard], which: Pass, texts: Sequence[str] = ()
    ) -> tuple[Heard, ...]:
        return tuple(heard)


def listener(words: str, *wrote: str, has_graphs: bool = True) -> Listener:
    graphs = Graphs(texts.LANGUAGE, spoken) if has_graphs else None
    return Listener(Ears(words, wrote), texts.LANGUAGE, graphs=graphs)


def test_what_only_the_networks_hear_is_taken_or_offered() -> None:
    heard_by = listener("nine point two", "nine point two", "nine points to")
    heard = heard_by.hear(Utterance(b"", 0, 1), AT)
    found = heard_by.meaning(heard, AT)
    assert found is not None
    assert [str(getattr(one, "value", "")) for one in (found, *options_of(found))][-1] == "9.2"
    assert heard_by.meaning(heard, AT) is found  # searched once


def test_without_graphs_the_recognisers_decide_alone() -> None:
    alone = listener("nine point two", "what a day it is today", "good morning to you", has_graphs=False)
    assert alone.meaning(alone.hear(Utterance(b"", 0, 1), AT), AT) is None


def test_the_search_passes_no_hold() -> None:
    at = next(one for one in texts.sheet_of("develop-mixer").steps if one.hold is not None)
    assert at.hold is not None
    expected = texts.expected_of("develop-mixer", at.id)
    heard_by = listener(at.hold.phrase, "conform which is locked of", "the form which is look off")
    found = heard_by.meaning(heard_by.hear(Utterance(b"", 0, 1), expected), expected)
    assert found is None or found.kind is not Kind.CONFIRM
    assert not (isinstance(found, Question) and any(id_of(one) == at.hold.id for one in found.options))
