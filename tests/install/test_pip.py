"""The README's own lines that install, and the whole way of pip with everything fetched (heavy)."""

from __future__ import annotations

import os
import re
import subprocess
import sys
import venv
from pathlib import Path

import pytest
from install_build import ROOT, Built, clean_environment, lend

BLOCKS = re.findall(r"^```sh\n(.*?)^```", (ROOT / "README.md").read_text("utf-8"), re.MULTILINE | re.DOTALL)


def pip_lines() -> list[str]:
    """Each line that makes or fills an environment, and the one behind it that makes its commands known by name."""
    lines = [line for block in BLOCKS for line in block.splitlines()]
    return [line for line in lines if re.search(r"\bpip install\b|-m venv\b|\bPATH=", line)]


def test_the_readmes_pip_lines_run(checkout: Path, tmp_path: Path) -> None:
    """As they stand, one shell, in a copy of the checkout. pip is told by its own variables to fetch nothing and to
    build with what is here; the libraries are borrowed. Without that it is `test_a_fresh_environment`."""
    lines = pip_lines()
    assert any("pip install ." in line for line in lines)
    made = next(found for line in lines if (found := re.search(r"-m venv (\S+)", line)))
    offline = {
        "PIP_NO_DEPS": "1",
        "PIP_NO_INDEX": "1",
        "PIP_NO_BUILD_ISOLATION": "0",  # pip takes the value for that of build_isolation
        "PIP_DISABLE_PIP_VERSION_CHECK": "1",
    }
    # The libraries are lent between the first line and the second.
    (hook := tmp_path / "lend.py").write_text(
        f"import sys; sys.path.insert(0, {str(Path(__file__).parent)!r})\n"
        f"from pathlib import Path; from install_build import lend; lend(Path({made.group(1)!r}))\n",
        "utf-8",
    )
    python = f"{sys.executable} {hook}"
    script = "\n".join(line.replace(" && ", f" && {python} && ", 1) if "-m venv" in line else line for line in lines)
    assert python in script
    done = subprocess.run(
        ["bash", "-euc", f"{script}\ncommand -v bench-voice\nbench-voice understand next"],
        cwd=checkout,
        env={**clean_environment(tmp_path), **offline},
        capture_output=True,
        text=True,
        timeout=300,
        check=False,
    )
    assert done.returncode == 0, done.stdout + done.stderr
    assert str(checkout / made.group(1) / "bin" / "bench-voice") in done.stdout
    assert "means: next" in done.stdout


@pytest.mark.heavy
def test_a_fresh_environment(built: Built, tmp_path: Path) -> None:
    """Everything from the registry, at the versions of the lock: minutes, and half a gigabyte."""
    place = tmp_path / "env"
    venv.create(place, with_pip=True, symlinks=True)
    lock = ROOT / "requirements.lock"
    subprocess.run(
        [place / "bin" / "pip", "install", "-q", str(built.wheel), "-c", str(lock)], check=True, timeout=1500
    )
    listed = subprocess.run([place / "bin" / "pip", "check"], capture_output=True, text=True, check=False)
    assert listed.returncode == 0, listed.stdout
    environment = {**clean_environment(tmp_path), "PATH": f"{place / 'bin'}{os.pathsep}{os.environ['PATH']}"}
    done = subprocess.run(
        ["bench-voice", "self-check"], cwd=tmp_path, env=environment, capture_output=True, text=True, check=False
    )
    assert done.returncode in (0, 4), done.stderr
    for what in (
        "language en",
        "voice detector",
        "ear pocketsphinx",
        "ear whisper",
        "ear whisper-tiny",
        "ear moonshine",
    ):
        assert f"ok  {what}: " in done.stdout, done.stdout
