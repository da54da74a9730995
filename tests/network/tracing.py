"""A command under strace, in a network namespace without a route where that can be made: the system's own word for
which sockets were opened and which files were written, by whatever library."""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
# Calls that open a socket or change what is in a folder. Opening for reading is looked at too, and left out below.
_CALLS = (
    "network,open,openat,creat,mkdir,mkdirat,mknod,mknodat,rename,renameat,renameat2,link,linkat,symlink,symlinkat,"
    "unlink,unlinkat,rmdir,truncate"
)
# Devices and what the system keeps in memory alone: no file of anybody's.
HARMLESS = ("/dev/null", "/dev/tty", "/dev/snd/", "/dev/dsp", "/dev/shm/", "/dev/pts/", "/proc/", "/memfd:")
# Sound servers of this machine. Through any other local socket somebody else might ask the network in our name: the
# resolver's and the name service's among them.
LOCAL = re.compile(r"jack|pulse|pipewire")


@lru_cache
def prefix() -> tuple[tuple[str, ...], str]:
    """What goes before a command, and "" or why nothing can be traced here."""
    strace = shutil.which("strace")
    if strace is None:
        return (), "strace is not installed (Debian: apt-get install strace)"
    trace = (strace, "-f", "-qq", "-y", "-s", "4096", "-e", f"trace={_CALLS}")
    # As early as it can be: only the calls that are traced stop the process.
    for fast in (("--seccomp-bpf",), ()):
        command = [trace[0], *fast, *trace[1:], "-o", os.devnull, "true"]
        if subprocess.run(command, capture_output=True, check=False).returncode == 0:
            trace = (trace[0], *fast, *trace[1:])
            break
    else:
        return (), "strace may not trace here"
    unshare = shutil.which("unshare")
    if unshare and subprocess.run([unshare, "-n", "true"], capture_output=True, check=False).returncode == 0:
        return (unshare, "-n", *trace), ""
    return trace, ""


@dataclass(frozen=True)
class Traced:
    """`sockets`: calls about a socket that is neither local nor of the loopback. `written`: what was written, made or
    removed outside of the folders that were declared. `left`: files in home and temporary folder at the end."""

    code: int
    out: str
    err: str
    sockets: tuple[str, ...]
    written: tuple[str, ...]
    left: tuple[str, ...]
    n_calls: int


def run(command: list[str], folder: Path, declared: tuple[Path, ...], *, typed: str = "", limit_s: int = 300) -> Traced:
    """Runs `command` with a home and a temporary folder of its own below `folder`."""
    before, why_not = prefix()
    assert not why_not, why_not
    home, scratch, trace = folder / "home", folder / "tmp", folder / "trace"
    for one in (home, scratch):
        one.mkdir(parents=True)
    kept = {key: value for key, value in os.environ.items() if not key.startswith("XDG_")}
    environment = kept | {"HOME": str(home), "TMPDIR": str(scratch), "PYTHONDONTWRITEBYTECODE": "1"}
    done = subprocess.run(
        [*before, "-o", str(trace), *command],
        input=typed, capture_output=True, text=True, timeout=limit_s, cwd=folder, env=environment, check=False,
    )  # fmt: skip
    calls = _calls(trace)
    allowed = (*map(str, declared), str(scratch))
    return Traced(
        done.returncode,
        done.stdout,
        done.stderr,
        tuple(call for call in calls if is_outside(call)),
        tuple(path for path in (written_by(call, folder) for call in calls) if path and not _is_in(path, allowed)),
        tuple(str(path.relative_to(folder)) for one in (home, scratch) for path in one.rglob("*")),
        len(calls),
    )


def python(*arguments: str | Path) -> list[str]:
    return [sys.executable, *map(str, arguments)]


def _calls(trace: Path) -> list[str]:
    """Whole calls: one that another thread's came between stands on two lines."""
    begun: dict[str, str] = {}
    calls: list[str] = []
    for line in trace.read_text("utf-8", errors="replace").splitlines():
        pid, _, call = line.partition(" ")
        call = call.strip()
        if call.endswith("<unfinished ...>"):
            begun[pid] = call.removesuffix("<unfinished ...>")
        elif call.startswith("<... "):
            calls.append(begun.pop(pid, "") + call.partition(" resumed>")[2])
        elif "(" in call:
            calls.append(call)
    return calls + list(begun.values())  # a killed process' last words


def is_outside(call: str) -> bool:
    """Whether a call opens or uses a socket that can leave the machine, or a local one that is not a sound server's."""
    name = call.partition("(")[0]
    if name == "socket":
        # A loopback socket is told by its address: the families that have one are looked at when they are used.
        return not re.match(r"socket\((AF_UNIX|AF_LOCAL)\b", call)
    if name in ("connect", "sendto", "sendmsg", "bind"):
        if "sun_path" in call:
            return not LOCAL.search(call)
        if "sin_addr" in call or "sin6_addr" in call:
            return not re.search(r'inet_addr\("127\.|inet_pton\(AF_INET6, "::1"', call)
    return False


def written_by(call: str, folder: Path) -> str:
    """The path that a successful call writes to, makes, moves or removes; "" where it does none of these."""
    name = call.partition("(")[0]
    if re.search(r"= -1 E[A-Z]+", call) or name in ("socket", "connect", "sendto", "sendmsg", "bind"):
        return ""
    if name in ("open", "openat"):
        if not re.search(r"O_WRONLY|O_RDWR|O_CREAT|O_TRUNC", call):
            return ""
    elif not re.match(r"creat|mkdir|mknod|rename|link|symlink|unlink|rmdir|truncate", name):
        return ""
    texts = re.findall(r'"((?:[^"\\]|\\.)*)"', call)
    if not texts:
        return ""
    at = re.match(r"\w+\((?:AT_FDCWD|\d+)<([^>]*)>", call)
    return os.path.normpath(os.path.join(at[1] if at else folder, texts[-1]))


def _is_in(path: str, folders: tuple[str, ...]) -> bool:
    return path.startswith(HARMLESS) or any(path == one or path.startswith(f"{one}/") for one in folders)
