"""The command line: reads arguments, wires, prints. The table of commands and exit codes stands in the README."""

from __future__ import annotations

import argparse
import json
import os
import signal
import sys
from collections.abc import Callable, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from bench_voice import __version__, streams
from bench_voice.errors import BenchError, UsageError
from bench_voice.interrupts import INTERRUPTED, raise_again
from bench_voice.words.visible import visible

Command = Callable[[argparse.Namespace], int]
LEFT_OPEN = 10


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="bench-voice", description="An offline bench assistant worked by voice. See the README."
    )
    parser.add_argument("--version", action="version", version=__version__)
    commands = parser.add_subparsers(dest="command", required=True, metavar="COMMAND")

    def add(name: str, act: Command, text: str) -> argparse.ArgumentParser:
        sub = commands.add_parser(name, help=text, description=text)
        sub.add_argument("--debug", action="store_true", help="show a traceback when something fails")
        sub.set_defaults(act=act)
        return sub

    work = add("work", _work, "one session at the bench")
    work.add_argument("sheet", metavar="SHEET")
    how = work.add_mutually_exclusive_group()
    how.add_argument("--typed", action="store_true", help="lines on standard input instead of the microphone")
    how.add_argument(
        "--listen", metavar="FILE.wav", help="a recording instead of the microphone; - for raw 16 kHz sound"
    )
    work.add_argument("--mute", action="store_true", help="no sound, print only")
    work.add_argument("--say-to", metavar="FILE.wav", help="the spoken side goes into a file")
    work.add_argument("--journal", metavar="DIR", help="where journals live")
    work.add_argument(
        "--mode", choices=("open", "call-word", "push-to-talk"), help="what of all that is said is for it"
    )
    work.add_argument("--call-word", metavar="WORD", help="the word in front of everything, with --mode call-word")
    work.add_argument(
        "--keys", metavar="FILE", help="a terminal, named pipe or input device (pedal) to stop and talk with"
    )
    work.add_argument("--no-sound-check", action="store_true", help="begin without the sound check")
    work.add_argument("--who", metavar="NAME", help="who works, for the record")
    work.add_argument("--at", metavar="AMOUNT", help="the machine's distance or hours, such as 4200 km")
    work.add_argument("--new", action="store_true", help="start another session, don't resume an open one")
    work.add_argument("--engine", metavar="NAME", help="only this ear")
    work.add_argument("--turns", action="store_true", help='print "ready" on standard error when it listens')
    work.add_argument("--explain", action="store_true", help="print what each ear heard on standard error")

    check = add("check", _check, "proofread job sheets")
    check.add_argument("sheets", metavar="SHEET", nargs="+")
    check.add_argument("--json", action="store_true")
    check.add_argument("--needs", action="store_true", help="print tools, parts and supplies")
    check.add_argument("--read-aloud", action="store_true", help="print the job as it will be heard, with its time")
    check.add_argument("--speak", action="store_true", help="with --read-aloud: through the loudspeaker as well")
    check.add_argument("--say-to", metavar="FILE.wav", help="with --read-aloud: into a file as well")
    check.add_argument("--page", metavar="FILE.html", help="write the sheet as a page to print, with its pictures")

    start = add("start-sheet", _start_sheet, "print a commented beginning of a job sheet")
    start.add_argument("--schema", action="store_true", help="print the JSON Schema instead")

    words = add("understand", _understand, "what words would mean at a step; changes nothing")
    words.add_argument("words", metavar="WORDS", nargs="?")
    _at_step(words)

    hear = add("hear", _hear, "what would be heard in a recording, and what it would mean; changes nothing")
    hear.add_argument("files", metavar="FILE.wav", nargs="*")
    hear.add_argument("--engine", metavar="NAME", help="only this ear")
    hear.add_argument("--explain", action="store_true", help="every figure of the evidence")
    _at_step(hear)

    again = add(
        "rehearse", _rehearse, "read a sheet's phrases once: which are mistaken, and what to call things instead"
    )
    again.add_argument("sheet", metavar="SHEET")
    again.add_argument("--list", action="store_true", help="print the phrases with their numbers")
    again.add_argument("--only", metavar="NUMBERS", help="these phrases, such as 3,7-9")
    again.add_argument("--from", dest="from_", metavar="DIR", help="recordings named by number, not the microphone")
    again.add_argument("--out", metavar="DIR", help="where the recordings are kept: a new or empty folder")
    again.add_argument("--engine", metavar="NAME", help="only this ear")
    again.add_argument("--mute", action="store_true", help="show the phrases, don't speak them")
    again.add_argument("--json", action="store_true")

    ask = add("reckon", _reckon, "the arithmetic of the trade: torque, units, threads, tyres, wear; changes nothing")
    ask.add_argument("words", metavar="WORDS")
    ask.add_argument("--json", action="store_true")

    verify = add("verify", _verify, "is this journal whole, and what that proves")
    verify.add_argument("journal", metavar="JOURNAL")
    verify.add_argument("--hash", metavar="TEXT", help="the last hash as it was kept elsewhere, or its beginning")
    whose = verify.add_mutually_exclusive_group()
    whose.add_argument("--sign", metavar="KEY", help="sign it with this private key (Ed25519), in a file beside it")
    whose.add_argument("--signed-by", metavar="KEY", help="check the signature beside it by this public key")

    record = add("record", _record, "what people keep of a session")
    record.add_argument("journal", metavar="JOURNAL", nargs="?")
    forms = ("html", "csv", "json", "ics", "vtt", "chapters")
    record.add_argument("--as", dest="form", choices=forms, default="html")
    record.add_argument("--mark", metavar="N", type=int, help="of captions and chapters: the spoken mark that is seen")
    record.add_argument("--film", metavar="SECONDS", type=float, default=0.0, help="where in the film it is seen")
    record.add_argument("--schema", action="store_true", help="print the JSON Schema of the JSON form")
    record.add_argument("--out", metavar="FILE")

    forget = add("forget", _forget, "take kept sound away that is older than so many days")
    forget.add_argument("--older-than", metavar="DAYS", type=float, required=True)
    forget.add_argument("--journal", metavar="DIR", help="where journals live")

    logbook = add("logbook", _logbook, "the history of a machine")
    logbook.add_argument("machine", metavar="MACHINE", nargs="?")
    logbook.add_argument("--journal", metavar="DIR", help="where journals live")
    logbook.add_argument("--store", metavar="URL", help="the workshop's logbook on a server: postgresql://host/name")
    logbook.add_argument("--search", metavar="WORDS", help="where these words stand, or parts of them")
    logbook.add_argument("--reading", metavar="NAME", help="every value of readings with that in their name")
    logbook.add_argument("--since", metavar="DAY", help="sessions begun on that day or later, such as 2026-05-31")
    logbook.add_argument("--until", metavar="DAY", help="sessions begun on that day or before")
    does = logbook.add_mutually_exclusive_group()
    does.add_argument("--page", metavar="FILE.html", help="as a page with a plot a reading")
    does.add_argument("--rebuild", action="store_true", help="read every journal anew")
    does.add_argument("--backup", metavar="FILE.zip", help="journals, sound and logbook into one file")
    does.add_argument("--restore", metavar="FILE.zip", help="bring back what is not here")
    logbook.add_argument("--json", action="store_true")

    look = add("self-check", _self_check, "what works here, and how to mend what does not")
    look.add_argument("--json", action="store_true")
    return parser


def _at_step(sub: argparse.ArgumentParser) -> None:
    sub.add_argument("--sheet", metavar="SHEET")
    sub.add_argument("--step", metavar="ID")
    sub.add_argument("--json", action="store_true")
    sub.add_argument("--list", metavar="FILE.jsonl", help="many inputs, one JSON object a line")


def _print(value: dict[str, Any]) -> None:
    # Half of a surrogate pair, which an id may hold, is no UTF-8; its escape is JSON.
    print(visible(json.dumps(value, ensure_ascii=False)), flush=True)


def _work(args: argparse.Namespace) -> int:
    from bench_voice import config, out_file
    from bench_voice.commands import work

    out_file.check_say_to(args.say_to, [Path(name) for name in (args.sheet, args.listen) if name])
    settings = config.load()
    try:
        return work.run(args, settings)
    finally:
        from bench_voice.commands import logbook

        logbook.session_ended(Path(args.journal) if args.journal else settings.journal, settings.logbook)


def _check(args: argparse.Namespace) -> int:
    from bench_voice import config
    from bench_voice.commands import check

    return check.run(args, config.load())


def _start_sheet(args: argparse.Namespace) -> int:
    from bench_voice.sheets import pages

    print(pages.schema_text() if args.schema else pages.start_sheet_text())
    return 0


def _understand(args: argparse.Namespace) -> int:
    from bench_voice.session import meaning
    from bench_voice.sheets.load import load_sheet
    from bench_voice.speech.understand import understand

    meanings = meaning.Meanings(load_sheet)

    def one(id_: Any, words: str, sheet: str | None, step: str | None) -> dict[str, Any]:
        expected = meanings.expected(sheet, step)
        return meaning.as_json(id_, understand(words, expected), expected)

    if args.list:
        _list_alone(args.words)
        return _each(args, "heard", one)
    if args.words is None:
        raise UsageError("There are no words.", mend="Write them in quotes, or give --list FILE.", slug="no-words")
    return _show(args, one(None, args.words, args.sheet, args.step))


def _list_alone(*others: str | None) -> None:
    """Raises UsageError: what stands beside the list would be passed over without a word."""
    if any(others):
        what = f'"{next(filter(None, others))}" stands beside a list.'
        raise UsageError(what, mend="Give one or the other.", slug="list-alone")


def _hear(args: argparse.Namespace) -> int:
    from bench_voice import config
    from bench_voice.audio.endpointer import SileroEndpointer
    from bench_voice.audio.wav import WavSource, read_shape
    from bench_voice.commands.listening import make_listener
    from bench_voice.session import meaning
    from bench_voice.session.whole import hear_whole
    from bench_voice.sheets.load import load_sheet
    from bench_voice.words.phrases import load_language

    settings = config.load()
    if not args.files and not args.list:
        raise UsageError("There is no recording.", mend="Name a WAV file, or give --list FILE.", slug="no-recording")
    if args.list:
        _list_alone(*args.files)
    meanings = meaning.Meanings(load_sheet)
    if args.sheet or (args.step and not args.list):
        meanings.expected(args.sheet, args.step)
    if len(args.files) == 1:
        read_shape(Path(args.files[0]))  # before the ears are loaded
    listener = make_listener(args.engine, settings, load_language("en"))

    def one(id_: Any, path: str, sheet: str | None, step: str | None) -> dict[str, Any]:
        expected = meanings.expected(sheet, step)
        heard, intent = hear_whole(WavSource(Path(path)), SileroEndpointer(), listener, expected, path)
        body = meaning.as_json(id_, intent, expected, intent.heard)
        return body | {"ears": meaning.ears_json(heard, args.explain)}

    try:
        if args.list:
            return _each(args, "wav", one)
        code = 0
        for path in args.files:
            code = max(code, _show(args, one(path, path, args.sheet, args.step)))
        return code
    finally:
        listener.close()


def _rehearse(args: argparse.Namespace) -> int:
    from bench_voice import config
    from bench_voice.commands import rehearse

    return rehearse.run(args, config.load())


def _each(args: argparse.Namespace, key: str, one: Callable[..., dict[str, Any]]) -> int:
    """A JSONL list: one output line an input line, in order; a bad line is reported and the rest go on.

    A line with `expect` (fields of the JSON) is held against it: `outcome` says what it is, and a summary stands on
    standard error. 1 then, where one is worse than it `was` ("right" where that isn't said).
    """
    from bench_voice.session import meaning

    taken = 0
    against = meaning.Against()
    folder = Path(args.list).parent
    for id_, entry in meaning.read_list(Path(args.list)):
        if isinstance(entry, BenchError):
            _print({"id": id_, "error": str(entry)})
            continue
        try:
            given, sheet, step = meaning.asked(entry, key)
            if key == "wav" and not os.path.exists(given):
                given = str(folder / given)
            body = one(id_, given, sheet or args.sheet, step or args.step)
        except Exception as error:  # one line costs no other its answer
            if args.debug and not isinstance(error, BenchError):
                raise
            _print({"id": id_, "error": str(error) if isinstance(error, BenchError) else _internal(error)})
            against.failed(id_, entry)
            continue
        taken += body["accepted"]
        _print(body | against.seen(id_, entry, body))
    if against.summary:
        print(against.summary, file=sys.stderr)
    return 0 if taken and not against.worse else 1


def _show(args: argparse.Namespace, body: dict[str, Any]) -> int:
    if args.json:
        _print(body)
    else:
        value = body["values"] or body["value"]
        parts = [body["kind"], body["name"], " ".join(value) if isinstance(value, list) else value, body["unit"]]
        print(f"heard: {body['heard']}")
        print("means: " + " ".join(str(part) for part in parts if part))
        print(f"bench: {body['said']}")
    return 0 if body["accepted"] else 1


def _reckon(args: argparse.Namespace) -> int:
    from bench_voice import reckon

    try:
        answer = reckon.reckon(args.words)
    except reckon.ReckonError as error:
        if not args.json:
            raise
        _print({"accepted": False, "question": str(error)})
        return error.exit_code
    if args.json:
        _print(reckon.as_json(answer))
    else:
        print(f"{reckon.text(answer)}\nformula: {answer.formula}\nsource: {answer.source}")
    return 0


def _verify(args: argparse.Namespace) -> int:
    from bench_voice.commands import verify

    return verify.run(args)


def _record(args: argparse.Namespace) -> int:
    from bench_voice.commands import record

    return record.run(args)


def _forget(args: argparse.Namespace) -> int:
    from bench_voice import config
    from bench_voice.commands import record

    return record.forget(args, config.load())


def _logbook(args: argparse.Namespace) -> int:
    from bench_voice import config
    from bench_voice.commands import logbook

    return logbook.run(args, config.load())


def _self_check(args: argparse.Namespace) -> int:
    from bench_voice.commands import self_check

    findings = self_check.examine()
    if args.json:
        _print({"findings": [finding.__dict__ for finding in findings]})
    else:
        for finding in findings:
            print(f"{'ok  ' if finding.works else 'no  '}{finding.what}: {finding.detail}")
    return 0 if all(finding.works for finding in findings if finding.is_needed) else 4


def _internal(error: Exception) -> str:
    return (
        f"Something went wrong inside ({type(error).__name__}: {error}). Nothing accepted is lost. "
        "Run it again with --debug and report what it shows. [internal]"
    )


def _no_empty_names(args: argparse.Namespace) -> None:
    """Raises UsageError: "" is what an unset variable of a shell leaves, and would be taken for no option at all."""
    for key in ("sheet", "sheets", "listen", "say_to", "journal", "keys", "page", "list", "from_", "out", "files"):
        given = getattr(args, key, None)
        if given == "" or (isinstance(given, list) and "" in given):
            what = f"The name that was given for {key.strip('_').replace('_', '-')} is empty."
            raise UsageError(what, mend="Name the file or folder.", slug="no-name")


def main(argv: Sequence[str] | None = None) -> int:
    """Runs one command. Never shows a traceback without --debug."""
    if hasattr(signal, "SIGPIPE"):
        signal.signal(signal.SIGPIPE, signal.SIG_DFL)
    args = _parser().parse_args(argv)
    try:
        raise_again()
        _no_empty_names(args)
        return int(args.act(args))
    except BenchError as error:
        if args.debug:
            raise
        print(error, file=sys.stderr)
        return error.exit_code
    except KeyboardInterrupt:
        if args.command != "work":
            return INTERRUPTED
        print("Ended; the session is kept.", file=sys.stderr)
        return LEFT_OPEN
    except OSError as error:
        lost = streams.lost_output()
        if lost is not None:
            return streams.without_output(lost)
        if args.debug:
            raise
        if not error.filename:
            print(_internal(error), file=sys.stderr)
            return 2
        # A name that is too long, links in a ring, a folder that is none: about a file, and no fault of the program.
        what = f"This cannot be used ({error.strerror})."
        print(
            UsageError(what, mend="Check the name and its folder.", slug="file-unusable", where=str(error.filename)),
            file=sys.stderr,
        )
        return UsageError.exit_code
    except Exception as error:  # the last net: a person never sees a traceback
        # A full disk, or a pipe that was closed where a library of the sound card has turned SIGPIPE off.
        lost = streams.lost_output()
        if lost is not None:
            return streams.without_output(lost)
        if args.debug:
            raise
        print(_internal(error), file=sys.stderr)
        return 2


def entry() -> None:
    streams.prepare()
    code = main()
    lost = streams.lost_output()
    if lost is not None:
        code = streams.without_output(lost)
    with suppress(OSError):
        sys.stderr.flush()
    # Python would wait for a recogniser's thread that is in the middle of a sentence; all that counts is on disk.
    os._exit(code)


if __name__ == "__main__":
    entry()
