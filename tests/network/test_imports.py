"""Which libraries that can open a socket are imported at all: every entry of the command line once, with a hook.

Python tells its hooks of each import and each use of a socket (PEP 578, "Python Runtime Audit Hooks").
"""

from __future__ import annotations

import os
import subprocess
from argparse import _SubParsersAction
from pathlib import Path

import pytest
from tracing import python

from bench_voice import cli

HERE = Path(__file__).resolve().parent
SHEET = HERE / "lamp.yaml"

# Parts of Python itself, and why they are there. None of them opens a socket by being imported, and none of ours asks
# for one. Whatever is not named here must not be imported: an HTTP client, a hub's client, a reporter of faults.
ALLOWED = {
    "socket": "email.utils for host names in mail; importlib.metadata reads a package's version through email",
    "_socket": "the compiled half of socket; typing_extensions lists what stands in it",
    "asyncio": "ctranslate2.extensions has a form of its calls for it; not used here",
    "asyncio.base_events": "a part of asyncio",
    "ssl": "a part of asyncio",
    "_ssl": "the compiled half of ssl",
}

RECORD_FORMS = ("html", "csv", "json", "ics", "vtt", "chapters")


def lines_for(journal: Path, sound: Path) -> dict[str, tuple[str | Path, ...]]:
    """A command line for each entry, and for each way of listening or writing that loads other libraries.

    The live bench is not among them, since it does not end; `self-check` opens its microphone and loudspeaker."""
    new = journal.parent / "new"
    return {
        "work typed": ("work", SHEET, "--typed", "--mute", "--journal", new),
        "work on sound": ("work", SHEET, "--listen", sound, "--say-to", new / "said.wav", "--journal", new),
        "check": ("check", SHEET, "--page", journal.parent / "page.html"),
        "check aloud": ("check", SHEET, "--read-aloud", "--say-to", journal.parent / "aloud.wav"),
        "start-sheet": ("start-sheet",),
        "understand": ("understand", "next", "--sheet", SHEET),
        "hear": ("hear", sound, "--engine", "whisper"),
        "rehearse": (
            "rehearse",
            SHEET,
            "--from",
            sound.parent,
            "--out",
            journal.parent / "takes",
            "--engine",
            "moonshine",
        ),
        "reckon": ("reckon", "ten millimetres in inches"),
        "verify": ("verify", journal),
        "logbook": ("logbook", "--journal", journal.parent),
        "forget": ("forget", "--older-than", "1", "--journal", journal.parent),
        "self-check": ("self-check",),
    } | {f"record {form}": ("record", journal, "--as", form) for form in RECORD_FORMS}


NAMES = tuple(lines_for(Path(), Path()))


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[str | Path, ...]]:
    from mechanic import Workshop, make_mechanic, write_wav

    folder = tmp_path_factory.mktemp("watched")
    workshop = Workshop()
    sound = folder / "1.wav"
    write_wav(sound, workshop.room(1.0) + workshop.around(make_mechanic("formant").speak("Next."), after_s=1.5))
    typed = python("-m", "bench_voice.cli", "work", SHEET, "--typed", "--mute", "--journal", folder)
    subprocess.run(typed, input="next\n", text=True, capture_output=True, check=False)
    (folder / "new").mkdir()
    return lines_for(next(folder.glob("*.jsonl")), sound)


def watched(command: list[str], folder: Path) -> tuple[int, list[str]]:
    """Exit code, and what the hook of `watch/sitecustomize.py` wrote down in this process and those it started."""
    log = folder / "watched.log"
    environment = os.environ | {"BENCH_VOICE_TEST_WATCH": str(log), "PYTHONPATH": str(HERE / "watch")}
    done = subprocess.run(
        command, env=environment, cwd=folder, stdin=subprocess.DEVNULL, capture_output=True, timeout=120, check=False
    )
    return done.returncode, log.read_text("utf-8").splitlines() if log.exists() else []


def forbidden(seen: list[str]) -> list[str]:
    """What of it is a use of a socket, an import that ALLOWED lacks, or one that a module of ours asks for."""
    out = []
    for line in seen:
        what, _, rest = line.partition(" ")
        module, _, chain = rest.partition(" ")
        if what != "import" or module not in ALLOWED or chain.startswith("bench_voice"):
            out.append(line)
    return out


def test_every_command_is_here() -> None:
    actions = cli._parser()._actions
    known = next(action.choices for action in actions if isinstance(action, _SubParsersAction))
    assert {name.partition(" ")[0] for name in NAMES} == set(known)


@pytest.mark.parametrize("name", NAMES)
def test_nothing_that_opens_a_socket(name: str, made: dict[str, tuple[str | Path, ...]], tmp_path: Path) -> None:
    code, seen = watched(python("-m", "bench_voice.cli", *made[name]), tmp_path)
    assert code in {0, 1, 4, 10}, code
    assert forbidden(seen) == []


@pytest.mark.parametrize(
    "code", ["import urllib.request", "import socket; socket.socket()", "import huggingface_hub", "import http.client"]
)
def test_the_hook_sees(code: str, tmp_path: Path) -> None:
    _, seen = watched(python("-c", code), tmp_path)
    assert forbidden(seen)


@pytest.mark.parametrize(
    ("line", "is_told"),
    [
        ("import socket email.utils < pint < bench_voice.words.units", False),
        ("import socket bench_voice.audio.link < __main__", True),
        ("import requests somebody < __main__", True),
        ("socket.connect ('192.0.2.1', 9)", True),
    ],
)
def test_what_is_told(line: str, is_told: bool) -> None:
    assert bool(forbidden([line])) is is_told
