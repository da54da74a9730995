"""A PostgreSQL server of our own for a test run: Debian's package, a new cluster in a temporary folder, no network.

`tests/run` installs it where it may. A server refuses to run as root: then it is run as the package's own user.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
from pathlib import Path

USER = "postgres"


def binaries() -> Path | None:
    """Where the newest installed server is; None without one, and where root has no user to run it as."""
    found = sorted(Path("/usr/lib/postgresql").glob("*/bin/postgres"), key=lambda p: int(p.parts[-3]))
    if not found or (os.geteuid() == 0 and (not shutil.which("runuser") or not _has_user())):
        return None
    return found[-1].parent


def _has_user() -> bool:
    import pwd

    try:
        pwd.getpwnam(USER)
    except KeyError:
        return False
    return True


class Server:
    """`url`: an empty database on it. It can be killed and started again, and then has what it had on disk."""

    def __init__(self) -> None:
        bin_ = binaries()
        assert bin_ is not None
        self._bin = bin_
        # Not under pytest's folder, which another user may not enter; and a socket's path is at most 107 bytes.
        self.folder = Path(tempfile.mkdtemp(prefix="bench-pg-"))
        self._as = []
        if os.geteuid() == 0:
            shutil.chown(self.folder, USER)
            self._as = ["runuser", "-u", USER, "--"]
        self._data = self.folder / "data"
        self._run(
            "initdb", "-D", str(self._data), "-A", "trust", "-U", "bench", "--no-sync", "-E", "UTF8", "--locale", "C"
        )
        self.start()
        self._databases = 0

    def _run(self, name: str, *args: str) -> None:
        subprocess.run([*self._as, str(self._bin / name), *args], check=True, capture_output=True, cwd="/")

    def start(self) -> None:
        # A killed server leaves its lock file; pg_ctl tells a stale one from a living server.
        # Without fsync a power cut would cost data; what is killed here are processes.
        options = f"-k {self.folder} -c listen_addresses= -c max_connections=40 -c fsync=off"
        self._run(
            "pg_ctl", "-D", str(self._data), "-o", options, "-l", str(self.folder / "log"), "-w", "-t", "60", "start"
        )

    def kill(self) -> None:
        """As a power cut does: the server and all its children at once."""
        pid = int((self._data / "postmaster.pid").read_text().split()[0])
        children = subprocess.run(
            ["ps", "-o", "pid=", "--ppid", str(pid)], capture_output=True, text=True
        ).stdout.split()
        for one in (pid, *map(int, children)):
            try:
                os.kill(one, signal.SIGKILL)
            except ProcessLookupError:
                continue
        # Where nobody takes leave of dead processes (a container's first one may not), its number looks alive.
        for stale in (self._data / "postmaster.pid", *self.folder.glob(".s.PGSQL.*")):
            stale.unlink(missing_ok=True)

    def new_database(self) -> str:
        """The address of an empty database."""
        self._databases += 1
        name = f"book{self._databases}"
        self._run("createdb", "-h", str(self.folder), "-U", "bench", name)
        return f"postgresql://bench@/{name}?host={self.folder}"

    def stop(self) -> None:
        with contextlib.suppress(subprocess.CalledProcessError):  # it was killed
            self._run("pg_ctl", "-D", str(self._data), "-m", "immediate", "stop")
        shutil.rmtree(self.folder, ignore_errors=True)
