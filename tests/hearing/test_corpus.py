"""The listening corpus keeps its parts apart: nothing that is reported on was there when anything was chosen."""

from __future__ import annotations

import json
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest
from ruamel.yaml import YAML

from bench_voice.core.intents import Kind
from bench_voice.ports import Fit, Heard, Sounding
from tests.corpus import clips, rooms, stream, texts, voices
from tests.corpus.listen import as_looked, heard_of, plain
from tests.corpus.outcomes import outcome
from tests.corpus.packed import packed, unpacked

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


EXPECTED = texts.expected_of("report-meter", "read")
SAID = "six nine eight"


def _first(words: str) -> Heard:
    return Heard("pocketsphinx", words, evidence={"speech_s": 1.0, "per_frame": -0.5, "worst": -1.0, "phones": 0.2})


def _free(ear: str, words: str) -> Heard:
    evidence = {"speech_s": 1.0, "no_speech": 0.0, "free": -0.3, "limited": -0.1}
    return Heard(ear, words, 0.9, evidence=evidence, free_words=words)


def _judge(words: str) -> Heard:
    fits = tuple(Fit(text, -1.0, -0.2, 1.0) for text in (SAID, "five"))
    return Heard(
        "moonshine",
        words,
        0.9,
        evidence={"speech_s": 1.0, "free": -0.3},
        free_words=words,
        fits=fits,
        soundings=(Sounding(SAID, -0.1, -0.5, 4.0), Sounding("next", -1.0, -2.0)),
    )


def test_decisions_on_kept_evidence_look_as_a_session_does() -> None:
    """Evidence with every look in it is cut down to the looks that would have been taken."""
    free = (_free("whisper", SAID), _free("whisper-tiny", SAID))
    plain = as_looked(EXPECTED, (_first(SAID), *free, _judge(SAID)))
    assert [(one.ear, one.words) for one in plain] == [
        ("pocketsphinx", SAID), ("whisper", ""), ("whisper-tiny", ""), ("moonshine", SAID),
    ]  # fmt: skip
    assert not any({"limited", "per_frame"} & one.evidence.keys() or one.fits or one.soundings for one in plain)
    everything = (_first("five"), *free, _judge(SAID))
    assert as_looked(EXPECTED, everything) == everything  # only free ears agree: the judge is asked
    closer = as_looked(EXPECTED, (_first("five"), *free))
    assert [one.words for one in closer] == ["five", SAID, SAID]  # there is no judge
    talk = "so then they went home and had their dinner at my sister's"
    quiet = as_looked(EXPECTED, (_first("five"), *(_free(one.ear, talk) for one in free), _judge(talk)))
    assert not any("limited" in one.evidence or one.fits for one in quiet)


def test_evidence_is_kept_and_read_back_as_it_was() -> None:
    heard = (_first("five"), _free("whisper", SAID), _judge(SAID))
    assert heard_of(json.loads(json.dumps({"heard": [plain(one) for one in heard]}))) == heard


def test_an_outside_sentence_that_is_acted_on_is_counted_as_that() -> None:
    heard = [_first("next"), _free("whisper", "next"), _free("whisper-tiny", "next"), _judge("next")]
    said = {"kind": "radio", "sheet": "report-meter", "step": "read", "text": "so what comes next tonight"}
    line = {"said": said, "pieces": [{"heard": [plain(one) for one in heard]}]}
    assert outcome(line)[0] == "acted"
    silent = [_first(""), *(_free(name, said["text"]) for name in ("whisper", "whisper-tiny")), _judge(said["text"])]
    assert outcome({**line, "pieces": [{"heard": [plain(one) for one in silent]}]})[0] == "nothing"


def test_a_minute_of_noise_is_the_same_each_time() -> None:
    assert stream.block("tools", 2) == stream.block("tools", 2)
    assert len(stream.block("tools", 2)) == 60 * 32_000
    assert stream.block("tools", 2) != stream.block("tools", 6)  # the compressor both times
    assert any(texts.expected_of(*at).hold for at in stream.steps())


def test_what_turns_a_hold_round_is_drawn_in_noise_and_never_means_it() -> None:
    drawn = list(clips.contraries("calibrate", 200))
    assert drawn == list(clips.contraries("calibrate", 250))[:200]
    assert {clip.said.kind for clip in drawn} == {"near", "hold"}
    for clip in drawn:
        assert clip.snr_db <= 15
        assert clip.voice is not None
        assert clip.voice.family != "robotic"
        hold = texts.expected_of(clip.said.sheet, clip.said.step).hold
        assert hold is not None
        assert (clip.said.text == hold.phrase) is (clip.said.kind == "hold")
        assert (texts.truth(clip.said).kind is Kind.CONFIRM) is (clip.said.kind == "hold")


def test_no_clip_is_heard_twice_for_a_figure() -> None:
    """By the ledger: ranges of one list do not touch, and looks come behind what was chosen on."""
    ledger = YAML(typ="safe").load((Path(texts.__file__).with_name("ledger.yaml")).read_text("utf-8"))
    assert {"report", "rooms-report", "contraries-report"} == set(ledger)
    for name, ranges in ledger.items():
        last = -1
        for one in ranges:
            assert last < one["first"] <= one["last"], name
            assert one["use"] in ("training", "look")
            last = one["last"]
        assert ranges[0]["use"] == "training"


def test_a_clip_across_the_room_is_made_again_and_lasts_longer() -> None:
    click = rooms.response("develop", rooms.Place(0.7, 2.5), 5)
    assert click[:3].sum() == pytest.approx(1.0, abs=1e-3)
    assert (click == rooms.response("develop", rooms.Place(0.7, 2.5), 5)).all()
    # Schroeder's integral (M. R. Schroeder, Journal of the Acoustical Society of America 37, 1965): the time in which
    # the energy that is still to come falls by 20 dB, three times that for 60.
    left = np.cumsum((click.astype(np.float64) ** 2)[::-1])[::-1]
    level = 10 * np.log10(left / left[0] + 1e-12)
    fall_s = (np.argmax(level < -25) - np.argmax(level < -5)) / rooms.RATE * 3
    assert 0.4 < fall_s < 1.1
    speech = np.ones(800, np.float32)
    assert len(rooms.reverberated(speech, "develop", rooms.Place(0.7, 2.5), 5)) == len(speech) + len(click) - 1


def test_packed_scores_come_back_nearly_as_they_were() -> None:
    scores = np.log(np.random.default_rng(1).dirichlet(np.full(40, 0.1), 50)).clip(-16, 0).astype(np.float32)
    assert np.abs(unpacked(packed(scores)) - scores).max() < 0.07
