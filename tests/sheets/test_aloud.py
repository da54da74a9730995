"""The job as it will be heard: the session's own sentences in its order, and the time that they take."""

from __future__ import annotations

import re
import wave
from pathlib import Path

import pytest
from sheets_command import check

from bench_voice.ports import RATE_HZ
from bench_voice.sheets import load_sheet, load_text
from bench_voice.sheets.aloud import GAP_S, WORDS_A_MINUTE, Line, lines, read_aloud
from bench_voice.testing import Bench

HERE = Path(__file__).parent
DEMO = HERE.parents[1] / "demo"
PUMP = HERE / "good" / "pump.yaml"
PISTON = HERE / "good" / "piston-pump.yaml"


def spoken(path: Path) -> list[str]:
    return [line.text for line in lines(load_sheet(path)) if line.is_spoken]


def test_cautions_come_before_their_step() -> None:
    said = spoken(DEMO / "trailer-hub-brake.yaml")
    caution = next(i for i, line in enumerate(said) if line.startswith("Warning. Brake dust"))
    step = next(i for i, line in enumerate(said) if "wet the brake dust" in line)
    assert caution + 1 == step
    assert "When it is so, say: confirm both wheels are blocked." in said


@pytest.mark.parametrize("path", [PUMP, PISTON, *sorted(DEMO.glob("*.yaml"))], ids=lambda path: path.stem)
def test_every_step_and_everything_asked_is_heard(path: Path) -> None:
    sheet = load_sheet(path)
    said = " ".join(spoken(path)).lower()
    for step in sheet.steps:
        assert step.say.lower() in said
        assert step.hold is None or step.hold.phrase in said
        for name in (
            *(sheet.readings[key].name for key in step.readings),
            *(sheet.looks[key].name for key in step.looks),
            *(sheet.items[key].name for key in step.closes),
        ):
            assert name in said, name


def test_it_is_what_a_session_says() -> None:
    """The first step of a real session, word for word."""
    bench = Bench(load_sheet(PISTON))
    first = [line.text for line in lines(bench.sheet) if line.is_spoken]
    assert tuple(first[: len(bench.said)]) == tuple(bench.said)


def test_limits_stand_beside_for_the_reader() -> None:
    remarks = [str(line) for line in lines(load_sheet(DEMO / "trailer-hub-brake.yaml")) if not line.is_spoken]
    assert (
        "  (2 points; at most 203.0 mm, or as marked on the part; points differ by at most 0.3 mm; with the drum "
        "gauge, uncertain by 0.05 mm)"
    ) in remarks
    assert sum("; sides differ by at most 0.2 bar; with the tyre gauge" in remark for remark in remarks) == 2
    assert "  (only if the part behind left lining was replaced)" in remarks
    assert "  (final gate: names everything that is still open)" in remarks
    rows = [str(line) for line in lines(load_sheet(PISTON))]
    assert "  (by the marking: for 8.8 between 20 and 28 N·m; for 10.9 between 30 and 38 N·m)" in rows


class FakeVoice:
    """A tenth of a second for each word."""

    def __init__(self) -> None:
        self.said: list[str] = []

    def speak(self, text: str) -> bytes:
        self.said.append(text)
        return b"\0\0" * (RATE_HZ // 10 * len(text.split()))


def test_the_time_is_that_of_the_sound() -> None:
    sheet, voice = load_sheet(PISTON), FakeVoice()
    shown: list[str] = []
    played: list[bytes] = []
    heard_s = read_aloud(sheet, shown.append, voice, played.append)
    assert heard_s == pytest.approx(sum(map(len, played)) / 2 / RATE_HZ, abs=0.1)
    words = sum(len(text.split()) for text in voice.said)
    assert heard_s == pytest.approx(words / 10 + GAP_S * len(voice.said), abs=0.1)
    minutes, seconds = divmod(round(heard_s), 60)
    assert shown[-1] == (
        f"{len(sheet.steps)} steps. To hear: {minutes} min {seconds:02d} s, as spoken. The work itself, as the sheet "
        "has it: 55 minutes at least (1 of the steps do not say)."
    )


def test_without_sound_the_time_is_reckoned_by_words() -> None:
    shown: list[str] = []
    sheet = load_text(PUMP.read_text(encoding="utf-8"), "pump.yaml")
    heard_s = read_aloud(sheet, shown.append)
    words = sum(len(line.text.split()) for line in lines(sheet) if line.is_spoken)
    assert heard_s == pytest.approx(words * 60 / WORDS_A_MINUTE)
    assert shown[-1].endswith(
        f"at {WORDS_A_MINUTE} words a minute. The work itself, as the sheet has it: 5 minutes at least (6 of the steps "
        "do not say)."
    )


def test_the_voice_says_a_word_as_the_sheet_has_it() -> None:
    voice = FakeVoice()
    read_aloud(load_sheet(PISTON), lambda text: None, voice, lambda pcm: None)
    text = " ".join(voice.said)
    assert "nurled" in text
    assert "knurled" not in text
    assert "knurled" in " ".join(spoken(PISTON))


def test_a_remark_is_marked() -> None:
    assert (str(Line("Step one.")), str(Line("note", False))) == ("Step one.", "  (note)")


def test_spoken_into_a_file_it_takes_as_long_as_it_says(tmp_path: Path) -> None:
    out = tmp_path / "pump.wav"
    done = check(str(PUMP), "--read-aloud", "--say-to", str(out))
    assert done.returncode == 0, done.stderr
    found = re.search(r"To hear: (\d+) min (\d\d) s, as spoken", done.stdout)
    assert found
    with wave.open(str(out)) as sound:
        seconds = sound.getnframes() / sound.getframerate()
        loud = max(sound.readframes(RATE_HZ * 3))
    assert abs(seconds - int(found[1]) * 60 - int(found[2])) <= 1
    assert seconds > 40
    assert loud > 0


def test_speaking_needs_to_be_told_what(tmp_path: Path) -> None:
    done = check(str(PUMP), "--say-to", str(tmp_path / "x.wav"))
    assert (done.returncode, done.stderr.strip()[-20:]) == (2, "[check-nothing-said]")
    done = check(str(PUMP), "--read-aloud", "--say-to", str(tmp_path / "none" / "x.wav"))
    assert done.returncode == 4
    assert "[say-to-unwritable]" in done.stderr


@pytest.mark.parametrize(
    "arguments",
    [
        ("SHEET", "--json", "--needs"),
        ("SHEET", "--json", "--read-aloud"),
        ("SHEET", "--json", "--read-aloud", "--say-to", "OUT"),
        ("SHEET", "--read-aloud", "--speak", "--say-to", "OUT"),
        ("SHEET", "SHEET", "--read-aloud", "--say-to", "OUT"),
    ],
    ids=" ".join,
)
def test_options_that_would_do_nothing_are_refused(arguments: tuple[str, ...], tmp_path: Path) -> None:
    out = tmp_path / "out.wav"
    done = check(*({"SHEET": str(PUMP), "OUT": str(out)}.get(part, part) for part in arguments))
    assert (done.returncode, done.stdout) == (2, "")
    assert done.stderr.endswith("[check-options]\n")
    assert not out.exists()


def test_needs_and_the_job_aloud_are_both_shown() -> None:
    needs, aloud, both = (
        check(str(PUMP), *options).stdout for options in (("--needs",), ("--read-aloud",), ("--needs", "--read-aloud"))
    )
    assert "Tools:" in needs
    assert "To hear:" in aloud
    assert both == needs + aloud
