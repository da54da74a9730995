"""Everything of a workshop in one file, and back: the journals with their sound, and the sessions that stand in the
logbook only (of other benches, or whose journals are gone).

A ZIP file: `journals/…`, `logbook.jsonl` (a session a line), `manifest.json` (format and the SHA-256 of each of these).
"""

from __future__ import annotations

import hashlib
import json
import os
import zipfile
from dataclasses import dataclass, field
from pathlib import Path, PurePosixPath
from typing import Any

import sqlalchemy as sa

from bench_voice.errors import JournalError, UsageError
from bench_voice.records.book import content, fill
from bench_voice.records.book.connect import Book
from bench_voice.records.book.extract import Found
from bench_voice.records.book.schema import SESSION

FORMAT = 1
_MANIFEST, _BOOK, _JOURNALS = "manifest.json", "logbook.jsonl", "journals/"
_BATCH = 50


@dataclass
class Restored:
    """What came back. `problems`: what was in the backup and was left out, as a person is told."""

    journals: int = 0
    sounds: int = 0
    sessions: int = 0
    problems: list[str] = field(default_factory=list)


def backup(book: Book, folder: Path, out: Path) -> tuple[int, int]:
    """Writes the file; returns the numbers of journals and of sessions in it. Raises JournalError; an older backup of
    that name stays whole until the new one is.
    """
    part = out.with_name(out.name + ".part")
    sums: dict[str, str] = {}
    try:
        with zipfile.ZipFile(part, "w", zipfile.ZIP_DEFLATED) as file:
            journals = sorted([*folder.glob("*.jsonl"), *folder.glob("*.torn"), *folder.glob("*.sound/*.flac")])
            for path in journals:
                raw = path.read_bytes()
                _put(file, sums, _JOURNALS + path.relative_to(folder).as_posix(), raw)
            lines = [content.as_json(found) + "\n" for found in content.sessions(book)]
            _put(file, sums, _BOOK, "".join(lines).encode())
            file.writestr(_MANIFEST, json.dumps({"format": FORMAT, "sha256": sums}, indent=1))
        os.replace(part, out)
    except OSError as error:
        part.unlink(missing_ok=True)
        raise JournalError(
            f"The backup cannot be written ({error.strerror}).",
            mend="Choose another file, or make room.",
            slug="backup-unwritable",
            where=str(out),
        ) from error
    return sum(1 for path in journals if path.suffix == ".jsonl"), len(lines)


def _put(file: zipfile.ZipFile, sums: dict[str, str], name: str, raw: bytes) -> None:
    file.writestr(name, raw)
    sums[name] = hashlib.sha256(raw).hexdigest()


def restore(book: Book, folder: Path, source: Path) -> Restored:
    """Brings back what is not there. What is there stays as it is; where the backup has it otherwise, that is told.

    Raises UsageError [backup] for a file that is no whole backup: then nothing is written.
    """
    restored = Restored()
    try:
        with zipfile.ZipFile(source) as file:
            manifest = json.loads(file.read(_MANIFEST))
            if manifest["format"] > FORMAT:
                raise _no_backup(source, "a newer version of bench-voice wrote it", "Update bench-voice.")
            for name, digest in manifest["sha256"].items():
                if hashlib.sha256(file.read(name)).hexdigest() != digest:
                    raise _no_backup(source, f"{name} in it is damaged")
            _journals(file, manifest["sha256"], folder, restored)
            lines = file.read(_BOOK).decode().splitlines()
            found = [content.from_json(line) for line in lines]
    except (OSError, zipfile.BadZipFile, ValueError, KeyError, TypeError, AttributeError) as error:
        raise _no_backup(source, getattr(error, "strerror", None) or "it is none") from error
    # The journals first: what they say counts.
    filled = fill.catch_up(book, folder)
    restored.problems += filled.problems.values()
    for at in range(0, len(found), _BATCH):
        restored.sessions += _insert_new(book, found[at : at + _BATCH])
    return restored


def _no_backup(source: Path, why: str, mend: str = "Take another backup; nothing was changed.") -> UsageError:
    return UsageError(f"The backup cannot be used ({why}).", mend=mend, slug="backup", where=str(source))


def _journals(file: zipfile.ZipFile, names: dict[str, Any], folder: Path, restored: Restored) -> None:
    for name in names:
        if not name.startswith(_JOURNALS):
            continue
        inner = PurePosixPath(name.removeprefix(_JOURNALS))
        # A file from elsewhere may name any place: only the folder itself, or one folder of sound in it.
        if inner.is_absolute() or ".." in inner.parts or len(inner.parts) > 2 or inner.suffix not in _SUFFIXES:
            restored.problems.append(f"{name}: It is no file of a backup, and was left out. [backup]")
            continue
        path = folder / inner
        raw = file.read(name)
        if path.exists():
            if path.read_bytes() != raw:
                restored.problems.append(
                    f"{inner}: It is there already and differs from the backup's. The one that is there stays. To have "
                    "the other, move this one away and restore again. [backup-differs]"
                )
            continue
        path.parent.mkdir(parents=True, exist_ok=True)
        with path.open("xb") as out:
            out.write(raw)
        restored.journals += path.suffix == ".jsonl"
        restored.sounds += path.suffix == ".flac"


_SUFFIXES = (".jsonl", ".torn", ".flac")


def _insert_new(book: Book, found: list[Found]) -> int:
    keys = [one.session["key"] for one in found]
    with book.write() as connection:
        there = set(connection.execute(sa.select(SESSION.c.key).where(SESSION.c.key.in_(keys))).scalars())
        new = [one for one in found if one.session["key"] not in there]
        fill.insert(connection, new)
    return len(new)
