"""What would not be seen: the categories of the Unicode Character Database, the escapes of RFC 8259, section 7."""

from __future__ import annotations

import json

import pytest

from bench_voice.words.visible import ESCAPED, on_page, visible


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("left lining 4.6 mm", "left lining 4.6 mm"),
        ("two\nlines\tand a tab, ä Ω 漢", "two\nlines\tand a tab, ä Ω 漢"),
        ("\x1b[2J", "\\u001b[2J"),
        ("a\u202eb", "a\\u202eb"),
        ("a\u200bb\u2060c\ufeffd", "a\\u200bb\\u2060c\\ufeffd"),
        ("\r\x9b\x7f", "\\u000d\\u009b\\u007f"),
        ("\ud800", "\\ud800"),
        ("\U000e0041", "\\udb40\\udc41"),
    ],
)
def test_visible(text: str, shown: str) -> None:
    assert visible(text) == shown


def test_json_stays_what_it_was() -> None:
    body = {"note": "a\u202e\u200b\x1b\x7f\x85\u2028\U000e0041\ud800 ä"}
    assert json.loads(visible(json.dumps(body, ensure_ascii=False))) == body
    assert json.loads(json.dumps(body, ensure_ascii=False).encode("ascii", ESCAPED)) == body


def test_a_page_escapes_and_isolates() -> None:
    assert on_page("<b>\u202e</b>") == "&lt;b&gt;\\u202e&lt;/b&gt;"
    assert on_page("\u05d0\u05d1 4.6") == "\u2068\u05d0\u05d1 4.6\u2069"
