"""400 clips that were heard before, as the phone networks' answers and the recognisers' texts: no sound, no network.

What the search decides of them is pinned, so that a loss of accuracy is seen at once. The clips are of the calibrate
part and of the report part's first looks: nothing here is unseen. After a change that is meant, print the new counts
with `python -m tests.hearing.test_golden` and put them below.
"""

from __future__ import annotations

import json
import lzma
from collections import Counter
from functools import cache
from pathlib import Path
from typing import Any

from bench_voice.core.intents import Kind
from bench_voice.hearing.candidates import MOST_ASKED, evidence_of
from bench_voice.hearing.decide import decided
from bench_voice.hearing.model import load_model
from tests.corpus import texts
from tests.corpus.listen import graph_of, heard_of
from tests.corpus.outcomes import worst_of
from tests.corpus.texts import OUTSIDE, Said

FILE = Path(__file__).with_name("golden.jsonl.xz")
WHOLE = 400
# Of what is said to us: at least so many right without a question, and with one at most.
LEAST_RIGHT, LEAST_OFFERED = 207, 278
WRONG, PASSED, ACTED = 0, 0, 0


@cache
def outcomes() -> tuple[Counter[str], Counter[str], int]:
    """Of what is said to us, of everything else, and the most parser calls of an utterance."""
    ours: Counter[str] = Counter()
    others: Counter[str] = Counter()
    most = 0
    for line in lines():
        said = Said(**line["said"])
        expected = texts.expected_of(said.sheet, said.step)
        decisions = []
        for piece in line["pieces"]:
            evidence = evidence_of(expected, heard_of(piece), texts.LANGUAGE, graph_of(expected))
            most = max(most, evidence.calls)
            decisions.append(decided(evidence, load_model()))
        (others if said.kind in OUTSIDE else ours)[worst_of(said, decisions)[0]] += 1
    return ours, others, most


def lines() -> list[dict[str, Any]]:
    return [json.loads(line) for line in lzma.decompress(FILE.read_bytes()).decode().splitlines()]


def test_the_clips_are_all_there() -> None:
    found = lines()
    assert len(found) == WHOLE
    assert all(line["list"] != "develop" for line in found)
    kinds = Counter(line["said"]["kind"] for line in found)
    assert kinds["reading"] > 200
    assert kinds["hold"] >= 40
    assert {Kind.CONFIRM, Kind.READING} <= {texts.truth(Said(**line["said"])).kind for line in found}


def test_as_many_are_right_as_before_and_no_more_are_wrong() -> None:
    ours, others, _ = outcomes()
    assert ours["right"] >= LEAST_RIGHT
    assert ours["right"] + ours["offered"] >= LEAST_OFFERED
    assert ours["WRONG"] <= WRONG
    assert others["PASSED"] <= PASSED
    assert others["acted"] <= ACTED


def test_the_parser_is_asked_at_most_twelve_times_for_an_utterance() -> None:
    assert 3 < outcomes()[2] <= MOST_ASKED == 12


if __name__ == "__main__":
    print(*outcomes())
