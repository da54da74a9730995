"""`bench-voice logbook`: brings the logbook up to date from the journals, then answers."""

from __future__ import annotations

import argparse
import json
import os
import sys
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any

from bench_voice import out_file
from bench_voice.config import Config
from bench_voice.errors import BenchError, JournalError, UsageError
from bench_voice.records.book import ask, backup, content, fill
from bench_voice.records.book.connect import Book, open_book
from bench_voice.records.logbook import as_text, kept_rows

_OFTEN = 1000  # journals between two lines of progress


def run(args: argparse.Namespace, config: Config) -> int:
    folder = Path(args.journal) if args.journal else config.journal
    span = ask.Span(_day(args.since, "--since"), _day(args.until, "--until"))
    # The usual folder is made by the first session; one that was named and is not there is a slip.
    is_new = not args.journal and not os.path.lexists(folder)
    if is_new and not (args.restore or config.logbook):
        print("No sessions.") if not args.json else None
        return 0
    if is_new or args.restore:
        _make(folder)
    book, filled = _opened(args, folder, args.store or config.logbook)
    try:
        problems = list(filled.problems.values())
        if args.backup:
            journals, sessions = backup.backup(book, folder, Path(args.backup))
            print(f"{args.backup}: {journals} journals and {sessions} sessions.")
        elif args.restore:
            back = backup.restore(book, folder, Path(args.restore))
            problems = back.problems
            counts = f"{back.journals} journals, {back.sounds} sounds and {back.sessions} sessions"
            print(f"{args.restore}: {counts} came back.")
        elif args.rebuild:
            print(f"{book.where}: {filled.read} journals, {filled.events} events. Content {content.digest(book)[:16]}.")
        else:
            return _answer(args, book, span, filled.problems)
        for problem in problems:
            print(problem, file=sys.stderr)
        return 0
    finally:
        book.close()


def _day(text: str | None, what: str) -> date | None:
    try:
        return date.fromisoformat(text) if text else None
    except ValueError as error:
        raise UsageError(f'{what} "{text}" is no day.', mend="Write it as 2026-05-31.", slug="day") from error


def _make(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise JournalError(
            f"The folder of journals cannot be made ({error.strerror}).",
            mend="Choose another with --journal.",
            slug="journal-unwritable",
            where=str(folder),
        ) from error


def _opened(args: argparse.Namespace, folder: Path, url: str | None) -> tuple[Book, fill.Filled]:
    """Up to date. Where the store cannot be had, what the journals here say is told all the same, from memory; but
    what is to be kept (a backup, a restore, a rebuild) fails.
    """

    def progress(done: int, of: int) -> None:
        if done // _OFTEN > (done - 50) // _OFTEN:
            print(f"{done} of {of} journals read ...", file=sys.stderr, flush=True)

    fill.check_folder(folder)
    work: Callable[..., fill.Filled] = fill.rebuild if args.rebuild else fill.catch_up
    book = None
    try:
        book = open_book(folder, url)
        return book, work(book, folder, on_progress=progress)
    except JournalError as error:
        if book is not None:
            book.close()
        if error.slug == "journal-unreadable" or args.rebuild or args.backup or args.restore:
            raise
        print(f"{error} What follows is from the journals in {folder} alone.", file=sys.stderr)
    book = open_book(folder, in_memory=True)
    try:
        return book, fill.catch_up(book, folder, on_progress=progress)
    except BaseException:
        book.close()
        raise


def _answer(args: argparse.Namespace, book: Book, span: ask.Span, problems: dict[str, str]) -> int:
    machine = None
    if args.machine:
        found = ask.machines(book, args.machine)
        if len(found) > 1:
            named = "; ".join(f"{one.id} ({one.names[0]}, {one.sessions} sessions)" for one in found)
            raise UsageError(
                f'"{args.machine}" is the name of {len(found)} machines, or part of it: {named}.',
                mend="Give the id of one of them.",
                slug="logbook-which-machine",
            )
        if not found and not args.json:
            print("No sessions.")
        if not found:
            return 0
        machine = found[0].id
    if args.search or args.reading:
        hits, is_more = ask.search(book, args.search or "", machine=machine, reading=args.reading or "", span=span)
        _show_hits(args, hits, is_more)
        return 0
    ids, total = ask.session_ids(book, machine, span)
    rows = kept_rows(book, ids)
    # A journal that cannot be read may be of any machine.
    bad: list[dict[str, Any]] = [{"journal": name, "error": text} for name, text in problems.items()]
    if args.page:
        from bench_voice.records.machine_page import machine_page

        text = machine_page(rows, machine, total, bad)
        if why := out_file.write(Path(args.page), text, "The page", []):
            raise JournalError(why, mend="Choose another --page.", slug="record-unwritable", where=args.page)
        return 0
    if args.json:
        for row in (*rows, *bad):
            print(json.dumps(row, ensure_ascii=False), flush=True)
        return 0
    if total > len(rows):
        print(f"The newest {len(rows)} of {total} sessions; --since and --until show others.")
    print(as_text([*rows, *bad]))
    return 0


def _show_hits(args: argparse.Namespace, hits: list[ask.Hit], is_more: bool) -> None:
    for hit in hits:
        at = ask.local(hit.started_ms)
        if args.json:
            body = {"journal": hit.journal, "machine_id": hit.machine_id, "title": hit.title}
            print(
                json.dumps(body | {"started": at.isoformat(), "kind": hit.kind, "text": hit.text}, ensure_ascii=False)
            )
        else:
            print(f"{at:%Y-%m-%d %H:%M}  {hit.machine_id}  {hit.title}  {hit.kind}: {hit.text}")
    if not hits and not args.json:
        print("Nothing found.")
    if is_more:
        print("There is more: narrow it with --since, --until or more of the name.", file=sys.stderr)


def session_ended(folder: Path, url: str | None, within_s: float = 3.0) -> None:
    """Puts the session that has just ended into the logbook, and what an outage left behind; tells on standard error
    what it could not. Never fails: the journal is whole.
    """
    if not os.path.isdir(folder):
        return  # no session was begun
    try:
        book = open_book(folder, url)
        try:
            fill.catch_up(book, folder, within_s=within_s)
        finally:
            book.close()
    except BenchError as error:
        print(error, file=sys.stderr, flush=True)
    except Exception as error:  # a fault of the store's library costs no session its end
        what = f"The logbook was not written ({type(error).__name__}: {error}). The journal is whole."
        print(f"{what} [logbook-unusable]", file=sys.stderr, flush=True)
