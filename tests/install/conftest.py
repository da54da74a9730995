"""bench-voice built from the tracked files and installed as a stranger would, outside of the checkout."""

from __future__ import annotations

import shutil
import subprocess
import sys
import tarfile
import venv
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).resolve().parent))

from install_build import ROOT, Built, Run, build, clean_environment, lend, tracked


@pytest.fixture(scope="session")
def checkout(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A copy of the tracked files, so that a build leaves nothing in the real ones."""
    folder = tmp_path_factory.mktemp("checkout")
    for path in tracked():
        (folder / path).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy2(ROOT / path, folder / path)
    return folder


@pytest.fixture(scope="session")
def built(checkout: Path, tmp_path_factory: pytest.TempPathFactory) -> Built:
    """An sdist, and a wheel that is made of nothing but the sdist."""
    place = tmp_path_factory.mktemp("built")
    sdist = build(checkout, "sdist", place / "sdist")
    with tarfile.open(sdist) as archive:
        archive.extractall(place / "unpacked", filter="data")
    (unpacked,) = (place / "unpacked").iterdir()
    return Built(unpacked, sdist, build(unpacked, "wheel", place / "wheel"))


@pytest.fixture(scope="session")
def stranger(built: Built, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """An environment with the wheel in it, libraries borrowed. What pip would fetch is left out (--no-deps)."""
    place = tmp_path_factory.mktemp("stranger") / "env"
    venv.create(place, with_pip=False, symlinks=True)
    (folder,) = place.glob("lib/python*/site-packages")
    pip = [sys.executable, "-m", "pip", "--python", str(place / "bin" / "python"), "install", "--quiet"]
    options = ["--no-deps", "--no-index", "--no-warn-script-location", "--disable-pip-version-check"]
    done = subprocess.run([*pip, *options, str(built.wheel)], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout + done.stderr
    lend(place)
    assert (folder / "bench_voice").is_dir()
    return place


@pytest.fixture
def bench_voice(stranger: Path, tmp_path: Path) -> Run:
    """`bench-voice ARGUMENTS` of that environment, in an empty folder and with an empty home."""
    home = tmp_path / "home"
    home.mkdir()

    def run(*arguments: str | Path, typed: str = "") -> subprocess.CompletedProcess[str]:
        command = [str(stranger / "bin" / "bench-voice"), *map(str, arguments)]
        return subprocess.run(
            command, cwd=tmp_path, env=clean_environment(home), input=typed, capture_output=True, text=True,
            timeout=180, check=False,
        )  # fmt: skip

    return run
