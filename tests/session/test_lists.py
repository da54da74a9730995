"""`--list`: a bad line has its error and the rest go on; what is printed is JSON with the line's own id."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from bench_voice import cli
from bench_voice.session import meaning

TRAILER = Path(__file__).resolve().parents[2] / "demo" / "trailer-hub-brake.yaml"
GOOD = b'{"id": "good", "heard": "next"}'


def strict(text: str) -> Any:
    """As a reader that holds to RFC 8259: NaN and Infinity are no JSON."""

    def refuse(name: str) -> None:
        raise AssertionError(f"{name} is no JSON")

    return json.loads(text, parse_constant=refuse)


def understood(tmp_path: Path, shown: pytest.CaptureFixture[str], content: bytes, *more: str) -> list[dict[str, Any]]:
    path = tmp_path / "list.jsonl"
    path.write_bytes(content)
    assert cli.main(["understand", "--list", str(path), *more]) == 0
    out, err = shown.readouterr()
    assert err == ""
    return [strict(line) for line in out.removesuffix("\n").split("\n")]


@pytest.mark.parametrize(
    ("line", "id_", "says"),
    [
        (b'{"id": 1, "heard": "next", "sheet": 5}', 1, '"sheet"'),
        (b'{"id": 1, "heard": "next", "sheet": 0}', 1, '"sheet"'),
        (b'{"id": 1, "heard": "next", "sheet": ["x"]}', 1, '"sheet"'),
        (b'{"id": 1, "heard": "next", "sheet": "a\\u0000b"}', 1, '"sheet"'),
        (b'{"id": 1, "heard": "next", "sheet": "\\ud800"}', 1, '"sheet"'),
        (b'{"id": 1, "heard": "next", "step": {"a": 1}}', 1, '"step"'),
        (b'{"id": 1, "heard": "next \\ud800"}', 1, '"heard"'),
        (b'{"id": 1, "heard": ["next"]}', 1, '"heard"'),
        (b'{"id": "\\ud800", "wav": "x"}', "\ud800", '"heard"'),
        (b"[" * 100_000, None, "not a JSON object"),
        (b'{"id": ' + b"[" * 100_000, None, "not a JSON object"),
        (b'{"id": ' + b"1" * 5000 + b', "heard": "next"}', None, "not a JSON object"),
        (b'{"id": 1, "heard": "n\xe9xt"}', None, "not a JSON object in UTF-8"),
        (b'{"id": NaN, "heard": "next"}', None, '"id"'),
        (b'{"id": 1e999, "heard": "next"}', None, '"id"'),
        (b'{"id": {"a": [-1e999]}, "heard": "next"}', None, '"id"'),
    ],
    ids=lambda value: repr(value)[:50],
)
def test_a_bad_line_has_its_error_and_the_rest_go_on(
    line: bytes, id_: Any, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    before, bad, after = understood(tmp_path, capsys, b"\n".join((GOOD, line, GOOD)))
    assert before == after
    assert (after["id"], after["accepted"]) == ("good", True)
    assert set(bad) == {"id", "error"}
    assert bad["id"] == id_
    assert says in bad["error"]
    assert bad["error"].endswith("[list-line]")


def test_a_line_that_fails_inside_costs_only_itself(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    whole = meaning.as_json

    def failing(id_: Any, *more: Any) -> dict[str, Any]:
        if id_ == 2:
            raise ZeroDivisionError("of a test")
        return whole(id_, *more)

    monkeypatch.setattr(meaning, "as_json", failing)
    found = understood(tmp_path, capsys, b"\n".join((GOOD, b'{"id": 2, "heard": "next"}', GOOD)))
    assert [one.get("accepted") for one in found] == [True, None, True]
    assert "ZeroDivisionError: of a test" in found[1]["error"]
    assert found[1]["error"].endswith("[internal]")
    with pytest.raises(ZeroDivisionError):
        cli.main(["understand", "--list", str(tmp_path / "list.jsonl"), "--debug"])


def test_an_id_is_given_back_as_it_is(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ids = [None, True, 0, -1.5, "", "é\u2028", "\ud800", [1, {"a": None}], 10**300]
    lines = [json.dumps({"id": one, "heard": "next"}).encode() for one in ids]
    found = understood(tmp_path, capsys, b"\n".join(lines))
    assert [(type(one["id"]), one["id"]) for one in found] == [(type(one), one) for one in ids]


def test_a_line_ends_at_line_ends_alone_and_a_byte_order_mark_is_none_of_it(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    words = "note, first\u2028second\u2029third\x85fourth"
    line = json.dumps({"id": 1, "heard": words}, ensure_ascii=False).encode()
    for end in (b"\n", b"\r\n", b"\r"):
        found = understood(tmp_path, capsys, b"\xef\xbb\xbf" + end.join((line, b" ", GOOD, b"")))
        assert [(one["id"], one["kind"]) for one in found] == [(1, "note"), ("good", "next")]
        assert found[0]["text"] == "first second third fourth"


def test_a_step_needs_a_sheet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for command in (["understand", "next"], ["hear", "x.wav"]):
        assert cli.main([*command, "--step", "left-lining-check", "--json"]) == 2
        out, err = capsys.readouterr()
        assert out == ""
        assert err.endswith('no sheet for the step "left-lining-check". Name it with --sheet. [step-unknown]\n')
    with_sheet = {"id": 1, "heard": "next", "sheet": str(TRAILER)}
    lines = json.dumps(with_sheet).encode() + b'\n{"id": 2, "heard": "next"}'
    found = understood(tmp_path, capsys, lines, "--step", "left-lining-check")
    assert found[0]["accepted"] is True
    assert found[1]["error"].endswith("[step-unknown]")
