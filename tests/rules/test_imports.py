"""The import rules of DEVELOPERS.md, read from the source: who may use what. A breach fails by name and line."""

from __future__ import annotations

import ast
import sys
from collections.abc import Iterator
from graphlib import TopologicalSorter
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "bench_voice"

# package -> (project modules it may import, third-party libraries it may import). Its own modules are always allowed.
RULES: dict[str, tuple[set[str], set[str]]] = {
    "core": (set(), set()),
    "words": ({"core", "errors"}, {"pint", "ruamel"}),
    "reckon": ({"core", "words", "errors"}, {"numpy"}),
    "speech": ({"core", "words", "reckon", "errors"}, {"rapidfuzz"}),
    "phonetics": ({"words", "errors"}, {"rapidfuzz"}),
    "hearing": ({"core", "words", "speech", "phonetics", "errors", "ports"}, set()),
    "grammar": ({"core", "words", "speech", "errors"}, set()),
    # The voice of a sheet that is read aloud is a port.
    "sheets": (
        {"core", "words", "phonetics", "errors", "grammar", "ports", "plain_file"},
        {"pydantic", "pydantic_core", "ruamel"},
    ),
    "ports": ({"core"}, set()),
    "audio": (
        {"ports", "core", "errors", "words", "phonetics", "grammar", "own_file", "plain_file", "interrupts"},
        {"*"},
    ),
    "session": (
        {"core", "words", "phonetics", "speech", "hearing", "grammar", "ports", "errors", "plain_file"},
        {"pydantic", "filelock"},
    ),
    # A record words its quantities as the session does, and reads the sheet that stands in the journal's header.
    "records": (
        {"core", "words", "session", "speech", "sheets.load", "reckon", "errors", "own_file"},
        {
            "pydantic",
            "platformdirs",
            "jinja2",
            "icalendar",
            "sqlalchemy",
            "alembic",
            "psycopg",
            "soundfile",
            "markupsafe",
            "cryptography",
        },
    ),
    "rehearsal": (
        {"core", "words", "speech", "phonetics", "hearing", "sheets", "session", "ports", "errors", "audio", "config"},
        set(),
    ),
    "own_file": ({"errors", "plain_file"}, set()),
    # What every part may rest on: it rests on nothing.
    "plain_file": (set(), set()),
    "interrupts": (set(), set()),
    "offline": (set(), set()),
    "errors": (set(), set()),
}
# Libraries that one file alone may know.
ONE_FILE: dict[str, str | tuple[str, ...]] = {
    "sqlalchemy": "records/book/",
    "alembic": "records/book/",
    "jinja2": "records/template.py",
    "icalendar": "records/exports/calendar.py",
    "soundfile": "records/sound.py",
    "pint": "words/units.py",
    "rapidfuzz": ("speech/names.py", "phonetics/edits.py"),
    "filelock": "session/journal/lock.py",
    "cryptography": "records/signature.py",
    "pyttsx3": "audio/voice_pyttsx3.py",
    "sounddevice": "audio/",
    "pocketsphinx": "audio/",
    "ctranslate2": "audio/",
    "faster_whisper": "audio/",
    "vosk": "audio/",
}
# What the part that decides must never touch: clocks, randomness, files, logging, threads, the network, the process.
_NAMES = """
    asyncio datetime glob io logging multiprocessing os pathlib queue random secrets select shutil signal socket
    sqlite3 subprocess tempfile threading time urllib uuid
"""
IMPURE = set(_NAMES.split())
IMPURE_CALLS = {"open", "print", "input", "exec", "eval"}
PURE = ("core", "hearing")


def modules(package: str) -> list[Path]:
    folder = PACKAGE / package
    return sorted(folder.rglob("*.py")) if folder.is_dir() else [PACKAGE / f"{package}.py"]


def imports(path: Path) -> Iterator[tuple[int, str, bool]]:
    """(line, dotted module, whether it stands at the top of the file) of each import; relative ones made absolute."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    top = {id(node) for node in tree.body}
    here = path.relative_to(ROOT).with_suffix("").parts
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            for alias in node.names:
                yield node.lineno, alias.name, id(node) in top
        elif isinstance(node, ast.ImportFrom):
            base = ".".join(here[: -node.level]) if node.level else ""
            module = ".".join(filter(None, (base, node.module or "")))
            for alias in node.names:
                # `from bench_voice import core` imports a module; `from bench_voice.core.sheet import Step` does not.
                yield node.lineno, f"{module}.{alias.name}" if module == "bench_voice" else module, id(node) in top


def is_under(module: str, allowed: set[str]) -> bool:
    return any(module == name or module.startswith(f"{name}.") for name in allowed)


@pytest.mark.parametrize("package", RULES)
def test_imports_only_what_the_rules_allow(package: str) -> None:
    project, third_party = RULES[package]
    files = modules(package)
    assert files, f"bench_voice/{package} has no modules"
    breaches = []
    for path in files:
        for line, module, _ in imports(path):
            where = f"{path.relative_to(ROOT)}:{line}"
            name = module.split(".")[0]
            if name == "bench_voice":
                inner = module.partition(".")[2]
                if inner and not is_under(inner, project | {package}):
                    breaches.append(f"{where} imports bench_voice.{inner}")
            elif name not in sys.stdlib_module_names and "*" not in third_party and name not in third_party:
                breaches.append(f"{where} imports {name}")
    assert not breaches, "\n".join(breaches)


def _module_of(path: Path) -> str:
    return ".".join(path.relative_to(ROOT).with_suffix("").parts).removesuffix(".__init__")


@pytest.mark.parametrize("package", ["core", "words", "speech", "session"])
def test_no_module_is_imported_in_a_circle(package: str) -> None:
    """Imports inside of functions count: they hide a circle, they do not open it."""
    names = {_module_of(path) for path in modules(package)}
    used: dict[str, set[str]] = {}
    for path in modules(package):
        nodes = [
            node for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))) if isinstance(node, ast.ImportFrom)
        ]
        # `from bench_voice.core import cells` and `from bench_voice.core.cells import note`.
        found = {
            module for node in nodes for alias in node.names for module in (node.module, f"{node.module}.{alias.name}")
        }
        used[_module_of(path)] = {module for module in found if module in names} - {f"bench_voice.{package}"}
    assert sum(map(len, used.values())) > len(names) / 2, "imports were not read"
    TopologicalSorter(used).prepare()  # raises CycleError, which names the circle


@pytest.mark.parametrize("package", PURE)
def test_deciding_parts_do_no_input_or_output(package: str) -> None:
    breaches = []
    for path in modules(package):
        where = path.relative_to(ROOT)
        breaches += [f"{where}:{line} imports {m}" for line, m, _ in imports(path) if m.split(".")[0] in IMPURE]
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and isinstance(node.func, ast.Name) and node.func.id in IMPURE_CALLS:
                # `python -m bench_voice.core.table` prints the table for DEVELOPERS.md: only when run, never imported.
                if path.name == "table.py" and node.func.id == "print":
                    continue
                breaches.append(f"{where}:{node.lineno} calls {node.func.id}()")
    assert not breaches, "\n".join(breaches)


@pytest.mark.parametrize("library", ONE_FILE)
def test_a_library_is_known_to_one_place(library: str) -> None:
    users = {
        str(path.relative_to(PACKAGE))
        for path in PACKAGE.rglob("*.py")
        for _, module, _ in imports(path)
        if module.split(".")[0] == library
    }
    strangers = sorted(user for user in users if not user.startswith(ONE_FILE[library]))
    assert not strangers, f"{library} is imported by {', '.join(strangers)}; only {ONE_FILE[library]} may"


def test_audio_loads_engines_only_when_used() -> None:
    """Nothing heavy, and nothing that fails without a sound device, is loaded by importing an adapter."""
    early = [
        f"{path.relative_to(ROOT)}:{line} imports {module} at the top"
        for path in modules("audio")
        for line, module, is_top in imports(path)
        if is_top and module.split(".")[0] not in {*sys.stdlib_module_names, "bench_voice", "numpy"}
    ]
    assert not early, "\n".join(early)


def test_audio_files_know_one_engine_each() -> None:
    shared = {*sys.stdlib_module_names, "bench_voice", "numpy", "soxr"}
    crowded = []
    for path in modules("audio"):
        libraries = {module.split(".")[0] for _, module, _ in imports(path)} - shared
        # The small Whisper is one engine in three packages: the runtime, its features and its tokens.
        if libraries - {"ctranslate2", "faster_whisper", "tokenizers"} and len(libraries) > 1:
            crowded.append(f"{path.relative_to(ROOT)}: {', '.join(sorted(libraries))}")
    assert not crowded, "\n".join(crowded)


def import_table() -> str:
    """The rules as DEVELOPERS.md shows them."""
    rows = ["| room | may import of the project | libraries |", "|---|---|---|"]
    for package, (project, libraries) in RULES.items():
        third = "any, each in one file" if "*" in libraries else ", ".join(sorted(libraries))
        rows.append(f"| {package} | {', '.join(sorted(project)) or 'nothing'} | {third or 'none'} |")
    return "\n".join(rows)


def test_developers_shows_the_rules_that_are_enforced() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    shown = text.partition("<!-- imports:begin -->\n")[2].partition("\n<!-- imports:end -->")[0]
    assert shown == import_table(), "put this between the marks:\n" + import_table()


def test_every_room_is_named_in_developers_and_the_root_stays_small() -> None:
    text = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
    rooms = [path.parent.name for path in PACKAGE.glob("*/__init__.py")]
    modules_at_root = [path.name for path in PACKAGE.glob("*.py") if path.name != "__init__.py"]
    unnamed = [
        name for name in (*(f"{room}/" for room in rooms), *modules_at_root) if f"`bench_voice/{name}`" not in text
    ]
    assert not unnamed
    assert len(modules_at_root) <= 12


def test_nothing_imports_the_tests_or_the_demo() -> None:
    breaches = [
        f"{path.relative_to(ROOT)}:{line}"
        for path in PACKAGE.rglob("*.py")
        for line, module, _ in imports(path)
        if module.split(".")[0] in {"tests", "demo", "pytest", "hypothesis", "hibari", "num2words"}
    ]
    assert not breaches, "\n".join(breaches)
