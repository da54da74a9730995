"""What the documents say is so: every slug explained, every command listed, the README's commands run."""

from __future__ import annotations

import ast
import json
import os
import re
import shlex
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]
PACKAGE = ROOT / "bench_voice"
README = (ROOT / "README.md").read_text(encoding="utf-8")
# What a user reads for reference.
MANUAL = README + "".join(
    (ROOT / "docs" / f"{name}.md").read_text(encoding="utf-8")
    for name in ("command-line", "bench", "settings", "figures")
)
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text(encoding="utf-8")
MESSAGES = (ROOT / "docs" / "messages.md").read_text(encoding="utf-8")
SLUG = re.compile(r"[a-z]+(-[a-z0-9]+)+")
# First words of slugs that pass through helpers or tables, so that `slug=` does not show them.
HANDED_ON = {"ear", "journal", "language", "sheet", "sound", "voice"}
# Text constants that begin with such a word and are no slugs.
NOT_SLUGS = {"sheet-changed", "sound-check", "voice-lost", "voice-restarted"}


def documented() -> list[str]:
    return re.findall(r"^- `([a-z0-9-]+)`: ", MESSAGES, re.MULTILINE)


def slugs_in_code() -> dict[str, str]:
    """slug -> where. A slug is whatever is given as `slug=`, and every text constant of a family whose slugs are handed
    on through helpers and tables."""
    found: dict[str, str] = {}
    for path in sorted(PACKAGE.rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            value = node.value if isinstance(node, ast.keyword) and node.arg == "slug" else node
            if not isinstance(value, ast.Constant) or not isinstance(value.value, str):
                continue
            for slug in re.findall(r"\. \[([a-z-]+)\]$", value.value):  # printed in words, not raised
                found.setdefault(slug, f"{path.relative_to(ROOT)}:{value.lineno}")
            is_family = SLUG.fullmatch(value.value) and value.value.partition("-")[0] in HANDED_ON
            if isinstance(node, ast.keyword) or (is_family and value.value not in NOT_SLUGS):
                found.setdefault(value.value, f"{path.relative_to(ROOT)}:{value.lineno}")
    return found


def test_every_slug_in_the_code_is_explained() -> None:
    known = set(documented())
    missing = [f"{slug} ({where})" for slug, where in sorted(slugs_in_code().items()) if slug not in known]
    assert not missing, "docs/messages.md lacks: " + ", ".join(missing)


def test_every_explained_slug_is_in_the_code() -> None:
    code = slugs_in_code()
    stale = [slug for slug in documented() if slug not in code]
    assert not stale, "docs/messages.md explains what nothing prints: " + ", ".join(stale)


def test_no_slug_is_explained_twice() -> None:
    slugs = documented()
    assert sorted(set(slugs)) == sorted(slugs)


def bench_voice(*arguments: str, cwd: Path = ROOT) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "bench_voice.cli", *arguments]
    environment = {**os.environ, "PYTHONPATH": str(ROOT)}
    return subprocess.run(
        command, cwd=cwd, env=environment, capture_output=True, text=True, timeout=120, stdin=subprocess.DEVNULL
    )


def commands_in_help() -> list[str]:
    """The subcommands as `--help` lists them, one a line, four blanks in."""
    found = re.findall(r"^    ([a-z][a-z-]*)(?:\s|$)", bench_voice("--help").stdout, re.MULTILINE)
    assert found
    return found


def test_every_command_stands_in_the_readme() -> None:
    missing = [name for name in commands_in_help() if not re.search(rf"`bench-voice {name}\b", MANUAL)]
    assert not missing, f"the manual does not list: {missing}"


def test_every_command_of_the_readme_exists() -> None:
    named = set(re.findall(r"bench-voice ([a-z]+(?:-[a-z]+)*)", MANUAL))
    assert named <= set(commands_in_help())


def test_every_option_of_the_readme_exists() -> None:
    rows = re.findall(r"^\| `bench-voice ([a-z-]+)[^|]*\|([^\n]*)\|$", MANUAL, re.MULTILINE)
    assert rows
    for command, text in rows:
        help_text = bench_voice(command, "--help").stdout
        for option in re.findall(r"`(--[a-z-]+)", text):
            assert option in help_text, f"bench-voice {command} has no {option}"


def test_every_option_of_work_stands_in_the_readme() -> None:
    options = set(re.findall(r"(?<![\w-])--[a-z-]+", bench_voice("work", "--help").stdout)) - {"--help"}
    missing = sorted(option for option in options if f"`{option}" not in MANUAL)
    assert not missing, f"the manual does not explain: {missing}"


def test_every_environment_variable_and_ear_is_explained() -> None:
    from bench_voice.audio.factory import EARS

    code = "".join(path.read_text(encoding="utf-8") for path in PACKAGE.rglob("*.py"))
    variables = set(re.findall(r"\bBENCH_VOICE_[A-Z_]+\b", code))
    assert {"BENCH_VOICE_WHISPER_MODEL", "BENCH_VOICE_WHISPER_TINY_MODEL"} <= variables
    for text in (MANUAL, MESSAGES):
        assert not [name for name in variables if f"`{name}`" not in text]
    assert not [ear for ear in EARS if f"`{ear}`" not in MANUAL]


def shell_lines() -> list[str]:
    """Lines of the README's shell blocks, without comments."""
    blocks = re.findall(r"^```sh\n(.*?)^```", README, re.MULTILINE | re.DOTALL)
    lines = [line.split(" #")[0].strip() for block in blocks for line in block.splitlines()]
    return [line for line in lines if line and not line.startswith("#")]


def test_scripts_that_the_readme_names_can_be_run() -> None:
    scripts = {word for line in shell_lines() for word in shlex.split(line) if word in ("demo/run", "tests/run")}
    assert scripts == {"demo/run", "tests/run"}
    for script in scripts:
        assert os.access(ROOT / script, os.X_OK), f"{script} is not executable"


# Lines that install (tests/install), listen to a microphone or play the demo (tests/e2e, CI) are run elsewhere.
ELSEWHERE = re.compile(
    r"^(demo/run|tests/run|git |\.venv/bin/pip|python3? -m venv|PATH=|pip )|--live|work (?!.*--typed)"
)


@pytest.mark.parametrize("line", [line for line in shell_lines() if not ELSEWHERE.search(line)])
def test_readme_lines_run(line: str, tmp_path: Path) -> None:
    """Each goes through bash as it stands; the exit code is one of the table, and never a traceback."""
    path = f"{Path(sys.executable).parent}{os.pathsep}{os.environ['PATH']}"
    environment = {**os.environ, "PATH": path, "HOME": str(tmp_path), "XDG_DATA_HOME": str(tmp_path / "data")}
    done = subprocess.run(
        ["bash", "-c", line], cwd=ROOT, env=environment, capture_output=True, text=True, timeout=120, check=False
    )
    assert "Traceback" not in done.stderr, done.stderr
    # self-check says 4 where a machine has no sound device: that is its answer, not its failure.
    assert done.returncode in ((0, 4) if "self-check" in line else (0, 1, 10)), (
        f"{line}: exit {done.returncode}\n{done.stdout}\n{done.stderr}"
    )


def test_documented_files_exist() -> None:
    """Every path in back quotes that looks like one of this repository's."""
    for name, text in (("README.md", README), ("DEVELOPERS.md", DEVELOPERS)):
        paths = re.findall(r"`((?:bench_voice|tests|demo|grammars|docs|\.ci)/[\w./-]*)`", text)
        missing = [path for path in paths if not path.startswith("demo/out") and not (ROOT / path).exists()]
        assert not missing, f"{name} names what is not there: {missing}"


def test_table_in_developers_is_the_codes_own() -> None:
    drawn = subprocess.run(
        [sys.executable, "-m", "bench_voice.core.table"], cwd=ROOT, capture_output=True, text=True, check=True
    ).stdout.strip()
    found = re.search(r"<!-- table:begin -->\n(.*?)<!-- table:end -->", DEVELOPERS, re.DOTALL)
    assert found
    assert found.group(1).strip() == drawn, "renew it: DEVELOPERS.md says how"


def test_messages_say_what_exit_codes_the_readme_lists() -> None:
    from bench_voice import errors

    codes = {int(code) for code in re.findall(r"^\| (\d+) \|", MANUAL, re.MULTILINE)}
    classes = [value for value in vars(errors).values() if isinstance(value, type)]
    assert {c.exit_code for c in classes if issubclass(c, errors.BenchError)} <= codes
    assert {0, 1, 2, 3, 4, 5, 10, 130} == codes


def test_lock_pins_every_dependency_and_names_no_host() -> None:
    import tomllib

    lock = (ROOT / "requirements.lock").read_text(encoding="utf-8")
    lines = [line for line in lock.splitlines() if line and not line.startswith("#")]
    assert all(re.fullmatch(r"[A-Za-z0-9._-]+==[A-Za-z0-9.+]+", line) for line in lines)
    assert "://" not in lock
    pinned = {re.sub(r"[-_.]+", "-", line.split("==")[0]).lower() for line in lines}
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    wanted = [*project["dependencies"], *(d for extra in project["optional-dependencies"].values() for d in extra)]
    names = {re.sub(r"[-_.]+", "-", re.split(r"[<>=!~;\[ ]", d)[0]).lower() for d in wanted}
    assert names <= pinned, f"requirements.lock lacks {sorted(names - pinned)}"


def test_json_example_of_the_readme_has_the_keys_that_are_printed(tmp_path: Path) -> None:
    example = next(block for block in re.findall(r"^```json\n(.*?)^```", MANUAL, re.MULTILINE | re.DOTALL))
    sheet = "demo/trailer-hub-brake.yaml"
    shown = bench_voice("understand", "next", "--sheet", sheet, "--json").stdout.splitlines()
    assert set(json.loads(example)) <= set(json.loads(shown[0])), "the README's example has keys that are not printed"
