"""Nothing leaves the machine: no socket but local ones of the sound server, and no file outside of what was named.

The system is asked (strace), not the libraries. A library that reports would open a socket or keep a queue of reports
in the home folder: both are looked for. Run without `bench_voice.offline` each of these fails.
"""

from __future__ import annotations

from pathlib import Path

import pytest
from tracing import ROOT, Traced, is_outside, prefix, python, run, written_by

HERE = Path(__file__).resolve().parent
SHEET = HERE / "lamp.yaml"
CLI = ("-m", "bench_voice.cli")

pytestmark = pytest.mark.skipif(bool(prefix()[1]), reason=f"THE NETWORK TEST DID NOT RUN: {prefix()[1]}")


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder of recordings: `work.wav`, `next.wav`, and `from/1.wav` for a rehearsal."""
    from mechanic import Workshop, make_mechanic, write_wav

    folder = tmp_path_factory.mktemp("sound")
    (folder / "from").mkdir()
    voice, workshop = make_mechanic("formant"), Workshop()

    def say(path: Path, *lines: str) -> None:
        pcm = [workshop.around(voice.speak(f"{line.capitalize()}."), after_s=1.5) for line in lines]
        write_wav(path, b"".join([workshop.room(1.0), *pcm]))

    say(folder / "work.wav", "next", "confirm mains plug is pulled and locked")
    say(folder / "next.wav", "next")
    say(folder / "from" / "1.wav", "confirm mains plug is pulled and locked")
    return folder


def assert_offline(done: Traced, besides: tuple[str, ...] = ()) -> None:
    """`besides`: beginnings of what may be left behind."""
    assert done.n_calls > 100, f"the trace is empty, so it shows nothing: {done.err}"
    assert done.sockets == ()
    assert done.written == ()
    assert [path for path in done.left if not path.startswith(besides)] == []


def test_work_on_sound(sound: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    out.mkdir()
    sheet = ("work", SHEET, "--listen", sound / "work.wav", "--say-to", out / "said.wav", "--journal", out / "journal")
    done = run(python(*CLI, *sheet), tmp_path, (out,))
    assert done.code == 10, done.err
    assert "you: " in done.out, "nothing was heard"
    assert_offline(done)


def test_hear_with_every_ear(sound: Path, tmp_path: Path) -> None:
    done = run(python(*CLI, "hear", sound / "next.wav", "--json", "--explain"), tmp_path, ())
    for ear in ("pocketsphinx", "whisper", "whisper-tiny", "moonshine"):
        assert f'"ear": "{ear}"' in done.out, done.err
    assert_offline(done)


def test_rehearse(sound: Path, tmp_path: Path) -> None:
    out = tmp_path / "out"
    done = run(python(*CLI, "rehearse", SHEET, "--from", sound / "from", "--out", out), tmp_path, (out,))
    assert done.code in (0, 1), done.err
    assert (out / "001.wav").is_file()
    assert_offline(done)


def test_self_check(tmp_path: Path) -> None:
    # Looking for sound devices loads the system's sound library, which makes its own folder of settings.
    done = run(python(*CLI, "self-check"), tmp_path, (tmp_path / "home" / ".config",))
    assert done.code in (0, 4), done.err
    assert "ok  ear moonshine: works" in done.out
    assert_offline(done, ("home/.config", "tmp/pulse-"))


def test_the_demo(tmp_path: Path) -> None:
    """What demo/run plays, with a shorter script: a neural voice, and all ears through several processes."""
    out = tmp_path / "out"
    done = run(python(ROOT / "demo" / "play.py", "--script", HERE / "lamp-script.yaml", "--out", out), tmp_path, (out,))
    assert done.code == 0, done.out + done.err
    assert (out / "record.html").is_file()
    assert_offline(done)


def test_a_look_up_is_seen(tmp_path: Path) -> None:
    """The test itself: a name that is looked up, a packet, and a file in the home folder are found."""
    code = (
        "import socket, pathlib, contextlib\n"
        "with contextlib.suppress(OSError): socket.getaddrinfo('example.invalid', 443)\n"
        "with contextlib.suppress(OSError): socket.create_connection(('192.0.2.1', 9), 0.1)\n"
        "pathlib.Path.home().joinpath('device-id').write_text('x')\n"
    )
    done = run(python("-c", code), tmp_path, ())
    assert any("192.0.2.1" in call for call in done.sockets)
    assert any(call.startswith("socket(AF_INET") for call in done.sockets)
    assert done.written == (str(tmp_path / "home" / "device-id"),)
    assert done.left == ("home/device-id",)


@pytest.mark.parametrize(
    ("call", "is_seen"),
    [
        ("socket(AF_UNIX, SOCK_STREAM|SOCK_CLOEXEC, 0) = 3", False),
        ("socket(AF_INET6, SOCK_DGRAM, IPPROTO_IP) = 3", True),
        ("socket(AF_NETLINK, SOCK_RAW|SOCK_CLOEXEC, NETLINK_ROUTE) = 3", True),
        ('connect(4<UNIX:[7]>, {sa_family=AF_UNIX, sun_path="/run/user/0/pulse/native"}, 110) = 0', False),
        (
            'connect(4<UNIX:[7]>, {sa_family=AF_UNIX, sun_path="/run/systemd/resolve/io.systemd.Resolve"}, 110) = 0',
            True,
        ),
        ('connect(3, {sa_family=AF_INET, sin_port=htons(80), sin_addr=inet_addr("127.0.0.1")}, 16) = 0', False),
        (
            'connect(3, {sa_family=AF_INET, sin_port=htons(80), sin_addr=inet_addr("192.0.2.1")}, 16) = -1 EINPROGRESS',
            True,
        ),
    ],
)
def test_which_calls_are_outside(call: str, is_seen: bool) -> None:
    assert is_outside(call) is is_seen


@pytest.mark.parametrize(
    ("call", "path"),
    [
        ('openat(AT_FDCWD</w>, "a/b", O_WRONLY|O_CREAT|O_CLOEXEC, 0666) = 3</w/a/b>', "/w/a/b"),
        ('openat(AT_FDCWD</w>, "/etc/x", O_RDONLY|O_CLOEXEC) = 3</etc/x>', ""),
        ('openat(AT_FDCWD</w>, "/dev/dsp", O_WRONLY|O_NONBLOCK) = -1 ENOENT (No such file or directory)', ""),
        ('mkdir("/root/.cache/x", 0777) = 0', "/root/.cache/x"),
        ('rename("/w/a", "/w/b") = 0', "/w/b"),
    ],
)
def test_what_is_written(call: str, path: str) -> None:
    assert written_by(call, Path("/cwd")) == path
