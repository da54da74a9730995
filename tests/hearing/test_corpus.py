"""The listening corpus keeps its parts apart: nothing that is reported on was there when anything was chosen."""

from __future__ import annotations

from itertools import combinations

import pytest

from bench_voice.core.intents import Kind
from tests.corpus import clips, texts, voices

PARTS = ("develop", "calibrate", "report")


@pytest.mark.parametrize(("a", "b"), list(combinations(PARTS, 2)))
def test_parts_share_no_voice_no_sheet_and_no_sentence(a: str, b: str) -> None:
    assert not set(voices.VOICES[a]) & set(voices.VOICES[b])
    assert not set(texts.SHEETS[a]) & set(texts.SHEETS[b])
    assert not {t for _, t in texts.outside(a)} & {t for _, t in texts.outside(b)}
    phrases = [{s.text for s in texts.commands(part) if s.kind == "hold"} for part in (a, b)]
    assert not phrases[0] & phrases[1]


def test_there_is_enough_outside_the_grammar_and_each_kind_has_some() -> None:
    found = [entry for part in PARTS for entry in texts.outside(part)]
    assert len(found) >= 600
    assert {kind for kind, _ in found} | {"near"} == set(texts.OUTSIDE)
    for part in PARTS:
        for said in texts.near_misses(part):
            assert texts.truth(said).kind is not Kind.CONFIRM or said.text not in said.step


def test_the_same_number_is_the_same_clip() -> None:
    few, more = list(clips.clips("report", 20)), list(clips.clips("report", 40))
    assert more[:20] == few
    assert len({clip.seed for clip in more}) == 40
