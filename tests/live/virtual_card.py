"""A virtual sound card of two cables: "mech" carries the mechanic to the assistant's microphone, "out" the assistant's
voice to whoever listens. PulseAudio with null sinks in a home and run folder of its own; nothing of the machine's own
sound is touched. With `is_one_clock` both cables are the two channels of one null sink, so that a recording of both has
one sample clock.

PortAudio reaches it through ALSA's pulse plugin (libasound2-plugins). Everything is 16 kHz, mono, 16 bits.
"""

from __future__ import annotations

import contextlib
import os
import shutil
import signal
import subprocess
import tempfile
import threading
import time
from collections.abc import Mapping
from importlib import import_module
from pathlib import Path

RATE_HZ = 16_000
PROGRAMS = ("pulseaudio", "pactl", "pacat", "parec")
_SINK = "module-null-sink sink_name={name} rate=16000 channels=1 format=s16le"
_ONE_CLOCK = (
    "module-null-sink sink_name=cable rate=16000 channels=2 channel_map=front-left,front-right format=s16le",
    "module-remap-sink sink_name=mech master=cable channels=1 channel_map=mono master_channel_map=front-left remix=no",
    "module-remap-sink sink_name=out master=cable channels=1 channel_map=mono master_channel_map=front-right remix=no",
    "module-remap-source source_name=ear master=cable.monitor channels=1 channel_map=mono"
    " master_channel_map=front-left remix=no",
)
_START_S = 10.0


def missing() -> str:
    """What the virtual card lacks here, empty when nothing."""
    lacks = [name for name in PROGRAMS if shutil.which(name) is None]
    if not list(Path("/usr/lib").glob("*/alsa-lib/libasound_module_pcm_pulse.so")):
        lacks.append("libasound2-plugins")
    try:
        import_module("sounddevice")  # that there is a package of it doesn't mean that it finds its library
    except (OSError, ImportError):
        lacks.append("libportaudio2")
    if not lacks:
        return ""
    packages = "pulseaudio pulseaudio-utils libasound2-plugins libportaudio2"
    return f"the virtual sound card needs {', '.join(lacks)} (Debian: apt-get install {packages})"


class VirtualCard:
    """Use as a context. `environment`: for the programs that are to use it."""

    def __init__(self, *, is_one_clock: bool = False) -> None:
        self.source = "ear" if is_one_clock else "mech.monitor"
        self._modules = _ONE_CLOCK if is_one_clock else (_SINK.format(name="mech"), _SINK.format(name="out"))
        self._folder = Path(tempfile.mkdtemp(prefix="bench-card-"))
        self.home, self._run = self._folder / "home", self._folder / "run"
        self.home.mkdir()
        self._run.mkdir(mode=0o700)
        (self.home / ".asoundrc").write_text("pcm.!default { type pulse }\nctl.!default { type pulse }\n")
        self.environment: dict[str, str] = {
            **os.environ,
            "HOME": str(self.home),
            "XDG_RUNTIME_DIR": str(self._run),
            "XDG_CONFIG_HOME": str(self.home / ".config"),
            "XDG_STATE_HOME": str(self.home / ".state"),
        }
        for name in ("PULSE_SERVER", "PULSE_RUNTIME_PATH", "DBUS_SESSION_BUS_ADDRESS"):
            self.environment.pop(name, None)
        self._server: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> VirtualCard:
        self.start()
        return self

    def __exit__(self, *_: object) -> None:
        self.stop()
        shutil.rmtree(self._folder, ignore_errors=True)

    def start(self) -> None:
        """Starts the server with both cables."""
        command = [
            "pulseaudio",
            "-n",
            "--daemonize=no",
            "--exit-idle-time=-1",
            "--log-target=stderr",
            "--log-level=error",
        ]
        for module in ("module-native-protocol-unix", *self._modules):
            command += ["-L", module]
        self._server = subprocess.Popen(command, env=self.environment, stderr=subprocess.DEVNULL)
        end = time.monotonic() + _START_S
        while time.monotonic() < end:
            if self._server.poll() is not None:
                break
            if self.pactl("set-default-source", self.source) and self.pactl("set-default-sink", "out"):
                return
            threading.Event().wait(0.05)
        raise RuntimeError("the virtual sound card did not start")

    def stop(self) -> None:
        """Ends the server as an unplugged card does: without a word."""
        server, self._server = self._server, None
        if server is not None:
            server.send_signal(signal.SIGKILL)
            server.wait()
        for socket in self._run.rglob("native"):
            with contextlib.suppress(OSError):
                socket.unlink()
        for pid in self._run.rglob("pid"):
            with contextlib.suppress(OSError):
                pid.unlink()

    def unplug(self, name: str) -> None:
        """Takes one cable away."""
        listed = subprocess.run(
            ["pactl", "list", "short", "modules"], env=self.environment, capture_output=True, text=True, check=True
        ).stdout
        for line in listed.splitlines():
            if f"sink_name={name} " in line:
                self.pactl("unload-module", line.split()[0])

    def plug(self, name: str) -> None:
        """Puts it back, as the default again."""
        self.pactl("load-module", *_SINK.format(name=name).split())
        self.pactl(*(("set-default-source", self.source) if name == "mech" else ("set-default-sink", "out")))

    def pactl(self, *arguments: str) -> bool:
        done = subprocess.run(
            ["pactl", *arguments],
            env=self.environment,
            stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
            timeout=10,
        )
        return done.returncode == 0

    def player(self, sink: str = "mech") -> subprocess.Popen[bytes]:
        """A process that plays what is written to its standard input."""
        command = ["pacat", "--playback", f"--device={sink}", *_FORMAT, "--latency-msec=40"]
        return subprocess.Popen(
            command, env=self.environment, stdin=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=0
        )

    def recorder(self, source: str, channels: int = 1) -> subprocess.Popen[bytes]:
        """A process that writes what goes over a cable to its standard output, sample for sample."""
        shape = (f"--rate={RATE_HZ}", f"--channels={channels}", "--format=s16le")
        command = ["parec", f"--device={source}", *shape, "--latency-msec=20"]
        return subprocess.Popen(
            command, env=self.environment, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, bufsize=0
        )


_FORMAT = (f"--rate={RATE_HZ}", "--channels=1", "--format=s16le")


def with_path(environment: Mapping[str, str], root: Path) -> dict[str, str]:
    """The environment with the project importable."""
    return {**environment, "PYTHONPATH": str(root)}
