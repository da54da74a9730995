"""Ctrl-C at the very moment at which a module is imported: the one that BENCH_VOICE_TEST_AT names."""

from __future__ import annotations

import os
import signal
import sys

_AT = os.environ.get("BENCH_VOICE_TEST_AT")


def _press(event: str, arguments: tuple[object, ...]) -> None:
    global _AT
    if event == "import" and arguments[0] == _AT:
        _AT = None
        os.kill(os.getpid(), signal.SIGINT)


if _AT:
    sys.addaudithook(_press)
