"""The likeliest reading of a sound against every reading that there is, each aligned by itself.

Outside: best paths by connectionist temporal classification, as `test_aligned` holds `Aligned` to its definition.
"""

from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.audio.aligned import Aligned
from bench_voice.audio.phone_net import LABEL_OF, PhoneJudge
from bench_voice.audio.reading_net import ReadingNet, ReadingWords
from bench_voice.core.intents import Kind
from bench_voice.phonetics import ways
from bench_voice.ports import Heard
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language
from tests.audio.test_aligned import scores_from
from tests.corpus.texts import expected_of

LANGUAGE = load_language("en")
# A few words, of three phones: some end as others begin, one is said in two ways.
FEW: dict[str, list[tuple[int, ...]]] = {
    "four": [(1, 2)], "six": [(2, 1), (3,)], "ten": [(3, 1)], "forty": [(1, 3)], "point": [(2,)], "and": [(1,)],
    "hundred": [(3, 2)], "rope": [(2, 3)], "mil": [(1,)], "bench": [(3, 3)],
}  # fmt: skip
WORD_COST = -1.0
PLACES = {
    "rope": "name", "four": "digit", "six": "digit", "ten": "teen", "forty": "ten", "hundred": "hundred",
    "point": "point", "and": "and", "mil": "unit",
}  # fmt: skip


def labels_of(word: str) -> list[tuple[int, ...]]:
    return FEW.get(word, [])


def is_reading(words: tuple[str, ...]) -> bool:
    """By the rules of the language as a person would put them, not by the net's table."""
    rest = list(words)
    if rest and rest[0] == "rope":
        rest = rest[1:]
    if rest and rest[-1] == "mil":
        rest = rest[:-1]
    whole, *behind = " ".join(rest).split("point") if "point" in rest else [" ".join(rest)]
    if len(behind) > 1 or (behind and not behind[0].split()):
        return False
    if behind and not set(behind[0].split()) <= {"four", "six"}:
        return False
    said = whole.split()
    if not said:
        return bool(behind)
    is_row = set(said) <= {"four", "six"}
    ends = {(), ("ten",), ("forty",), ("four",), ("six",), ("forty", "four"), ("forty", "six")}
    if is_row or tuple(said) in ends:
        return True
    if "hundred" not in said or said.count("hundred") > 1:
        return False
    at = said.index("hundred")
    head, tail = tuple(said[:at]), tuple(said[at + 1 :])
    is_head = head == ("ten",) or (bool(head) and set(head) <= {"four", "six"})
    if tail[:1] == ("and",):
        return is_head and tail[1:] in ends - {()}
    return is_head and tail in ends


READINGS = [
    words
    for length in (1, 2, 3)
    for words in itertools.product(PLACES, repeat=length)
    if is_reading(words) and words != ("rope",)
]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 9999), st.integers(3, 9))
def test_it_is_the_best_of_all_readings(seed: int, frames: int) -> None:
    scores = scores_from(seed, frames)
    net = ReadingNet(ReadingWords(("rope",), ("mil",)), LANGUAGE.numbers, labels_of)

    def total(words: tuple[str, ...]) -> float:
        said = itertools.product(*(labels_of(word) for word in words))
        return max(Aligned(scores, sum(way, ())).total for way in said) + WORD_COST * (len(words) - 1)

    best = max(map(total, READINGS))
    found = tuple(net(scores).split())
    assert is_reading(found)
    assert total(found) >= best - 1e-3


def sound_of(text: str, frames: int = 3) -> np.ndarray:
    """Each phone for some frames and one of silence behind it."""
    phones = [LABEL_OF[phone] for word in text.split() for phone in ways(word)[0]]
    scores = np.full(((frames + 1) * len(phones), len(LABEL_OF) + 1), -8.0, np.float32)
    for at, phone in enumerate(phones):
        scores[at * (frames + 1) : (at + 1) * (frames + 1) - 1, phone] = 0.0
        scores[(at + 1) * (frames + 1) - 1, 0] = 0.0
    return scores


def of_phones(word: str) -> list[tuple[int, ...]]:
    return [tuple(LABEL_OF[phone] for phone in way) for way in ways(word)]


@pytest.mark.parametrize(
    "said",
    [
        "four point six",
        "lining four point six millimetres",
        "minus fourteen point zero",
        "two thousand three hundred and five",
        "three one two seven",
        "point five",
        "one hundred and twelve millimetres",
    ],
)
def test_what_is_spelt_out_is_heard(said: str) -> None:
    """Ways of saying numbers: common practice, no source."""
    net = ReadingNet(ReadingWords(("lining",), ("millimetres",)), LANGUAGE.numbers, of_phones)
    assert net(sound_of(said)) == said


def test_a_call_word_stands_in_front_where_one_is_needed() -> None:
    sound = sound_of("bench four point six")
    for is_needed in (True, False):
        words = ReadingWords(("lining",), ("millimetres",), "bench", is_needed)
        assert ReadingNet(words, LANGUAGE.numbers, of_phones)(sound) == "bench four point six"
    words = ReadingWords(("lining",), ("millimetres",), "bench", is_call_needed=False)
    assert ReadingNet(words, LANGUAGE.numbers, of_phones)(sound_of("four point six")) == "four point six"


def test_without_sound_or_words_there_is_nothing() -> None:
    net = ReadingNet(ReadingWords(("lining",)), LANGUAGE.numbers, of_phones)
    assert net(np.zeros((0, len(LABEL_OF) + 1), np.float32)) == ""
    assert net(sound_of("six")[:1]) == "oh"  # one phone, for one frame
    assert ReadingNet(ReadingWords(), LANGUAGE.numbers, lambda word: ())(sound_of("six")) == ""


def test_what_it_hears_of_any_sound_is_a_reading_or_nothing() -> None:
    """Talk comes out as some reading, which then fits badly: it may be heard, and has to be understood."""
    expected = expected_of("report-meter", "read")
    names = tuple(expected.sheet.readings[name].name for name in expected.waits)
    net = ReadingNet(ReadingWords(names), LANGUAGE.numbers, of_phones)
    for seed in range(20):
        heard = net(scores_from(seed, 60, len(LABEL_OF)))
        assert understand(heard, expected, LANGUAGE).kind in (Kind.READING, Kind.UNKNOWN, Kind.AMBIGUOUS), heard


def test_a_network_that_is_asked_again_adds_nothing_so_that_asking_ends() -> None:
    """A text that is too long for the other network's fewer frames is asked of both until neither has more to say."""
    expected = expected_of("report-meter", "read")
    words = ReadingWords(tuple(expected.sheet.readings[name].name for name in expected.waits))
    judge = PhoneJudge("moonshine", ways, LANGUAGE.numbers, words_at=lambda expected: words)
    judge.prepare(expected)
    states = np.random.default_rng(1).standard_normal((60, 288)).astype(np.float32)
    sound = np.zeros(24_000, np.float32)
    unasked = Heard("moonshine", "thank you", free_words="thank you", has_phones=True)
    once = judge.heard(states, unasked, ["next", "next", "four point six"], sound)
    said = [found.words for found in once.soundings]
    assert once.by_phones in said
    assert {"next", "four point six"} <= set(said)
    assert len(said) == len(set(said))
    assert judge.heard(states, once, ["four point six", "next"], sound) == once
