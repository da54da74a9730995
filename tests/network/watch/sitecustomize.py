"""Python imports this by itself where its folder is on the path, in every process: it writes down which libraries that
can open a socket are imported, by whom, and every use of a socket that Python knows of."""

from __future__ import annotations

import os
import sys

_NAMES = """
    socket _socket ssl _ssl http.client http.server urllib.request ftplib smtplib imaplib poplib telnetlib nntplib
    xmlrpc.client socketserver asyncio asyncio.base_events requests urllib3 httpx httpcore aiohttp websockets h2 anyio
    trio pycurl grpc zmq huggingface_hub hf_xet hf_transfer fsspec sentry_sdk posthog opentelemetry boto3 paramiko
"""
LIBRARIES = frozenset(_NAMES.split())


def _watch(event: str, arguments: tuple[object, ...]) -> None:
    if event == "import" and arguments[0] in LIBRARIES:
        line = f"import {arguments[0]} {_importer()}"
    elif event.startswith(("socket.", "urllib.", "http.", "ftplib.", "smtplib.")):
        line = f"{event} {arguments[1:]!r}"
    else:
        return
    handle = os.open(os.environ["BENCH_VOICE_TEST_WATCH"], os.O_WRONLY | os.O_CREAT | os.O_APPEND)
    os.write(handle, line.encode(errors="replace") + b"\n")
    os.close(handle)


def _importer() -> str:
    """The module whose import statement it is, and before it those that led there, outermost first."""
    names = []
    frame = sys._getframe(2)
    while frame is not None:
        name = frame.f_globals.get("__name__", "")
        if not name.startswith(("importlib", "_frozen_importlib", "sitecustomize")) and name not in names[-1:]:
            names.append(name)
        frame = frame.f_back
    return " < ".join(names)


if "BENCH_VOICE_TEST_WATCH" in os.environ:
    sys.addaudithook(_watch)
