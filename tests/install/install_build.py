"""Building bench-voice from the tracked files and installing it outside of the checkout."""

from __future__ import annotations

import os
import site
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
_BUILD = "from setuptools import build_meta; build_meta.build_{what}({out!r})"


def tracked() -> list[Path]:
    """Files of the project, as git knows them, new ones that are not ignored too."""
    command = ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"]
    listed = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True).stdout
    return sorted(Path(name) for name in listed.split("\0") if name and (ROOT / name).is_file())


def build(source: Path, what: str, out: Path) -> Path:
    """By the build backend that pyproject.toml names, which is installed here: nothing is fetched."""
    out.mkdir()
    code = _BUILD.format(what=what, out=str(out))
    done = subprocess.run([sys.executable, "-c", code], cwd=source, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    (made,) = out.iterdir()
    return made


@dataclass(frozen=True)
class Built:
    source: Path
    sdist: Path
    wheel: Path


def borrowed() -> str:
    """A .pth line for each folder with the libraries of this environment, so that they need not be fetched again. The
    editable bench-voice is not borrowed: Python does not read .pth files of such a folder."""
    return "".join(f"{folder}\n" for folder in site.getsitepackages())


def lend(environment: Path) -> None:
    (folder,) = environment.glob("lib/python*/site-packages")
    (folder / "borrowed.pth").write_text(borrowed(), "utf-8")


def clean_environment(home: Path) -> dict[str, str]:
    """Nothing of the developer's: another home, no PYTHONPATH, no BENCH_VOICE_ variable."""
    kept = {
        name: value
        for name, value in os.environ.items()
        if not name.startswith(("BENCH_VOICE_", "XDG_", "PYTHON")) and name != "VIRTUAL_ENV"
    }
    return {**kept, "HOME": str(home)}


Run = Callable[..., subprocess.CompletedProcess[str]]
