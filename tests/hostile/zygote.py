"""Starts the command line many times from one process that has loaded it: a fork a start, with streams, environment and
folder of its own. What a start of Python costs (0.2 s) is paid once for some hundreds of cases.

Reads one JSON object a line and answers with one. `python zygote.py` is started by the tests; see `starter.py`.
"""

from __future__ import annotations

import gc
import io
import json
import os
import resource
import signal
import sys
import time
from typing import IO, Any

MOST_BYTES = 3_000_000_000  # of address space: what is read without end fails, and not the machine


def _stream(number: int, mode: str, encoding: str, errors: str) -> IO[str] | None:
    """As Python makes its own at the start: none where the number is closed."""
    try:
        os.fstat(number)
    except OSError:
        return None
    return open(number, mode, encoding=encoding, errors=errors, closefd=False)


def _child(case: dict[str, Any]) -> None:
    # Not at the limit of the machine, but where a test ends.
    resource.setrlimit(resource.RLIMIT_AS, (MOST_BYTES, MOST_BYTES))
    os.chdir(case["folder"])
    if case.get("is_folder_gone"):
        os.rmdir(case["folder"])
    os.environ.clear()
    os.environ.update(case["environment"])
    for number, name in enumerate(("stdin", "stdout", "stderr")):
        if case[name] is None:
            os.close(number)
        else:
            flags = os.O_RDONLY if number == 0 else os.O_WRONLY | os.O_CREAT | os.O_TRUNC
            handle = os.open(case[name], flags, 0o600)
            os.dup2(handle, number)
            os.close(handle)
    encoding = case["encoding"]
    sys.stdin = _stream(0, "r", encoding, "strict")
    sys.stdout = _stream(1, "w", encoding, "strict")
    sys.stderr = _stream(2, "w", encoding, "backslashreplace")
    sys.argv = ["bench-voice", *map(os.fsdecode, map(bytes.fromhex, case["arguments"]))]
    from bench_voice import cli

    cli.entry()


def _wait(pid: int, limit_s: float) -> int | str:
    """The exit code; "hangs" where it had to be killed; the signal that ended it."""
    end = time.monotonic() + limit_s
    while time.monotonic() < end:
        done, status = os.waitpid(pid, os.WNOHANG)
        if done:
            code = os.waitstatus_to_exitcode(status)
            return code if code >= 0 else signal.Signals(-code).name
        time.sleep(0.002)  # a process cannot be waited for with a limit in any other way that every system has
    os.kill(pid, signal.SIGKILL)
    os.waitpid(pid, 0)
    return "hangs"


def _load(sheet: str, scratch: str) -> None:
    """What the commands import when they need it, by running them once; none of these starts a thread or a process."""
    from bench_voice import cli

    nothing = f"{scratch}/nothing"
    for line in (
        ["work", sheet, "--typed", "--mute", "--journal", f"{scratch}/warm"],
        ["check", sheet, "--page", f"{scratch}/page.html"],
        ["start-sheet"],
        ["understand", "next", "--sheet", sheet],
        ["hear", nothing],
        ["rehearse", sheet, "--list"],
        ["rehearse", sheet, "--from", nothing, "--out", f"{scratch}/takes"],
        ["reckon", "ten millimetres in inches"],
        ["verify", nothing],
        ["record", nothing],
        ["logbook", "--journal", f"{scratch}/warm"],
    ):
        sys.stdin, sys.stdout, sys.stderr = io.StringIO("next\n"), io.StringIO(), io.StringIO()
        cli.main(line)
    sys.stdin, sys.stdout, sys.stderr = sys.__stdin__, sys.__stdout__, sys.__stderr__


def main() -> None:
    os.environ["XDG_CONFIG_HOME"] = os.environ["XDG_STATE_HOME"] = sys.argv[2]
    _load(sys.argv[1], sys.argv[2])
    gc.freeze()  # so that a fork copies less
    answers = os.fdopen(os.dup(1), "w")
    for line in sys.stdin:
        case = json.loads(line)
        pid = os.fork()
        if pid == 0:
            try:
                _child(case)
            except SystemExit as end:  # argparse
                sys.stderr.flush()
                os._exit(end.code if isinstance(end.code, int) else 1)
            except BaseException:
                import traceback

                traceback.print_exc()
                os._exit(99)
        print(json.dumps(_wait(pid, case["limit_s"])), file=answers, flush=True)


if __name__ == "__main__":
    main()
