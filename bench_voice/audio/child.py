"""A worker in a process of its own, watched: what hangs or crashes there is ended and costs one call.

Own pipes instead of `multiprocessing`: its spawned child runs the caller's main script again, which costs 0.3 s and
50 MB for nothing. The child imports only what its factory imports. Messages are pickles between the two processes of
one program; nothing else can write to these pipes.
"""

from __future__ import annotations

import contextlib
import functools
import importlib
import os
import pickle
import queue
import signal
import subprocess
import sys
import threading
from collections.abc import Callable
from pathlib import Path
from typing import IO, Any

from bench_voice import errors
from bench_voice.errors import BenchError, EngineError
from bench_voice.interrupts import held_back

_LONGEST_CALL_S = 120
# A hanging decoder burns its whole limit; one that gets no processor on a crowded machine is slow, not hanging. Such
# a child is waited for so many times its limit before it is ended all the same.
_STARVED_TURNS = 5


class ChildLost(Exception):
    """The child hung past its limit or died; it has been ended, and the next call starts another."""

    def __init__(self, why: str, has_timed_out: bool) -> None:
        super().__init__(why)
        self.has_timed_out = has_timed_out


class WatchedChild:
    """Calls methods of one object that lives in a child process. For one thread at a time; `close` from any.

    `factory`: "package.module:callable" and its plain `arguments`. `limit_s`: longest time for a call,
    `start_limit_s`: for start and loading. A BenchError raised there is raised here again.
    """

    def __init__(
        self, factory: str, arguments: tuple[object, ...] = (), *, limit_s: float = 2.0, start_limit_s: float = 30.0
    ) -> None:
        self._factory, self._arguments = factory, arguments
        self._limit_s, self._start_limit_s = limit_s, start_limit_s
        self._process: subprocess.Popen[bytes] | None = None
        self._answers: queue.SimpleQueue[tuple[str, Any]] = queue.SimpleQueue()
        self._is_ready = False
        self.starts = 0

    @property
    def pid(self) -> int | None:
        """The child's process id while it lives."""
        return self._process.pid if self._process else None

    def start(self) -> None:
        """Starts the child and returns at once; it loads meanwhile. Does nothing while one lives."""
        if self._process is not None and self._process.poll() is None:
            return
        root = str(Path(__file__).resolve().parents[2])
        paths = [root, *filter(None, [os.environ.get("PYTHONPATH")])]
        environment = {**os.environ, "PYTHONPATH": os.pathsep.join(paths)}
        with held_back():
            self._process = subprocess.Popen(
                [sys.executable, "-c", "from bench_voice.audio.child import serve; serve()"],
                stdin=subprocess.PIPE,
                stdout=subprocess.PIPE,
                env=environment,
            )
        self.starts += 1
        self._is_ready = False
        self._answers = queue.SimpleQueue()
        assert self._process.stdout is not None
        reader = threading.Thread(target=_read_all, args=(self._process.stdout, self._answers), daemon=True)
        reader.start()
        self._send((self._factory, self._arguments))

    def wait_ready(self) -> None:
        """Until the object there is made. Raises ChildLost, or the BenchError that making it raised."""
        self.start()
        if not self._is_ready:
            self._answer(self._start_limit_s)
            self._is_ready = True

    def call(self, method: str, *arguments: object, limit_s: float | None = None) -> Any:
        """The method's result. Raises ChildLost; a BenchError from there; EngineError `child-error` for others."""
        self.wait_ready()
        self._send((method, arguments))
        return self._answer(limit_s or self._limit_s)

    def close(self) -> None:
        """Ends the child. It has nothing to save, so at once."""
        process, self._process = self._process, None
        self._is_ready = False
        if process is None:
            return
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout):
            if pipe is not None:
                with contextlib.suppress(OSError):
                    pipe.close()

    def _send(self, message: object) -> None:
        assert self._process is not None
        assert self._process.stdin is not None
        try:
            _write(self._process.stdin, message)
        except OSError:
            self.close()
            raise ChildLost("the worker ended", has_timed_out=False) from None

    def _answer(self, limit_s: float) -> Any:
        assert self._process is not None
        before_s = _cpu_s(self._process.pid)
        for turn in range(_STARVED_TURNS):
            try:
                how, value = self._answers.get(timeout=limit_s)
                break
            except queue.Empty:
                used_s = _cpu_s(self._process.pid) - before_s
                if turn == _STARVED_TURNS - 1 or used_s >= limit_s / 2 or not _is_crowded():
                    self.close()
                    raise ChildLost(f"no answer within {limit_s:g} s", has_timed_out=True) from None
        if how == "ok":
            return value
        if how == "gone":
            self.close()
            raise ChildLost("the worker ended", has_timed_out=False)
        name, what, mend, slug, where = value
        kind = getattr(errors, name, EngineError)
        raise kind(what, mend=mend, slug=slug, where=where)


def _cpu_s(pid: int) -> float:
    """Processor time that the process has used; 0 where the system doesn't tell."""
    try:
        fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")
    except (OSError, ValueError, IndexError, AttributeError):
        return 0.0


def _is_crowded() -> bool:
    """Whether more wants to run than there are processors."""
    try:
        return os.getloadavg()[0] > (os.cpu_count() or 1)
    except (OSError, AttributeError):
        return False


def _write(pipe: IO[bytes], message: object) -> None:
    body = pickle.dumps(message)
    pipe.write(len(body).to_bytes(4, "little") + body)
    pipe.flush()


def _read(pipe: IO[bytes]) -> Any:
    """One message; raises EOFError at the end."""
    head = pipe.read(4)
    if len(head) < 4:
        raise EOFError
    size = int.from_bytes(head, "little")
    body = pipe.read(size)
    if len(body) < size:
        raise EOFError
    return pickle.loads(body)


def _read_all(pipe: IO[bytes], answers: queue.SimpleQueue[tuple[str, Any]]) -> None:
    try:
        while True:
            answers.put(_read(pipe))
    except (EOFError, OSError, ValueError):  # ValueError: the pipe was closed here
        answers.put(("gone", None))


def serve() -> None:
    """The child's whole life: make the object, answer calls, end when the parent's pipe ends."""
    # Libraries print to standard output ("Audio saved to …"); that must not get between the messages.
    answers = os.fdopen(os.dup(1), "wb")
    os.dup2(2, 1)
    questions = sys.stdin.buffer
    with contextlib.suppress(EOFError, BrokenPipeError, KeyboardInterrupt):
        factory, arguments = _read(questions)
        made: list[Any] = []

        def make() -> None:
            module, _, name = factory.partition(":")
            made.append(getattr(importlib.import_module(module), name)(*arguments))

        _guarded(answers, make)
        while made:
            method, arguments = _read(questions)
            _guarded(answers, functools.partial(_invoke, made[0], method, arguments))


def _invoke(made: object, method: str, arguments: tuple[object, ...]) -> object:
    return getattr(made, method)(*arguments)


def _guarded(answers: IO[bytes], call: Callable[[], object]) -> None:
    # The parent ends a child that hangs. If the parent was killed meanwhile, the alarm's default action does.
    has_alarm = hasattr(signal, "alarm")
    if has_alarm:
        signal.alarm(_LONGEST_CALL_S)
    try:
        result = ("ok", call())
    except BenchError as error:
        result = ("error", (type(error).__name__, error.what, error.mend, error.slug, error.where))
    except Exception as error:  # whatever a library raises; the parent decides
        what = f"A worker failed: {type(error).__name__}: {error}."
        mend = "Try again; run bench-voice self-check if it stays."
        result = ("error", ("EngineError", what, mend, "child-error", ""))
    if has_alarm:
        signal.alarm(0)
    _write(answers, result)


class Sleeper:
    """For tests: a worker that answers, hangs, or dies when told."""

    def echo(self, value: object) -> object:
        return value

    def hang(self) -> None:
        threading.Event().wait()

    def die(self) -> None:
        os._exit(3)
