"""The graph of a step and the exact search through it, held to an enumeration of every sentence and every path."""

from __future__ import annotations

import time
from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from bench_voice.core.intents import Expected, Kind
from bench_voice.hearing.graph import END, START, WORD, Graph, Graphs, _Builder, contraries
from bench_voice.hearing.search import search, worst_stretch
from bench_voice.phonetics import LABEL_OF, no_ways, spoken
from bench_voice.speech.understand import understand
from bench_voice.testing import reading, small_sheet, step
from bench_voice.words.phrases import load_language
from tests.corpus import texts

LANGUAGE = load_language("en")
WAYS = {"a": ((1,), (2, 1)), "b": ((2, 2),), "c": ((3,),)}


def small() -> Graph:
    """One to three of the words a, b, c, and "a" alone behind "b"."""
    build = _Builder(lambda word: WAYS.get(word, ()))
    middle = build.node()
    build.words(START, middle, {"a": "a", "b": "b"})
    build.words(middle, END, {"a": "a", "c": "c"})
    build.words(middle, middle, {"c": "c"})
    return build.graph()


def every(graph: Graph, most: int) -> dict[str, list[tuple[tuple[int, ...], float]]]:
    """Each sentence of at most so many words, with its phones and what its words cost."""
    found: dict[str, list[tuple[tuple[int, ...], float]]] = {}

    def walk(node: int, words: tuple[str, ...], labels: tuple[int, ...], cost: float) -> None:
        if words and node in graph.accepting:
            found.setdefault(" ".join(words), []).append((labels, cost))
        if len(words) < most:
            for at in graph.follows[node]:
                arc = graph.arcs[at]
                walk(arc.target, (*words, arc.out), (*labels, *arc.labels), cost + arc.cost)

    walk(START, (), (), 0.0)
    return found


def path_score(scores: np.ndarray, labels: tuple[int, ...]) -> float:
    """The best path through the phones, by the definition: every way to give each frame a phone or a blank."""
    best = -np.inf
    for path in product(range(scores.shape[1]), repeat=len(scores)):
        kept = [label for at, label in enumerate(path) if label and (not at or path[at - 1] != label)]
        if tuple(kept) == labels:
            best = max(best, float(sum(scores[at, label] for at, label in enumerate(path))))
    return best


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10**6))
def test_the_best_meanings_are_those_of_an_enumeration_of_every_path(seed: int) -> None:
    scores = np.log(np.random.default_rng(seed).dirichlet(np.full(4, 0.4), 6)).astype(np.float32).clip(-12, 0)
    graph = small()
    wanted = {
        text: max(path_score(scores, labels) + cost for labels, cost in ways) for text, ways in every(graph, 4).items()
    }
    ranked = sorted(((score, text) for text, score in wanted.items() if score > -1e8), reverse=True)[:3]
    found = search(graph, scores, lambda text: text, most=3).found
    assert [round(one.score, 3) for one in found] == pytest.approx([score for score, _ in ranked], abs=2e-3)
    assert [one.words for one in found][:1] == [text for _, text in ranked][:1] or len(
        {round(score, 3) for score, _ in ranked}
    ) < len(ranked)


def test_nothing_and_too_little_sound_have_no_meaning() -> None:
    graph = small()
    assert search(graph, np.zeros((0, 4), np.float32), str).found == ()
    assert search(graph, np.zeros((1, 4), np.float32), str).found == ()


def said(text: str, frames: int = 3) -> np.ndarray:
    """What a network that is sure makes of a sentence: each phone for some frames, blanks between."""
    phones = [phone for word in text.split() for phone in (spoken(word) or ((),))[0]]
    rows = []
    for phone in phones:
        for label in (LABEL_OF[phone], 0):
            row = np.full(40, -9.0, np.float32)
            row[label] = -0.05
            rows += [row] * (frames if label else 1)
    return np.stack(rows)


GRAPHS = Graphs(LANGUAGE, spoken)
MEASURE = texts.expected_of("develop-mixer", "belt")


@pytest.mark.parametrize(
    "text",
    [
        "four point six", "belt sag nought point zero five millimetres", "one hundred and ten", "two five five",
        "twelve hundred", "two thousand five hundred sixty", "nine fifty", "next", "say again", "took off drain plug",
        "correction belt sag nine", "minus three", "point sixty five", "what is the limit", "seventeen", "seventy",
    ],
)  # fmt: skip
def test_what_is_said_at_a_step_is_found_and_means_what_the_parser_says(text: str) -> None:
    wanted = understand(text, MEASURE, LANGUAGE)
    assert wanted.kind is not Kind.UNKNOWN
    scores = said(text)
    found = search(GRAPHS(MEASURE), scores, lambda words: replace(understand(words, MEASURE, LANGUAGE), heard=""))
    meant = found.found[0].meaning
    assert meant == replace(wanted, heard="")
    assert found.found[0].score - found.free > -1.0 + len(text.split()) * WORD * 2 - 8


def test_a_contrary_of_a_hold_leads_over_it_where_it_was_said() -> None:
    at = next(one for one in texts.sheet_of("develop-mixer").steps if one.hold is not None)
    assert at.hold is not None
    expected = texts.expected_of("develop-mixer", at.id)
    for other in contraries(at.hold.phrase, LANGUAGE):
        if other.split()[0] == "confirm":
            assert search(GRAPHS(expected), said(other), str, 2).found[0].words == other
    assert search(GRAPHS(expected), said(at.hold.phrase), str, 2).found[0].words == at.hold.phrase


def test_forty_names_and_a_word_that_cannot_be_said_take_no_second() -> None:
    names = {f"r{at}": replace(reading(f"r{at}"), name=f"gap {word} zz") for at, word in enumerate("abcd")}
    more = {f"n{at}": replace(reading(f"n{at}"), name=f"gauge number {at}") for at in range(36)}
    sheet = small_sheet(step("all", readings=tuple({**names, **more})), readings=tuple({**names, **more}.values()))
    expected = Expected.at(sheet, sheet.steps[0])
    begun = time.process_time()
    graph = Graphs(LANGUAGE, spoken)(expected)
    search(graph, said("four point six"), str, 3)
    assert time.process_time() - begun < 3.0
    assert Graphs(LANGUAGE, no_ways)(expected).arcs  # each word as its letters propose


def test_the_worst_stretch_is_where_a_word_is_missing() -> None:
    """ "Two point four" against the sound of "two point two four"."""
    scores = said("two point two four")
    labels = tuple(LABEL_OF[phone] for word in ("two", "point", "two", "four") for phone in spoken(word)[0])
    less = tuple(LABEL_OF[phone] for word in ("two", "point", "four") for phone in spoken(word)[0])
    assert worst_stretch(scores, labels) == pytest.approx(0.0, abs=0.1)
    assert worst_stretch(scores, less) < -5


def test_the_graph_of_a_step_is_made_once() -> None:
    graphs = Graphs(LANGUAGE, spoken)
    assert graphs(MEASURE) is graphs(replace(MEASURE))
