"""The folder of `bench-voice logbook`: one that was named and cannot be read is said, the usual one may be missing."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from bench_voice import cli, config

Shown = pytest.CaptureFixture[str]


def told(folder: Path, shown: Shown) -> str:
    assert cli.main(["logbook", "--journal", str(folder)]) == 5
    out, err = shown.readouterr()
    assert out == ""
    assert err.startswith(f"{folder}: ")
    assert err.endswith("[journal-unreadable]\n")
    return err


def test_a_missing_folder_and_a_file_are_no_folder_of_journals(tmp_path: Path, capsys: Shown) -> None:
    assert "No such file" in told(tmp_path / "none", capsys)
    (tmp_path / "file").write_text("x")
    assert "Not a directory" in told(tmp_path / "file", capsys)


@pytest.mark.skipif(os.geteuid() == 0, reason="root may read every folder")
def test_a_folder_that_may_not_be_read_is_told(tmp_path: Path, capsys: Shown) -> None:
    (tmp_path / "closed").mkdir(mode=0)
    assert "Permission denied" in told(tmp_path / "closed", capsys)


def test_an_empty_folder_and_the_usual_one_before_its_first_session_have_no_sessions(
    tmp_path: Path, capsys: Shown, monkeypatch: pytest.MonkeyPatch
) -> None:
    assert cli.main(["logbook", "--journal", str(tmp_path)]) == 0
    monkeypatch.setattr(config, "load", lambda: config.Config(journal=tmp_path / "none"))
    assert cli.main(["logbook"]) == 0
    assert capsys.readouterr() == ("No sessions.\nNo sessions.\n", "")
    (tmp_path / "none").write_text("x")
    assert cli.main(["logbook"]) == 5, "the usual folder is none"
