"""Keys on a pseudo-terminal, a named pipe, and bytes as an input device sends them (linux/input.h)."""

from __future__ import annotations

import os
import queue
import struct
from pathlib import Path

import pytest

from bench_voice.errors import UsageError
from bench_voice.session.keys import Keys, open_keys

termios = pytest.importorskip("termios", reason="key by key needs a POSIX terminal")


@pytest.fixture
def pressed() -> queue.SimpleQueue[tuple[str, bool]]:
    return queue.SimpleQueue()


def test_a_terminal_is_read_key_by_key_and_given_back(pressed: queue.SimpleQueue[tuple[str, bool]]) -> None:
    import pty

    master, slave = pty.openpty()
    before = termios.tcgetattr(slave)
    keys = Keys(slave, lambda sign, is_press: pressed.put((sign, is_press)))
    os.write(master, b" r")  # no Enter
    assert [pressed.get(timeout=5), pressed.get(timeout=5)] == [(" ", True), ("r", True)]
    keys.close()
    assert termios.tcgetattr(slave) == before
    os.close(master)
    os.close(slave)


def test_a_named_pipe(tmp_path: Path, pressed: queue.SimpleQueue[tuple[str, bool]]) -> None:
    pipe = tmp_path / "pedal"
    os.mkfifo(pipe)
    keys = open_keys(str(pipe), lambda sign, is_press: pressed.put((sign, is_press)))
    assert keys is not None
    for _ in range(2):  # whoever writes may come and go
        with pipe.open("w") as writer:
            writer.write("x")
        assert pressed.get(timeout=5) == ("x", True)
    keys.close()


def test_an_input_device_tells_press_and_release(pressed: queue.SimpleQueue[tuple[str, bool]]) -> None:
    reading, writing = os.pipe()
    keys = Keys(reading, lambda sign, is_press: pressed.put((sign, is_press)), is_device=True, owns_fd=True)
    event = struct.Struct("llHHi")  # time, type, code, value
    os.write(writing, event.pack(0, 0, 4, 4, 9) + event.pack(0, 0, 1, 57, 1) + event.pack(0, 0, 1, 57, 2))
    os.write(writing, event.pack(0, 0, 1, 57, 0))
    assert [pressed.get(timeout=5), pressed.get(timeout=5)] == [("pedal", True), ("pedal", False)]
    os.close(writing)  # unplugged: the thread ends by itself
    keys.close()


def test_a_pedal_that_cannot_be_read_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(UsageError, match=r"No such file.*group input.*\[keys-unreadable\]$"):
        open_keys(str(tmp_path / "none"), lambda sign, is_press: None)
