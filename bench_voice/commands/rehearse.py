"""`bench-voice rehearse`: which phrases, where the sound comes from and where it is kept, and what is shown."""

from __future__ import annotations

import argparse
import json
import re
import sys
from contextlib import suppress
from datetime import UTC, datetime
from pathlib import Path

from bench_voice.commands.listening import make_listener
from bench_voice.config import Config
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import EngineError, UsageError
from bench_voice.rehearsal import report
from bench_voice.rehearsal.prompts import Rehearsal, prompts
from bench_voice.rehearsal.take import LIST_NAME, FromFolder, Rehearsing, Takes
from bench_voice.session.listen import Listener
from bench_voice.session.outcomes import Outcome
from bench_voice.words.phrases import load_language


def run(args: argparse.Namespace, config: Config) -> int:
    """0: every phrase that was said was heard right. 1: some were not. Raises UsageError, SheetError, EngineError."""
    from bench_voice.sheets.load import load_sheet

    sheet = load_sheet(Path(args.sheet))
    language = load_language(sheet.language)
    rehearsal = prompts(sheet, language)
    if args.only:
        rehearsal = _only(rehearsal, args.only)
    if args.list:
        _list(rehearsal, args.json)
        return 0
    folder = _folder(args, config, sheet)
    listener: Listener | None = None
    takes: Takes | None = None
    try:
        takes = make_takes(args, config, sheet)
        listener = make_listener(args.engine, config, language)
        made = Rehearsing(Path(args.sheet), sheet, language, listener, folder, args.json).all(rehearsal, takes)
    finally:
        if takes is not None:
            takes.close()
        if listener is not None:
            listener.close()
        with suppress(OSError):
            folder.rmdir()  # where nothing was kept
    if all(take.outcome is Outcome.SKIPPED for take in made):
        raise UsageError(
            "Nothing was said, so nothing can be told.",
            mend="Read the phrases, or give recordings of them with --from DIR.",
            slug="rehearse-nothing",
        )
    shown = report.of(made, rehearsal, sheet, language, config.pronunciations)
    if args.json:
        print(json.dumps({"summary": shown.as_json(), "list": str(folder / LIST_NAME)}, ensure_ascii=False))
    else:
        print("\n".join(shown.lines()))
        print(f"Your recordings: {folder}\nAfter a change: bench-voice hear --list {folder / LIST_NAME}")
    good = (Outcome.RIGHT, Outcome.SKIPPED)
    return 0 if all(take.outcome in good for take in made) else 1


def _only(rehearsal: Rehearsal, numbers: str) -> Rehearsal:
    """The phrases of "3,7-9", their numbers as they were."""
    wanted: set[int] = set()
    last = rehearsal.prompts[-1].number
    for part in numbers.split(","):
        found = re.fullmatch(r"\s*(\d{1,4})(?:-(\d{1,4}))?\s*", part)
        first, end = (int(found[1]), int(found[2] or found[1])) if found else (0, 0)
        if not 1 <= first <= end <= last:
            raise UsageError(
                f'"{part.strip()}" is no number of a phrase.',
                mend=f"Write numbers from 1 to {last}, such as 3,7-9; --list shows them.",
                slug="rehearse-only",
            )
        wanted.update(range(first, end + 1))
    return Rehearsal(tuple(prompt for prompt in rehearsal.prompts if prompt.number in wanted))


def _list(rehearsal: Rehearsal, is_json: bool) -> None:
    for prompt in rehearsal.prompts:
        if is_json:
            print(json.dumps({"id": prompt.number, "words": prompt.words, "step": prompt.step}, ensure_ascii=False))
        else:
            print(f"{prompt.number:3d}  {prompt.words}")
    for name in rehearsal.left_out:
        print(f'No phrase could be made for "{name}".', file=sys.stderr)


def _folder(args: argparse.Namespace, config: Config, sheet: JobSheet) -> Path:
    """Where this rehearsal is kept: a folder that is new or empty, so that none overwrites another."""
    stamp = datetime.now(UTC).strftime("%Y%m%dT%H%M%SZ")
    folder = Path(args.out) if args.out else config.journal.parent / "rehearsals" / f"{sheet.id}--{stamp}"
    try:
        folder.mkdir(parents=True, exist_ok=True)
        is_empty = not any(folder.iterdir())
    except OSError as error:
        raise UsageError(
            f"The folder cannot be made ({error.strerror}).",
            mend="Choose another --out.",
            slug="rehearse-out",
            where=str(folder),
        ) from error
    if not is_empty:
        raise UsageError(
            "There is something in this folder already.",
            mend="Choose another --out: no rehearsal overwrites another.",
            slug="rehearse-out",
            where=str(folder),
        )
    return folder


def make_takes(args: argparse.Namespace, config: Config, sheet: JobSheet) -> Takes:
    def show(text: str) -> None:
        print(text, file=sys.stderr if args.json else sys.stdout, flush=True)

    if args.from_:
        return FromFolder(Path(args.from_), show)
    from bench_voice.rehearsal.live import open_live

    try:
        return open_live(config, sheet, show, is_mute=args.mute)
    except EngineError as error:
        raise EngineError(
            error.what,
            mend="bench-voice self-check shows how to mend it. Or record the phrases elsewhere (--list shows them) and "
            "give them with --from DIR.",
            slug=error.slug,
            where=error.where,
        ) from error
