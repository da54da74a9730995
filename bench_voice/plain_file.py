"""Opening what a person names as a file. What is none (a named pipe, a device, a folder) is refused and not waited for:
a pipe that nobody writes to would stop the command for good, and a device may never end."""

from __future__ import annotations

import errno
import os
import stat
from pathlib import Path
from typing import BinaryIO

NO_FILE = "it is a pipe, a device or a socket and no file"


def open_plain(path: Path) -> BinaryIO:
    """For reading, from its first byte. Raises OSError, its `strerror` in words, for what is no file, for a path that
    no file can have (U+0000 in it, too long, links in a ring), and for what the system refuses."""
    try:
        # Without waiting: a pipe opens at once that way, so that it can be looked at. Files don't know the difference.
        handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    except ValueError:
        raise OSError(errno.EINVAL, "the name holds a character that no file name has", str(path)) from None
    try:
        mode = os.fstat(handle).st_mode
        if stat.S_ISDIR(mode):
            raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
        if not stat.S_ISREG(mode):
            raise OSError(errno.ESPIPE, NO_FILE, str(path))
        return os.fdopen(handle, "rb")
    except BaseException:
        os.close(handle)
        raise
