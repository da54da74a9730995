"""`bench-voice record` and `bench-voice forget`."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from bench_voice import out_file, streams
from bench_voice.config import Config
from bench_voice.errors import JournalError, UsageError


def run(args: argparse.Namespace) -> int:
    """What people keep of a session, in one of its forms; with --schema the shape of the JSON form."""
    if args.schema:
        from bench_voice.records.exports.schema import schema_text

        text, inputs = schema_text(), []
    else:
        if not args.journal:
            raise UsageError("There is no journal.", mend="Name one, or give --schema.", slug="no-journal")
        from bench_voice.records.render import render

        inputs = [Path(args.journal)]
        text = render(inputs[0], args.form, mark=args.mark, film_ms=round(1000 * args.film))
    if not args.out:
        streams.write_document(text)
        return 0
    if why := out_file.write(Path(args.out), text, "The record", inputs, newline=""):
        raise JournalError(why, mend="Choose another --out.", slug="record-unwritable", where=args.out)
    return 0


def forget(args: argparse.Namespace, config: Config) -> int:
    """Takes away kept sound that is older than so many days, and says what."""
    from bench_voice.records import sound

    if not args.older_than >= 0:
        raise UsageError("That is no number of days.", mend="Write 30, or 0 for all of it.", slug="forget-days")
    folder = Path(args.journal) if args.journal else config.journal
    done = sound.forget(folder, args.older_than)
    for name, (count, size) in done.sessions.items():
        print(f"{name}: {count} recordings, {size / 1e6:.1f} MB.")
    for problem in done.problems:
        print(problem, file=sys.stderr)
    if not done.sessions and not done.problems:
        print("No sound is that old.")
    return 5 if done.problems else 0
