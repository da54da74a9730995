"""The wheel in an environment of its own, outside of the checkout: what a stranger does first."""

from __future__ import annotations

import importlib.util
import json
import subprocess
import zipfile
from email import message_from_bytes
from pathlib import Path

import pytest
from install_build import ROOT, Built, Run, clean_environment, tracked

from bench_voice.audio.voice_pyttsx3 import Synthesiser
from bench_voice.audio.wav import write_wav

SOUND = ("PortAudio", "sound devices", "microphone", "loudspeaker")


def test_the_wheel_holds_every_module_and_data_file_and_nothing_else(built: Built) -> None:
    """A package that is not listed in pyproject.toml, or a kind of data that is not, would be missing in a wheel."""
    wanted = {str(path) for path in tracked() if path.parts[0] == "bench_voice"}
    wanted |= {
        str(Path("bench_voice", "_grammars", *path.parts[1:])) for path in tracked() if path.parts[0] == "grammars"
    }
    with zipfile.ZipFile(built.wheel) as wheel:
        held = {name for name in wheel.namelist() if ".dist-info/" not in name}
    assert held == wanted


def test_licences_and_what_it_says_of_itself(built: Built) -> None:
    with zipfile.ZipFile(built.wheel) as wheel:
        names = [name for name in wheel.namelist() if ".dist-info/" in name]
        (metadata,) = (message_from_bytes(wheel.read(name)) for name in names if name.endswith("/METADATA"))
    for file in ("LICENSE", "THIRD_PARTY.md"):
        assert any(name.endswith(f"licenses/{file}") for name in names)
    assert metadata["License-Expression"] == "MIT"
    assert "Typing :: Typed" in metadata.get_all("Classifier", [])
    assert metadata.get_all("Project-URL") is None  # it has no address


def test_the_sdist_carries_what_its_documents_name(built: Built) -> None:
    for name in ("README.md", "docs/sheets.md", "demo/run", "demo/trailer-hub-brake.yaml", "tests/run", "grammars/en"):
        assert (built.source / name).exists(), name


def test_it_runs_from_its_own_files(stranger: Path, tmp_path: Path) -> None:
    code = "import bench_voice; print(bench_voice.__file__)"
    command = [str(stranger / "bin" / "python"), "-c", code]
    done = subprocess.run(
        command, cwd=tmp_path, env=clean_environment(tmp_path), capture_output=True, text=True, check=True
    )
    assert Path(done.stdout.strip()).is_relative_to(stranger)
    assert not Path(done.stdout.strip()).is_relative_to(ROOT)


def test_a_first_job_typed_and_what_is_made_of_it(bench_voice: Run, tmp_path: Path) -> None:
    begun = bench_voice("start-sheet")
    assert begun.returncode == 0, begun.stderr
    sheet = tmp_path / "own.yaml"
    sheet.write_text(begun.stdout, "utf-8")
    checked = bench_voice("check", sheet)
    assert checked.returncode == 0, checked.stdout + checked.stderr
    worked = bench_voice("work", sheet, "--typed", "--mute", typed="where are we\nnote, oil on the rim\n")
    assert worked.returncode == 10, worked.stderr
    assert "bench: " in worked.stdout
    (journal,) = (tmp_path / "home").rglob("*.jsonl")
    assert bench_voice("verify", journal).returncode == 0
    page = bench_voice("record", journal, "--out", "record.html")
    assert page.returncode == 0, page.stderr
    assert "oil on the rim" in (tmp_path / "record.html").read_text("utf-8")
    history = bench_voice("logbook")
    assert history.returncode == 0, history.stderr


def test_words_and_sums(bench_voice: Run) -> None:
    understood = json.loads(bench_voice("understand", "next", "--json").stdout)
    assert (understood["accepted"], understood["kind"]) == (True, "next")
    reckoned = bench_voice("reckon", "twenty newton metres in pound feet")
    assert reckoned.returncode == 0, reckoned.stderr
    assert reckoned.stdout.startswith("14.75")  # 20 / 1.3558179483 (NIST SP 811, appendix B.8)


def test_it_hears_a_recording_that_it_has_never_seen(bench_voice: Run, tmp_path: Path) -> None:
    write_wav(tmp_path / "said.wav", Synthesiser().speak("what is left"))
    done = bench_voice("hear", "said.wav", "--json")
    assert done.returncode == 0, done.stderr
    heard = json.loads(done.stdout)
    assert heard["kind"] == "left"
    assert {ear["ear"] for ear in heard["ears"]} == {"pocketsphinx", "whisper", "whisper-tiny", "moonshine"}


def test_the_self_check_finds_all_that_is_installed(bench_voice: Run) -> None:
    done = bench_voice("self-check", "--json")
    assert done.returncode in (0, 4), done.stderr
    found = {one["what"]: one for one in json.loads(done.stdout)["findings"]}
    for what in ("settings", "journals", "language en", "language de", "voice", "voice detector"):
        assert found[what]["works"], found[what]
    for ear in ("pocketsphinx", "whisper", "whisper-tiny", "moonshine"):
        assert 'heard "where are we"' in found[f"ear {ear}"]["detail"], found[f"ear {ear}"]
    broken = {what for what, one in found.items() if one["is_needed"] and not one["works"]}
    assert broken <= set(SOUND)  # where this machine has no sound card
    assert (done.returncode == 0) == (not broken)


def test_the_self_check_sees_what_is_missing(bench_voice: Run, stranger: Path) -> None:
    """Language data, and the shipped words: what it said "ok" to without a look."""
    (package,) = stranger.glob("lib/python*/site-packages/bench_voice")
    away = package.parent / "_grammars-away"
    (package / "_grammars").rename(away)
    try:
        done = bench_voice("self-check", "--json")
    finally:
        away.rename(package / "_grammars")
    assert done.returncode == 4
    found = {one["what"]: one for one in json.loads(done.stdout)["findings"]}
    assert not found["language en"]["works"]
    assert "[language-missing]" in found["language en"]["detail"]


@pytest.mark.parametrize("name", ["faster_whisper", "tokenizers", "huggingface_hub"])
def test_what_the_tests_alone_use_is_installed_here(name: str) -> None:
    """So that the features and tokens are really held against them (tests/audio/test_mel_and_tokens.py)."""
    assert importlib.util.find_spec(name) is not None
