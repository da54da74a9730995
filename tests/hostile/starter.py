"""The cases: hostile files, environments and words, and the places of every command where each is put."""

from __future__ import annotations

import json
import os
import re
import shutil
import socket
import struct
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[1]
GOOD = ROOT / "tests" / "network" / "lamp.yaml"
LIMIT_S = 20.0
UNICODE = "\u202e\u200b\x1b[2J"  # right to left, no width, an ESC that clears a terminal


@dataclass(frozen=True)
class Ended:
    code: int | str
    out: str
    err: str


class Starter:
    """One zygote. `start` gives what a person would see."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        (folder / "loaded").mkdir()
        self._zygote = subprocess.Popen(
            [sys.executable, HERE / "zygote.py", GOOD, folder / "loaded"],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            env=environment,
        )
        self._count = 0

    def start(
        self,
        arguments: list[str | bytes | Path],
        *,
        stdin: str | None = os.devnull,
        stdout: str | None = "",
        stderr: str | None = "",
        encoding: str = "utf-8",
        environment: dict[str, str | None] | None = None,
        is_folder_gone: bool = False,
    ) -> Ended:
        """`stdin`, `stdout`, `stderr`: paths, None for a closed one, "" for a file that is read here."""
        self._count += 1
        own = self.folder / f"run-{self._count}"
        cwd = own / "cwd"
        cwd.mkdir(parents=True)
        home = own / "home"
        home.mkdir()
        mine = {"PATH": os.environ["PATH"], "HOME": str(home), "TMPDIR": str(own), "LANG": "C.UTF-8"}
        for key, value in (environment or {}).items():
            mine.pop(key, None)
            if value is not None:
                mine[key] = value.replace("OWN", str(own))
        out, err = own / "out", own / "err"
        case = {
            "arguments": [os.fsencode(one).hex() for one in arguments],
            "folder": str(cwd),
            "environment": mine,
            "stdin": stdin,
            "stdout": str(out) if stdout == "" else stdout,
            "stderr": str(err) if stderr == "" else stderr,
            "encoding": encoding,
            "is_folder_gone": is_folder_gone,
            "limit_s": LIMIT_S,
        }
        assert self._zygote.stdin is not None
        assert self._zygote.stdout is not None
        self._zygote.stdin.write(json.dumps(case).encode() + b"\n")
        self._zygote.stdin.flush()
        code = json.loads(self._zygote.stdout.readline())
        texts = [path.read_text("utf-8", errors="replace") if path.exists() else "" for path in (out, err)]
        shutil.rmtree(own, ignore_errors=True)
        return Ended(code, *(text.replace(str(own), "OWN").replace(str(self.folder), "FILES") for text in texts))

    def close(self) -> None:
        assert self._zygote.stdin is not None
        assert self._zygote.stdout is not None
        self._zygote.stdin.close()
        self._zygote.wait(timeout=30)
        self._zygote.stdout.close()


def _nested(count: int) -> bytes:
    return b"a: " + b"[" * count + b"]" * count


def _wav(promised: int, sound: bytes) -> bytes:
    head = struct.pack("<4sI4s4sIHHIIHH", b"RIFF", 36, b"WAVE", b"fmt ", 16, 1, 1, 16000, 32000, 2, 16)
    return head + struct.pack("<4sI", b"data", promised) + sound


SHEET_WITH = """sheet: {id}
title: {title}
version: 1
machine: {{name: lamp, id: {machine}}}
source: invented
steps: [{{id: a, say: Look.}}]
"""


def _sheet(title: str = "Lamp", id: str = "lamp", machine: str = "one") -> bytes:
    return SHEET_WITH.format(title=title, id=id, machine=machine).encode("utf-8", "surrogatepass")


CONTENTS: dict[str, bytes] = {
    "empty": b"",
    "byte order mark alone": b"\xef\xbb\xbf",
    "noughts": bytes(5000),
    "one line of 10 MB": b"a" * 10_000_000,
    "line ends, 900 kB": b"\n" * 900_000,
    "UTF-16": "sheet: lamp\n".encode("utf-16"),
    "no UTF-8": b"sheet: \xff\xfe\xc3(\n",
    "half of a surrogate pair": _sheet('"\\ud800"'),
    "a surrogate in bytes": _sheet("\ud800"),
    "an escape past Unicode": _sheet('"\\UFFFFFFFF"'),
    "nested 100,000 deep": _nested(100_000),
    "JSON nested 100,000 deep": b'{"id": ' + b"[" * 100_000 + b"]" * 100_000 + b"}\n",
    "signs that turn the text": _sheet(f'"{UNICODE.replace(chr(27), "")}"'),
    "an ESC": _sheet('"\\e[2J"'),
    "an id of 2,000 characters": _sheet(id="a" * 2000),
    "a machine of 2,000 characters": _sheet(machine="a" * 2000),
    "a sheet": _sheet(),
    "JSON": b'{"id": 1, "heard": "next", "wav": "\\u0000"}\n',
    "JSON with half a pair": b'{"id": "\\ud800", "heard": "\\udfff", "wav": "\\ud800"}\n',
    "a number too long": b'{"id": ' + b"9" * 6000 + b"}\n",
    "sound that promises 4 GB": _wav(0xFFFFFFF0, bytes(3200)),
    "sound without an end": _wav(0xFFFFFFFF, bytes(1601)),
    "a quarter of a WAV header": b"RIFF\x00\x00",
}


def make_files(folder: Path) -> Iterator[tuple[str, bytes]]:
    """(name, path) of what may be given for a file."""
    for number, (name, content) in enumerate(CONTENTS.items()):
        path = folder / f"file-{number}"
        path.write_bytes(content)
        yield name, os.fsencode(path)
    os.mkfifo(folder / "pipe")
    yield "a pipe that nobody writes to", os.fsencode(folder / "pipe")
    here = socket.socket(socket.AF_UNIX)
    before = os.getcwd()
    os.chdir(folder)  # a socket's path has at most 108 bytes
    here.bind("socket")
    os.chdir(before)
    here.close()
    yield "a socket", os.fsencode(folder / "socket")
    yield "a device without an end", b"/dev/zero"
    yield "a device without anything", b"/dev/null"
    (folder / "ring-a").symlink_to(folder / "ring-b")
    (folder / "ring-b").symlink_to(folder / "ring-a")
    yield "links in a ring", os.fsencode(folder / "ring-a")
    (folder / "dangling").symlink_to(folder / "nothing")
    yield "a link to nothing", os.fsencode(folder / "dangling")
    (folder / "folder").mkdir()
    yield "a folder", os.fsencode(folder / "folder")
    yield "nothing", os.fsencode(folder / "missing")
    yield "something below a file", os.fsencode(folder / "file-0" / "x")
    yield "a name of 300 characters", os.fsencode(folder / ("n" * 300))
    yield "a path of 5,000 characters", os.fsencode(folder) + b"/d" * 2500
    yield "a name that is no UTF-8", os.fsencode(folder) + b"/\xff\xfe"
    yield "a name that clears the terminal", os.fsencode(folder / f"x{UNICODE}")
    yield "a name with a line end", os.fsencode(folder / "two\nlines")
    yield "an empty name", b""
    yield "memory that cannot be read", b"/proc/self/mem"


Line = Callable[[bytes], list[Any]]
# Where a file is put, by name: the command line.
PLACES: dict[str, Line] = {
    "work SHEET": lambda file: ["work", file, "--typed", "--mute", "--journal", "journals"],
    "work --listen": lambda file: [
        "work", GOOD, "--listen", file, "--mute", "--engine", "pocketsphinx", "--journal", "journals",
    ],
    "work --journal": lambda file: ["work", GOOD, "--typed", "--mute", "--journal", file],
    "work --say-to": lambda file: ["work", GOOD, "--typed", "--say-to", file, "--journal", "journals"],
    "check SHEET": lambda file: ["check", file],
    "check --page": lambda file: ["check", GOOD, "--page", file],
    "understand --sheet": lambda file: ["understand", "next", "--sheet", file],
    "understand --list": lambda file: ["understand", "--list", file],
    "hear FILE": lambda file: ["hear", file, "--engine", "pocketsphinx"],
    "rehearse SHEET": lambda file: ["rehearse", file, "--list"],
    "rehearse --from": lambda file: ["rehearse", GOOD, "--from", file, "--out", "takes", "--engine", "pocketsphinx"],
    "verify JOURNAL": lambda file: ["verify", file],
    "record JOURNAL": lambda file: ["record", file],
    "logbook --journal": lambda file: ["logbook", "--journal", file],
    "understand WORDS": lambda file: ["understand", "note, " + os.fsdecode(file)],
    "reckon WORDS": lambda file: ["reckon", os.fsdecode(file)],
}  # fmt: skip
# These write to what they are given: never to a device, and only to what the test made.
WRITES = frozenset({"work --say-to", "check --page", "work --journal"})
# These don't look at what is in the file, or start a worker each time: one kind of content is enough for them.
ANY_CONTENT = WRITES | {"logbook --journal", "rehearse --from", "understand WORDS", "reckon WORDS"}

Options = dict[str, Any]


def surroundings(folder: Path) -> dict[str, Options]:
    """Streams, folders and settings that are not as they should be."""

    def settings(name: str, content: str | None) -> dict[str, str | None]:
        home = folder / f"settings-{name}"
        (home / "bench-voice").mkdir(parents=True)
        path = home / "bench-voice" / "config.toml"
        if content is None:
            os.mkfifo(path)
        else:
            path.write_text(content, "utf-8")
        return {"XDG_CONFIG_HOME": str(home)}

    (folder / "home-file").write_text("")
    return {
        "no standard output": {"stdout": None},
        "no stream at all": {"stdin": None, "stdout": None, "stderr": None},
        "a full disk under the output": {"stdout": "/dev/full"},
        "ASCII output": {"encoding": "ascii"},
        "Latin-1 output": {"encoding": "latin-1"},
        "no home": {"environment": {"HOME": None}},
        "a home that is a file": {"environment": {"HOME": str(folder / "home-file")}},
        "a home that is not there": {"environment": {"HOME": "/nowhere/at/all"}},
        "no temporary folder": {"environment": {"TMPDIR": "/nowhere/at/all"}},
        "a folder that is gone": {"is_folder_gone": True},
        "settings that are a pipe": {"environment": settings("pipe", None)},
        "settings nested 10,000 deep": {"environment": settings("nested", "ears = " + "[" * 10_000)},
        "a home of nobody": {"environment": settings("nobody", 'journal = "~nobody-of-this-name/x"\n')},
        "a journal folder with U+0000": {"environment": settings("nul", 'journal = "a\\u0000b"\n')},
        "standard input without an end": {"stdin": "/dev/zero"},
    }


COMMANDS: dict[str, list[Any]] = {
    "work": ["work", GOOD, "--typed", "--mute"],
    "check": ["check", GOOD],
    "start-sheet": ["start-sheet"],
    "understand": ["understand", "note, für später"],
    "hear": ["hear", "nothing.wav"],
    "rehearse": ["rehearse", GOOD, "--list"],
    "reckon": ["reckon", "ten millimetres in inches"],
    "verify": ["verify", "nothing.jsonl"],
    "record": ["record", "nothing.jsonl"],
    "logbook": ["logbook"],
}

_STAMP = re.compile(r"\d{8}T\d{6,12}Z")


def shown(ended: Ended, folder: Path | None = None) -> str:
    """Code, and what a person reads on standard error, or, of what failed, on standard output (`check`, `verify`): as
    one line that can be compared. `folder`: shown as FILES."""
    read = ended.err or ("" if ended.code in (0, 10) else ended.out)
    if folder is not None:
        read = read.replace(str(folder), "FILES")
    lines = [_STAMP.sub("STAMP", line) for line in read.splitlines() if line.strip()]
    text = " / ".join(line if len(line) < 260 else f"{line[:120]} … {line[-120:]}" for line in lines[:3])
    return f"{ended.code} {text}".strip()
