"""Journals that were bent, and the commands that read them.

    python tests/session/journal_mutator.py [--seeds 10000] [--first 0] [--processes 2]

Each seed takes one of the kept journals (one seed in fifty: one of 1 MB), bends it, puts it beside a whole one of
another machine, and runs seven commands in this process. What must hold of each: no `[internal]`, an exit code of
README.md, at most 2 s; of the process: at most 300 MB. `logbook` shows the whole one, and `work --new` begins, whatever
the other journal is. Prints what was broken, with its seed, and what became of the journals; exit code 1 then.
"""

from __future__ import annotations

import argparse
import contextlib
import io
import json
import multiprocessing
import os
import resource
import shutil
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path
from random import Random
from typing import Any

from bench_voice import cli
from bench_voice.session import journal as jn

KEPT = Path(__file__).resolve().parent / "kept_sessions"
MOST_S, MOST_MB, ONE_MB = 2.0, 300, 1_000_000
# One seed of so many has a journal of 1 MB.
_LARGE_EVERY = 50
_WAYS = ("flip", "cut", "swap", "double", "nest", "retype")
_ODD: tuple[Any, ...] = (
    None, True, -1, 0, 10**30, 1.5, "", "x", "\ud800", "\u202e\x1b[31m", "1e999999", "NaN", "9" * 500, [], {}, [[]],
    {"type": "NoteTaken"}, "step", 253_402_300_800_000, -(10**15),
)  # fmt: skip
_TALK = ("where are we", "say again", "what is left", "next", "go back")


def bent(raw: bytes, random: Random) -> tuple[bytes, str]:
    """The journal with one to three changes, most of them with every hash reckoned anew; and what was done."""
    ways = [random.choice(_WAYS) for _ in range(random.choice((1, 1, 2, 3)))]
    is_resealed = random.random() < 0.75
    for way in ways:
        raw = _BEND[way](raw, random)
    return (resealed(raw, is_tidy=random.random() < 0.8) if is_resealed else raw), "+".join(
        (*ways, *(("re-hash",) if is_resealed else ()))
    )


def _flip(raw: bytes, random: Random) -> bytes:
    data = bytearray(raw)
    for _ in range(random.randint(1, 4)):
        if data:
            data[random.randrange(len(data))] ^= 1 << random.randrange(8)
    return bytes(data)


def _cut(raw: bytes, random: Random) -> bytes:
    start = random.randrange(len(raw) + 1)
    return raw[:start] if random.random() < 0.5 else raw[:start] + raw[start + random.randint(1, 200) :]


def _swap(raw: bytes, random: Random) -> bytes:
    lines = raw.splitlines(keepends=True)
    if len(lines) > 2:
        a, b = random.sample(range(1, len(lines)), 2)
        lines[a], lines[b] = lines[b], lines[a]
    return b"".join(lines)


def _double(raw: bytes, random: Random) -> bytes:
    lines = raw.splitlines(keepends=True)
    if lines:
        at = random.randrange(len(lines))
        lines[at:at] = [lines[at]] * random.choice((1, 1, 2, 50))
    return b"".join(lines)


def _in_a_line(raw: bytes, random: Random, change: Any) -> bytes:
    """Changes one value somewhere in one line, the header seldom."""
    lines = raw.splitlines(keepends=True)
    if not lines:
        return raw
    at = random.randrange(len(lines))
    try:
        body = json.loads(lines[at])
    except (ValueError, RecursionError):
        return raw
    where, key = body, None
    while isinstance(where, dict | list) and where:
        places = list(where) if isinstance(where, dict) else list(range(len(where)))
        key = random.choice(places)
        if not isinstance(where[key], dict | list) or not where[key] or random.random() < 0.2:
            break
        where = where[key]
    if key is None:
        return raw
    lines[at] = _dumped(body, where, key, change)
    return b"".join(lines)


def _dumped(body: Any, where: Any, key: Any, change: Any) -> bytes:
    """`change` is a value, or text of JSON that `json` could not dump: it is put in afterwards."""
    if isinstance(change, bytes):
        where[key] = "@@here@@"
        return _json(body).replace(b'"@@here@@"', change) + b"\n"
    where[key] = change
    return _json(body) + b"\n"


def _json(body: Any) -> bytes:
    try:
        return json.dumps(body, sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
    except UnicodeEncodeError:
        return json.dumps(body, sort_keys=True, separators=(",", ":")).encode()


def _nest(raw: bytes, random: Random) -> bytes:
    depth = random.choice((10, 400, 100_000))
    opening, closing = random.choice(((b"[", b"]"), (b'{"a":', b"}")))
    return _in_a_line(raw, random, opening * depth + (b"1" if opening != b"[" else b"") + closing * depth)


def _retype(raw: bytes, random: Random) -> bytes:
    return _in_a_line(raw, random, random.choice(_ODD))


_BEND = {"flip": _flip, "cut": _cut, "swap": _swap, "double": _double, "nest": _nest, "retype": _retype}


def resealed(raw: bytes, is_tidy: bool = False) -> bytes:
    """Every line that is one, numbered and hashed anew, as somebody would who hides a change. `is_tidy`: what is no
    line is left out, and every event is a decision of its own.
    """
    import hashlib

    out, previous = [], "0" * 64
    for line in raw.splitlines():
        try:
            body = json.loads(line)
            body.pop("hash", None)
        except (ValueError, RecursionError, AttributeError):
            if not is_tidy:
                out.append(line + b"\n")
            continue
        body |= {"prev": previous, "seq": len(out)}
        if is_tidy:
            body.pop("more", None)
        if not out and isinstance(body.get("sheet_text"), str):
            body["sheet_hash"] = hashlib.sha256(body["sheet_text"].encode("utf-8", "surrogatepass")).hexdigest()
        plain = _json(body)
        digest = hashlib.sha256(plain).hexdigest()
        # Where "hash" stands among the keys does not matter to its own hash.
        out.append(plain[:-1] + f',"hash":"{digest}"'.encode() + b"}\n")
        previous = digest
    return b"".join(out)


class Workshop:
    """A folder with a whole journal of another machine, and room for a bent one."""

    def __init__(self, folder: Path) -> None:
        self.folder, self.journals = folder, folder / "journals"
        self.sources = {path.stem: path.read_bytes() for path in sorted(KEPT.glob("*.jsonl"))}
        self.headers = {name: json.loads(raw.splitlines()[0]) for name, raw in self.sources.items()}
        self.sheets = {}
        for name, header in self.headers.items():
            self.sheets[name] = folder / f"{name}.yaml"
            self.sheets[name].write_text(header["sheet_text"], "utf-8")
        self.large = {name: enlarged(raw) for name, raw in self.sources.items() if name == "plain"}

    def run(self, seed: int) -> tuple[list[str], str]:
        """What is broken, and what verify calls the journal."""
        random = Random(seed)
        name = random.choice(sorted(self.sources))
        raw = self.sources[name]
        if seed % _LARGE_EVERY == 0:
            name, raw = "plain", self.large["plain"]
        raw, how = bent(raw, random)
        shutil.rmtree(self.journals, ignore_errors=True)
        self.journals.mkdir()
        header = self.headers[name]
        stem = jn.session_stem(header["sheet"], header["machine"])
        path = self.journals / f"{stem}--20260105T080000000000Z.jsonl"
        path.write_bytes(raw)
        other = next(one for one in sorted(self.sources) if self.headers[one]["machine"] != header["machine"])
        (self.journals / "other--machine--20260101T080000000000Z.jsonl").write_bytes(self.sources[other])
        faults: list[str] = []
        kind = ""
        work = ["work", str(self.sheets[name]), "--typed", "--mute", "--journal", str(self.journals)]
        form = random.choice(("csv", "ics", "vtt"))
        for argv, codes in (
            (["verify", str(path)], {0, 1}),
            (["record", str(path), "--as", "html"], {0, 5}),
            (["record", str(path), "--as", "json"], {0, 5}),
            (["record", str(path), "--as", form], {0, 5}),
            (["logbook", "--journal", str(self.journals)], {0}),
            (work, {0, 5, 10}),
            ([*work, "--new"], {0, 10}),
        ):
            code, text, took_s = command(argv)
            where = f"seed {seed} ({name}, {how}): {' '.join(argv[:1] + argv[2:])[:60]}"
            if "[internal]" in text or "Traceback" in text:
                faults.append(f"{where}: {text[text.find('Something') :][:300]}")
            if code not in codes:
                faults.append(f"{where}: exit code {code}: {text[-300:]}")
            if took_s > MOST_S:
                faults.append(f"{where}: {took_s:.1f} s")
            if argv[0] == "verify":
                kind = text.rpartition("[")[2].rstrip("]\n") if code else "whole"
            if argv[0] == "logbook" and self.headers[other]["machine"] not in text:
                faults.append(f"{where}: the whole journal beside it is not shown")
        return faults, kind


def enlarged(raw: bytes) -> bytes:
    """The journal with notes in its middle until it has 1 MB."""
    lines = raw.splitlines(keepends=True)
    filling: list[bytes] = []
    size = len(raw)
    step = json.loads(lines[2])["event"]["step"]
    while size < ONE_MB:
        event = {"type": "NoteTaken", "step": step, "text": f"note {len(filling)}, the guard is scratched"}
        line = _json({"at_ms": 1_767_600_000_000, "event": event, "prev": "0" * 64, "seq": 0, "hash": "0" * 64}) + b"\n"
        filling.append(line)
        size += len(line)
    return resealed(b"".join((*lines[:3], *filling, *lines[3:])))


def command(argv: list[str]) -> tuple[int, str, float]:
    """Exit code, both streams, processor seconds of this process (others on the machine are not counted)."""
    out, start = io.StringIO(), time.process_time()
    real, sys.stdin = sys.stdin, io.StringIO("".join(f"{line}\n" for line in _TALK))
    try:
        with contextlib.redirect_stdout(out), contextlib.redirect_stderr(out):
            code = cli.main(argv)
    finally:
        sys.stdin = real
    return code, out.getvalue(), time.process_time() - start


def peak_mb() -> float:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def _share(seeds: range) -> tuple[list[str], Counter[str], float]:
    with tempfile.TemporaryDirectory() as folder:
        os.environ["XDG_CONFIG_HOME"] = folder
        workshop, faults, kinds = Workshop(Path(folder)), [], Counter()  # type: Workshop, list[str], Counter[str]
        for seed in seeds:
            broken, kind = workshop.run(seed)
            faults += broken
            kinds[kind] += 1
        return faults, kinds, peak_mb()


def main() -> int:
    parser = argparse.ArgumentParser()
    parser.add_argument("--seeds", type=int, default=10_000)
    parser.add_argument("--first", type=int, default=0)
    parser.add_argument("--processes", type=int, default=2)
    args = parser.parse_args()
    start, n = time.monotonic(), args.processes
    last = args.first + args.seeds
    with multiprocessing.get_context("spawn").Pool(n) as pool:
        shares = pool.map(_share, [range(args.first + k, last, n) for k in range(n)], chunksize=1)
    faults = [fault for share in shares for fault in share[0]]
    kinds = sum((share[1] for share in shares), Counter())
    most_mb = max(share[2] for share in shares)
    for fault in faults[:50]:
        print(fault)
    print(f"{args.seeds} seeds from {args.first}, 7 commands each: {len(faults)} faults, peak {most_mb:.0f} MB, "
          f"{time.monotonic() - start:.0f} s")  # fmt: skip
    print(", ".join(f"{kind or 'unread'} {count}" for kind, count in kinds.most_common()))
    return 1 if faults or most_mb > MOST_MB else 0


if __name__ == "__main__":
    sys.exit(main())
