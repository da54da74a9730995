"""Rehearsing a sheet: what is to be said, what came of it, the recordings that are kept. Ears and sound are fakes."""

from __future__ import annotations

import argparse
import json
import queue
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import numpy as np
import pytest

from bench_voice import cli
from bench_voice.audio.wav import read_wav, write_wav
from bench_voice.commands import rehearse as command
from bench_voice.commands.rehearse import make_takes
from bench_voice.config import Config
from bench_voice.core.flat import flat_of
from bench_voice.core.intents import Expected, Kind
from bench_voice.errors import EarFailed, EngineError, UsageError
from bench_voice.phonetics import NEAR, apart, dictionary, words_of
from bench_voice.ports import Heard, Pass, Utterance
from bench_voice.rehearsal import report
from bench_voice.rehearsal import take as rehearse
from bench_voice.rehearsal.live import Live
from bench_voice.rehearsal.prompts import (
    EarHeard,
    Prompt,
    Take,
    mistaken,
    never_heard,
    prompts,
    swaps,
    weak_names,
)
from bench_voice.session.listen import Listener
from bench_voice.session.outcomes import Outcome, expected_fields, is_worse, outcome
from bench_voice.sheets.load import load_sheet
from bench_voice.sheets.other_names import SAME, names_of, other_names
from bench_voice.speech.understand import understand
from bench_voice.words.phrases import load_language

ROOT = Path(__file__).resolve().parents[2]
TRAILER = ROOT / "demo" / "trailer-hub-brake.yaml"
GERMAN = ROOT / "tests" / "sheets" / "german-pump.yaml"
SHEETS = sorted((ROOT / "demo").glob("*.yaml"))
LANGUAGE = load_language("en")
STEP_S = 0.5


@pytest.mark.parametrize("path", SHEETS, ids=lambda path: path.stem)
def test_every_name_of_a_sheet_is_said_once_and_means_itself(path: Path) -> None:
    sheet = load_sheet(path)
    found = prompts(sheet, LANGUAGE)
    assert not found.left_out
    assert [prompt.number for prompt in found.prompts] == list(range(1, len(found.prompts) + 1))
    for prompt in found.prompts:
        expected = Expected.at(sheet, sheet.steps[sheet.step_index(prompt.step)])
        assert understand(prompt.words, expected, LANGUAGE).meaning() == prompt.wanted.meaning()
    said = {(prompt.wanted.kind, flat_of(prompt.wanted).name) for prompt in found.prompts}
    assert {id_ for kind, id_ in said if kind is Kind.CONFIRM} == {step.hold.id for step in sheet.steps if step.hold}
    assert {id_ for kind, id_ in said if kind is Kind.READING} == set(sheet.readings)
    assert {id_ for kind, id_ in said if kind is Kind.JUDGEMENT} == set(sheet.looks)
    closed = {id_ for step in sheet.steps for id_ in step.closes}
    assert {id_ for kind, id_ in said if kind in (Kind.TAKEN_OFF, Kind.PUT_BACK, Kind.FITTED)} == closed
    assert {(Kind.NEXT, None), (Kind.AFFIRM, None), (Kind.NEGATIVE, None)} <= said


def test_a_german_sheet_has_german_phrases() -> None:
    found = prompts(load_sheet(GERMAN), load_language("de"))
    assert not found.left_out
    assert [prompt.words for prompt in found.prompts[:3]] == [
        "bestätige stecker ist aus der dose", "lüfterrad zwei komma zwei", "weiter",
    ]  # fmt: skip


BODY = {"accepted": True, "kind": "reading", "name": "lining", "value": "4.60", "unit": "mm", "text": None}


@pytest.mark.parametrize(
    ("change", "expect", "comes"),
    [
        ({}, {"kind": "reading", "name": "lining", "value": "4.60", "unit": "mm"}, Outcome.RIGHT),
        ({}, {"kind": "reading"}, Outcome.RIGHT),
        ({}, {"kind": "reading", "value": "4.6"}, Outcome.WRONG),  # digits are kept
        ({"name": "drum"}, {"kind": "reading", "name": "lining"}, Outcome.WRONG),
        ({"kind": "next", "value": None}, {"kind": "reading"}, Outcome.WRONG),
        ({"accepted": False, "kind": "ambiguous"}, {"kind": "reading"}, Outcome.ASKED),
        ({"accepted": False, "kind": "ambiguous"}, {"kind": "ambiguous"}, Outcome.RIGHT),
        ({"accepted": False, "kind": "unknown"}, {"kind": "reading"}, Outcome.NOTHING),
        ({"accepted": False, "kind": "unknown"}, {"kind": "unknown"}, Outcome.RIGHT),
        ({}, {"kind": "unknown"}, Outcome.WRONG),
    ],
)
def test_what_came_of_a_phrase(change: dict[str, Any], expect: dict[str, Any], comes: Outcome) -> None:
    assert outcome(BODY | change, expect) is comes


def test_worse_is_in_the_order_of_harm() -> None:
    order = [Outcome.RIGHT, Outcome.ASKED, Outcome.NOTHING, Outcome.WRONG]
    for at, then in enumerate(order):
        assert [is_worse(now, then) for now in order] == [i > at for i in range(4)]


@pytest.mark.parametrize(
    ("said", "heard", "pairs"),
    [
        ("left hub", "left hub", []),
        ("left hub", "left cup", [("hub", "cup")]),
        ("took off cable tape", "took off table", [("cable tape", "table")]),
        ("left lining four", "lining four", [("left", "")]),
        ("next", "", [("next", "")]),
    ],
)
def test_words_beside_words(said: str, heard: str, pairs: list[tuple[str, str]]) -> None:
    assert swaps(said, heard) == pairs


def prompt_of(words: str) -> Prompt:
    return next(prompt for prompt in prompts(load_sheet(TRAILER), LANGUAGE).prompts if prompt.words.startswith(words))


def test_findings_of_takes() -> None:
    hub, tape, lining, affirm = map(prompt_of, ("put back left hub", "took off", "left lining", "affirm"))
    takes = [
        Take(hub, Outcome.NOTHING, (EarHeard("pocketsphinx", "put back left cup", False),
                                    EarHeard("whisper", "put back left cup", False))),
        # The number was lost, not the name.
        Take(lining, Outcome.ASKED, (EarHeard("pocketsphinx", lining.words.replace("point ", ""), False),)),
        Take(tape, Outcome.WRONG, (EarHeard("pocketsphinx", tape.words, True),), "took off tape", "other"),
        Take(affirm, Outcome.NOTHING, (EarHeard("pocketsphinx", "a firm", False),)),
    ]  # fmt: skip
    rows = mistaken(takes)
    assert (rows[0].said, rows[0].heard, rows[0].ears, rows[0].times) == ("hub", "cup", ("pocketsphinx", "whisper"), 2)
    assert {(row.said, row.heard) for row in rows[1:]} == {("point", ""), ("affirm", "a firm")}
    assert weak_names(takes) == ("left hub", "cable tape")
    assert never_heard(takes, "pocketsphinx") == {"hub": "cup"}
    shown = report.of(takes, prompts(load_sheet(TRAILER), LANGUAGE), load_sheet(TRAILER), LANGUAGE, None)
    text = "\n".join(shown.lines())
    assert '"hub" heard as "cup" (pocketsphinx, whisper; times: 2)' in text
    assert 'Another name for "left hub": "left wheel carrier"' in text
    assert "  The sheet takes tape for it as well." in text
    assert 'Instead of "affirm" you can say: affirmative.' in text
    assert "  hub cup" in text
    assert json.loads(json.dumps(shown.as_json()))["counts"]["nothing"] == 2


def three(right: str, *wrote: str) -> tuple[EarHeard, ...]:
    """What pocketsphinx, whisper and whisper-tiny wrote."""
    ears = zip(("pocketsphinx", "whisper", "whisper-tiny"), wrote, strict=True)
    return tuple(EarHeard(ear, words, words == right) for ear, words in ears)


def test_what_two_of_three_ears_outvote_is_no_mistake() -> None:
    """In a session any two that agree are taken, so the third one's slip changes nothing."""
    hub = prompt_of("put back left hub")
    slip = three(hub.words, hub.words, hub.words, "put back lift up")
    outvoted = Take(hub, Outcome.RIGHT, slip)
    assert mistaken([outvoted]) == ()
    assert len(report.take_lines(outvoted)) == 1
    # The same slip where it was not taken all the same, or where one ear stood alone for what was said.
    for take in (Take(hub, Outcome.ASKED, slip), Take(hub, Outcome.RIGHT, slip[1:]),
                 Take(hub, Outcome.RIGHT, three(hub.words, hub.words, "", "put back lift up"))):  # fmt: skip
        assert [(row.said, row.heard, row.ears) for row in mistaken([take])] == [
            ("left hub", "lift up", ("whisper-tiny",))
        ]
        assert len(report.take_lines(take)) == 1 + len(take.ears)


@pytest.mark.parametrize(
    ("wrote", "is_weak"),
    [
        # Two ears kept the name: the number was lost. ("{}": the name as it is said)
        (("{} four six", "{} for six", "lift lying four point six"), False),
        (("{} four six", "lift lining four six", "left lying four six"), True),
        (("left lying four six", "left lying four six", "left lying four six"), True),
        (("{} four six", "", "left lying"), True),
        (("{} four six", "", ""), False),
        (("", "", ""), True),
    ],
)
def test_a_name_is_weak_where_too_few_ears_kept_it_to_agree(wrote: tuple[str, ...], is_weak: bool) -> None:
    lining = prompt_of("left lining")
    take = Take(lining, Outcome.ASKED, three(lining.words, *(one.format(lining.name) for one in wrote)))
    assert weak_names([take]) == ((lining.name,) if is_weak else ())


@pytest.mark.parametrize(
    ("whisper", "tiny", "instead"),
    [("cup", "cup", "cup"), ("cup", "up", "cup"), ("hub", "cup", ""), ("hub", "hub", ""), ("", "cup", "cup")],
)
def test_a_word_that_another_ear_wrote_as_it_is_gets_no_other_sound(whisper: str, tiny: str, instead: str) -> None:
    hub = prompt_of("put back left hub")
    said = ("put back left cup", f"put back left {whisper}".strip(), f"put back left {tiny}")
    assert never_heard([Take(hub, Outcome.ASKED, three(hub.words, *said))], "pocketsphinx") == {"hub": instead}


def test_other_names_are_known_words_far_from_the_rest() -> None:
    for path in SHEETS:
        sheet = load_sheet(path)
        for name in names_of(sheet):
            for found in other_names(name, sheet):
                assert all(word in dictionary() for word in words_of(found.name))
                for other in names_of(sheet):
                    far = apart(found.name, other, sheet.pronunciations)
                    assert other == name or far is None or far > NEAR, (name, found, other)
    assert [one.name for one in other_names("left castle nut", load_sheet(TRAILER))] == [
        "left slotted nut", "left crown nut",
    ]  # fmt: skip
    avoided = other_names("left hub", load_sheet(TRAILER), ["left wheel carrier"])
    assert "left wheel carrier" not in [one.name for one in avoided]
    unknown = {word for others in SAME.values() for other in others for word in words_of(other)} - {"bushing"}
    assert [word for word in sorted(unknown) if word not in dictionary()] == []


# -- a whole rehearsal on recordings; the ears read a number out of the sound and know what to have heard


class NumberedEars:
    """Every sample of a recording is its number times 100; `hears`: words by number, else the phrase itself. `free`:
    the same for each free ear, where it wrote something else."""

    def __init__(self, said: dict[int, str], hears: dict[int, str], free: dict[str, dict[int, str]]) -> None:
        self._words, self._free = said | hears, free

    @property
    def names(self) -> tuple[str, ...]:
        return ("pocketsphinx", *self._free)

    def unloaded(self) -> tuple[EarFailed, ...]:
        return ()

    def leave_out(self, name: str) -> None: ...

    def prepare(self, expected: Expected) -> None: ...

    def hear(self, utterance: Utterance, is_enough: object = None) -> tuple[Heard, ...]:
        number = int(np.frombuffer(utterance.pcm, "<i2")[0]) // 100
        words = self._words[number]
        evidence = {"speech_s": 1.0, "per_frame": 0.0, "worst": 0.0, "phones": 0.0, "words": float(len(words.split()))}
        free = {name: others.get(number, words) for name, others in self._free.items()}
        return (
            Heard("pocketsphinx", words, evidence=evidence),
            *(Heard(name, "", 0.0, free_words=text, evidence={"speech_s": 1.0}) for name, text in free.items()),
        )

    def more(
        self, utterance: Utterance, heard: Sequence[Heard], which: Pass, texts: Sequence[str] = ()
    ) -> tuple[Heard, ...]:
        return tuple(heard)

    def close(self) -> None: ...


class Whole:
    """An endpointer for which everything is one utterance."""

    def __init__(self) -> None:
        self._pcm = b""
        self.is_speaking = False

    def feed(self, frame: bytes) -> Utterance | None:
        self._pcm += frame
        return None

    def flush(self) -> Utterance | None:
        return Utterance(self._pcm, 0, len(self._pcm) // 32, 1.0)


def sound(number: int) -> bytes:
    return np.full(8_000, number * 100, dtype="<i2").tobytes()


@pytest.fixture
def rehearsed(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Any:
    """Runs the command on recordings of all phrases but those left out."""
    said = {prompt.number: prompt.words for prompt in prompts(load_sheet(TRAILER), LANGUAGE).prompts}
    config = Config(journal=tmp_path / "data" / "journals", pronunciations=tmp_path / "pronunciations.txt")
    monkeypatch.setattr("bench_voice.config.load", lambda: config)
    monkeypatch.setattr(rehearse, "make_endpointer", Whole)
    recordings = tmp_path / "mine"
    recordings.mkdir()

    def run(
        *more: str,
        hears: dict[int, str] | None = None,
        free: dict[str, dict[int, str]] | None = None,
        without: Sequence[int] = (),
    ) -> int:
        ears = NumberedEars(said, hears or {}, free or {"whisper": {}})
        monkeypatch.setattr(command, "make_listener", lambda args, config, language: Listener(ears, language))
        for number in set(said) - set(without):
            write_wav(recordings / f"{number:02d}-take.wav", sound(number))
        return cli.main(["rehearse", str(TRAILER), "--from", str(recordings), "--debug", *more])

    run.__dict__["folder"] = recordings
    return run


def test_all_right_and_kept(rehearsed: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert rehearsed("--out", str(tmp_path / "kept")) == 0
    assert "44 phrases: 44 right, 0 asked about" in capsys.readouterr().out
    lines = [json.loads(line) for line in (tmp_path / "kept" / "list.jsonl").read_text("utf-8").splitlines()]
    assert [line["id"] for line in lines] == list(range(1, 45))
    for line in lines:
        assert read_wav(tmp_path / "kept" / line["wav"])[:8] == sound(line["id"])[:8]
        assert line["was"] == "right"
        assert Path(line["sheet"]).is_absolute()
    wanted = [expected_fields(prompt.wanted) for prompt in prompts(load_sheet(TRAILER), LANGUAGE).prompts]
    assert [line["expect"] for line in lines] == wanted
    with pytest.raises(UsageError, match=r"something in this folder already.*\[rehearse-out\]$"):
        rehearsed("--out", str(tmp_path / "kept"))


def test_what_was_confused_is_told(rehearsed: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet = load_sheet(TRAILER)
    by_words = {prompt.words: prompt.number for prompt in prompts(sheet, LANGUAGE).prompts}
    hub, spacer = by_words["put back left hub"], by_words["put back left spacer"]
    hears = {hub: "put back left spacer", spacer: "i think the radio is too loud"}
    assert rehearsed("--json", hears=hears, without=(1,)) == 1
    *bodies, last = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    outcomes = {body["id"]: body["outcome"] for body in bodies}
    assert (outcomes[hub], outcomes[spacer], outcomes[1]) == ("wrong", "nothing", "skipped")
    summary = last["summary"]
    assert summary["counts"] == {"right": 41, "asked": 0, "nothing": 1, "wrong": 1, "skipped": 1}
    assert {"said": "hub", "heard": "spacer", "ears": ["pocketsphinx", "whisper"], "times": 2} in summary["mistaken"]
    names = {row["name"]: [one["name"] for one in row["try"]] for row in summary["names"]}
    assert set(names) == {"left hub", "left spacer"}
    assert "left distance ring" in names["left spacer"]
    kept = Path(last["list"])
    assert kept.parent.parent == tmp_path / "data" / "rehearsals"
    assert len(kept.read_text("utf-8").splitlines()) == 43
    # The same list is what `hear` and, in words, `understand` take: worse and better are told.
    entries = [json.loads(line) for line in kept.read_text("utf-8").splitlines()]
    for entry in entries:
        entry["heard"] = hears.get(entry["id"], entry["words"])
    entries[-1]["heard"] = "what a day"
    entries[-2]["heard"] = 5
    (tmp_path / "again.jsonl").write_text("\n".join(map(json.dumps, entries)), "utf-8")
    capsys.readouterr()
    assert cli.main(["understand", "--list", str(tmp_path / "again.jsonl")]) == 1
    out, err = capsys.readouterr()
    again = [json.loads(line) for line in out.splitlines()]
    assert again[hub - 2]["outcome"] == "wrong"
    assert again[-1]["outcome"] == "nothing"
    assert "outcome" not in again[-2]
    assert err.strip() == (
        "43 with an expectation: right 39 (was 41), asked 0 (was 0), nothing 3 (was 1), wrong 1 (was 1). worse: 43, 44."
    )
    for entry in entries:
        entry["heard"] = entry["words"]
    (tmp_path / "again.jsonl").write_text("\n".join(map(json.dumps, entries)), "utf-8")
    assert cli.main(["understand", "--list", str(tmp_path / "again.jsonl")]) == 0
    assert f"better: {min(hub, spacer)}, {max(hub, spacer)}" in capsys.readouterr().err


def test_a_third_ear_that_mishears_is_not_told(
    rehearsed: Any, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The whole way, through the agreement of a session."""
    numbers = {p.wanted.kind: p.number for p in prompts(load_sheet(TRAILER), LANGUAGE).prompts if not p.name}
    affirm, back = numbers[Kind.AFFIRM], numbers[Kind.BACK]
    only = f"--only={affirm},{back}"
    free = {"whisper": {}, "whisper-tiny": {affirm: "a film", back: "go black"}}
    assert rehearsed(only, "--json", "--out", str(tmp_path / "one"), free=free) == 0
    *bodies, last = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert {ear["ear"]: ear["heard"] for ear in bodies[1]["ears"]} == {
        "pocketsphinx": "go back", "whisper": "go back", "whisper-tiny": "go black",
    }  # fmt: skip
    assert last["summary"]["counts"]["right"] == 2
    assert last["summary"]["mistaken"] == []
    # With the first ear lost as well, one is left that understood; what the two others wrote is told.
    only, first = f"--only={back}", {back: "where are we"}
    free = {"whisper": {back: "go back"}, "whisper-tiny": {back: "go black"}}
    rehearsed(only, "--json", "--out", str(tmp_path / "two"), hears=first, free=free)
    last = json.loads(capsys.readouterr().out.splitlines()[-1])
    assert {ear for row in last["summary"]["mistaken"] for ear in row["ears"]} == {"pocketsphinx", "whisper-tiny"}


def test_an_ear_is_read_as_a_session_reads_it(rehearsed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """ "A firm" of a free ear beside another's "affirm" is taken for that: no mistake of that ear."""
    affirm = next(p.number for p in prompts(load_sheet(TRAILER), LANGUAGE).prompts if p.words == "affirm")
    assert rehearsed(f"--only={affirm}", free={"whisper": {affirm: "a firm"}}) == 0
    out = capsys.readouterr().out
    assert "1 phrase: 1 right" in out
    assert "heard as" not in out


def test_a_question_is_shown_with_what_each_ear_heard(rehearsed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    number = next(p.number for p in prompts(load_sheet(TRAILER), LANGUAGE).prompts if p.words.startswith("left lining"))
    hears = {number: "left lining one ten"}
    assert rehearsed(f"--only={number}", hears=hears) == 1
    lines = capsys.readouterr().out.splitlines()
    assert lines[0].startswith(f"{number:3d}  ASKED   ")
    assert lines[1].startswith('       asked: "')
    assert lines[2:4] == ['       pocketsphinx: "left lining one ten"', '       whisper: "left lining one ten"']
    assert "1 phrase: 0 right, 1 asked about" in "\n".join(lines)


def test_a_list_without_expectations_is_as_ever(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "list.jsonl").write_text('{"id": 1, "heard": "next"}\n', "utf-8")
    assert cli.main(["understand", "--list", str(tmp_path / "list.jsonl")]) == 0
    out, err = capsys.readouterr()
    assert "outcome" not in json.loads(out)
    assert err == ""


def test_a_bad_recording_is_told_and_the_rest_go_on(rehearsed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    (rehearsed.folder / "1.wav").write_bytes(b"")
    assert rehearsed(without=(1, *range(5, 45))) == 0
    out = capsys.readouterr().out
    assert "[sound-empty]" in out
    assert "3 phrases: 3 right" in out


def test_nothing_said_and_wrong_folders(rehearsed: Any, tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"no recording named by a number.*\[rehearse-from\]$"):
        rehearsed(without=range(1, 45))
    (rehearsed.folder / "99.wav").write_bytes(b"")
    with pytest.raises(UsageError, match=r"Nothing was said.*\[rehearse-nothing\]$"):
        rehearsed(without=range(1, 45))
    assert list((tmp_path / "data" / "rehearsals").iterdir()) == [], "no empty folders are left"
    with pytest.raises(UsageError, match=r"no such folder.*\[rehearse-from\]$"):
        rehearse.FromFolder(tmp_path / "none", print)
    (tmp_path / "file").write_text("x")
    with pytest.raises(UsageError, match=r"cannot be made.*\[rehearse-out\]$"):
        rehearsed("--out", str(tmp_path / "file" / "below"))


def test_the_list_of_phrases_needs_no_sound(capsys: pytest.CaptureFixture[str]) -> None:
    assert cli.main(["rehearse", str(TRAILER), "--list"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[0] == "  1  confirm both wheels are blocked"
    assert len(lines) == 44
    assert cli.main(["rehearse", str(TRAILER), "--list", "--json"]) == 0
    assert json.loads(capsys.readouterr().out.splitlines()[1])["id"] == 2


@pytest.mark.parametrize("numbers", ["0", "45", "9-7", "x", "3,,4", "1-45", "-3"])
def test_only_takes_numbers_that_there_are(numbers: str) -> None:
    with pytest.raises(UsageError, match=r"is no number of a phrase\. Write numbers from 1 to 44.*\[rehearse-only\]$"):
        cli.main(["rehearse", str(TRAILER), "--list", f"--only={numbers}", "--debug"])


def test_only_some_of_the_phrases(rehearsed: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert rehearsed("--only", "3, 7-9") == 0
    out = capsys.readouterr().out
    assert "4 phrases: 4 right" in out
    assert "Skipped: 0." in out
    assert '  7  right   "left lining' in out


def test_without_a_microphone_it_says_how_to_go_on(monkeypatch: pytest.MonkeyPatch) -> None:
    def missing(*args: object, **more: object) -> Live:
        raise EngineError("There is no microphone.", mend="Plug one in.", slug="sound-no-device")

    monkeypatch.setattr("bench_voice.rehearsal.live.open_live", missing)
    args = argparse.Namespace(from_=None, mute=False, json=False)
    with pytest.raises(
        EngineError, match=r"no microphone\. bench-voice self-check .*--from DIR\. \[sound-no-device\]$"
    ):
        make_takes(args, Config(), load_sheet(TRAILER))


# -- at the microphone: the clock is that of the frames


class Card:
    """20 ms a frame. `at`: what is in the frames that begin at that second, for half a second; silence else."""

    def __init__(self, at: dict[float, int], ends_s: float = 120.0) -> None:
        self._at, self._ends_s = at, ends_s
        self.captured_s = 0.0
        self.is_closed = False

    def frames(self) -> Iterator[bytes]:
        number = 0
        while self.captured_s < self._ends_s:
            number += 1
            self.captured_s = number * 0.02
            level = next((n for begin, n in self._at.items() if begin < self.captured_s <= begin + STEP_S), 0)
            yield np.full(320, level, dtype="<i2").tobytes()

    def close(self) -> None:
        self.is_closed = True


class Levels:
    """Speech is what isn't zero; it ends after 0.2 s of silence; less than 0.1 s was no speech."""

    def __init__(self) -> None:
        self._pcm, self._silent = b"", 0
        self.is_speaking = False

    def feed(self, frame: bytes) -> Utterance | None:
        is_loud = any(frame)
        self.is_speaking = self.is_speaking or is_loud
        if not self.is_speaking:
            return None
        self._pcm += frame
        self._silent = 0 if is_loud else self._silent + 1
        if self._silent < 10:
            return None
        pcm, self._pcm, self._silent, self.is_speaking = self._pcm, b"", 0, False
        return Utterance(pcm, 0, 0, 1.0)

    def flush(self) -> Utterance | None:
        return None


def live(
    card: Card, *, said: list[str] | None = None, speaks_s: float = 0.0, keys: queue.Queue[str] | None = None
) -> Live:
    def say(text: str) -> float:
        if said is not None:
            said.append(text)
        return card.captured_s + speaks_s

    return Live(card, Levels, say, lambda text: None, keys if keys is not None else queue.Queue())


ONE, TWO = prompt_of("next"), prompt_of("affirm")


def test_one_phrase_after_the_other_with_the_room_before_it() -> None:
    card = Card({2.0: 100, 4.0: 200})
    takes = live(card)
    first, second = takes.take(ONE, 2), takes.take(TWO, 2)
    assert first is not None
    assert second is not None
    samples = np.frombuffer(first, "<i2")
    assert set(samples) == {0, 100}
    assert list(samples).index(100) == 16_000, "one second of the room stands before it"
    assert set(np.frombuffer(second, "<i2")) == {0, 200}
    takes.close()
    assert card.is_closed


def test_its_own_words_are_not_listened_to() -> None:
    said: list[str] = []
    takes = live(Card({0.5: 100, 2.0: 200}), said=said, speaks_s=1.0)
    found = takes.take(ONE, 2)
    assert found is not None
    assert set(np.frombuffer(found, "<i2")) == {0, 200}
    assert said == ["Say: next."]


def test_silence_is_asked_once_more_and_then_passed_over() -> None:
    said: list[str] = []
    takes = live(Card({13.0: 100}), said=said)
    assert takes.take(ONE, 2) is not None
    assert said == ["Say: next.", "Once more. Say: next."]
    said.clear()
    assert live(Card({}), said=said).take(ONE, 2) is None
    assert len(said) == 2


def test_keys_skip_repeat_and_end() -> None:
    keys: queue.Queue[str] = queue.Queue()
    said: list[str] = []
    takes = live(Card({2.0: 100}), said=said, keys=keys)
    keys.put("\n")
    assert takes.take(ONE, 2) is None
    keys.put("r")
    assert takes.take(TWO, 2) is not None
    assert said == ["Say: next.", "Say: affirm.", "Say: affirm."]
    keys.put("q")
    with pytest.raises(rehearse.Ended):
        takes.take(TWO, 2)


def test_what_was_said_before_the_end_is_reported(
    rehearsed: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    class Two(rehearse.FromFolder):
        def take(self, prompt: Prompt, of: int) -> bytes | None:
            if prompt.number > 2:
                raise rehearse.Ended
            return super().take(prompt, of)

    monkeypatch.setattr(command, "FromFolder", Two)
    assert rehearsed() == 0
    assert "2 phrases: 2 right, 0 asked about, 0 taken for something else, 0 not understood. Skipped: 42." in (
        capsys.readouterr().out
    )
