"""Wiring of `bench-voice check`: proofreads sheets, and shows, speaks or lists what a sheet has."""

from __future__ import annotations

import argparse
import json
from collections.abc import Iterable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from bench_voice import out_file
from bench_voice.config import Config
from bench_voice.core.sheet import JobSheet
from bench_voice.errors import EngineError, UsageError
from bench_voice.sheets import load, page, pages
from bench_voice.sheets.faults import MOST_SHOWN, Fault, shown
from bench_voice.words.visible import visible


def run(args: argparse.Namespace, config: Config) -> int:
    """All sheets, one after the other. 1 where one has a fault; what else was asked for needs a sheet without."""
    if (args.say_to or args.speak) and not args.read_aloud:
        raise UsageError(
            "There is nothing to speak.",
            mend="Add --read-aloud: it is the job that is spoken.",
            slug="check-nothing-said",
        )
    if args.page and len(args.sheets) > 1:
        raise UsageError("One page for several sheets.", mend="Name one sheet with --page.", slug="check-one-page")
    _fit_together(args)
    sheets = [Path(name) for name in args.sheets]
    out_file.check_say_to(args.say_to, sheets)
    has_faults = False
    for path in sheets:
        faults = load.check_file(path)
        is_bad = any(fault.severity == "fault" for fault in faults)
        has_faults |= is_bad
        if not args.json:
            for line in shown(faults):
                print(line)
        sheet = load.load_sheet(path) if not is_bad and (args.page or not args.json) else None
        if sheet and args.page:
            pictures = [path.parent / step.picture for step in sheet.steps if step.picture]
            _write_page(page.page(sheet, path.parent), args.page, [path, *pictures])
        if args.json:
            body = {"sheet": str(path), "faults": [_as_json(f) for f in faults[:MOST_SHOWN]]}
            more = {"more": len(faults) - MOST_SHOWN} if len(faults) > MOST_SHOWN else {}
            print(visible(json.dumps(body | more, ensure_ascii=False)))
        elif sheet:
            _shown(sheet, path, args, config)
    return 1 if has_faults else 0


def _fit_together(args: argparse.Namespace) -> None:
    """Raises UsageError where one option would silently make nothing of another."""
    if args.json and (args.needs or args.read_aloud):
        what, mend = "--json prints the faults and nothing else.", "Leave out --json, or --needs and --read-aloud."
    elif args.speak and args.say_to:
        what, mend = "The job is spoken either through the loudspeaker or into a file.", "Give --speak or --say-to."
    elif args.say_to and len(args.sheets) > 1:
        what, mend = "One sound file for several sheets.", "Name one sheet with --say-to."
    else:
        return
    raise UsageError(what, mend=mend, slug="check-options")


def _as_json(fault: Fault) -> dict[str, Any]:
    return {key: getattr(fault, key) for key in ("file", "line", "path", "what", "mend", "slug", "severity")}


def _shown(sheet: JobSheet, path: Path, args: argparse.Namespace, config: Config) -> None:
    if args.needs:
        print(pages.needs_list(sheet))
    if args.read_aloud:
        from bench_voice.sheets.aloud import read_aloud

        with _sound(args, config) as (voice, play):
            read_aloud(sheet, lambda text: print(text, flush=True), voice, play)
    if not args.needs and not args.read_aloud:
        print(f"{path.name}: {len(sheet.steps)} steps, no faults.")


def _write_page(text: str, name: str, inputs: Iterable[Path]) -> None:
    if why := out_file.write(Path(name), text, "The page", inputs):
        raise UsageError(why, mend="Choose another --page.", slug="check-page-unwritable", where=name)


@contextmanager
def _sound(args: argparse.Namespace, config: Config) -> Iterator[tuple[Any, Any]]:
    """Voice and where its sound goes: a file, the loudspeaker, or neither. Raises EngineError."""
    if not args.say_to and not args.speak:
        yield None, None
        return
    from bench_voice.audio import factory

    out: Any
    if args.say_to:
        from bench_voice.audio.said_file import SaidFile

        out = SaidFile(Path(args.say_to))
        play = out.write
    else:
        from bench_voice.audio.player import Player

        out = Player(config.loudspeaker, loudness_db=config.loudness)
        out.start()

        def play(pcm: bytes) -> None:
            if not out.play(pcm):
                raise EngineError(
                    "The loudspeaker went away.", mend="Plug it in, or use --say-to FILE.wav.", slug="sound-no-device"
                )

    voice: Any = None
    try:
        voice = factory.make_voice()
        yield voice, play
    finally:
        out.close()
        if voice is not None:
            voice.close()
