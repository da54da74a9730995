"""The view: plain lines without a terminal, 40 columns and no colour with one."""

from __future__ import annotations

import io
import re

import pytest

from bench_voice.session.console import Console, View, meter


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


VIEW = View(3, 12, "listening", -30.0, "left lining one point eight millimetres", ("cable tape", "split pin"))


def test_without_a_terminal_there_are_only_plain_lines() -> None:
    out = io.StringIO()
    console = Console(out, environment={})
    console.line("bench", "Step one. " * 20)
    console.show(VIEW)
    console.close()
    assert out.getvalue() == f"bench: {'Step one. ' * 20}\n"


@pytest.mark.parametrize("width", [20, 40, 80, 200])
def test_no_line_is_wider_than_the_terminal(width: int) -> None:
    out = Terminal()
    console = Console(out, environment={"NO_COLOR": "1"}, width=width)
    console.line("bench", "The right lining is out of limits by zero point four millimetres. " * 3)
    console.show(VIEW)
    console.line("you", "next")
    text = out.getvalue()
    assert not re.findall(r"\x1b\[[0-9;]*m", text), "no colour"
    for line in re.sub(r"\x1b\[2K|\r", "\n", text).splitlines():
        assert len(line) <= width


def test_colour_and_dumb_terminals() -> None:
    out = Terminal()
    Console(out, environment={}).line("bench", "Yes.")
    assert "\x1b[1m" in out.getvalue()
    dumb = Terminal()
    console = Console(dumb, environment={"TERM": "dumb"})
    console.line("bench", "Yes.")
    console.show(VIEW)
    assert dumb.getvalue() == "bench: Yes.\n"


def test_what_matters_less_goes_first_when_it_is_narrow() -> None:
    assert VIEW.line(200) == '3/12 listening #####... | open: cable tape +1 | "left lining one point eight millimetres"'
    assert VIEW.line(60) == "3/12 listening #####... | open: cable tape +1"
    assert VIEW.line(39) == "3/12 listening #####..."
    assert VIEW.line(10) == "3/12 liste"


def test_the_status_is_written_only_when_it_has_changed_and_stands_below_the_lines() -> None:
    out = Terminal()
    console = Console(out, environment={"NO_COLOR": ""}, width=80)
    console.show(VIEW)
    once = out.getvalue()
    console.show(VIEW)
    assert out.getvalue() == once
    console.line("you", "next")
    assert out.getvalue().endswith(VIEW.line(79))
    console.close()
    assert out.getvalue().endswith("\r\x1b[2K")


@pytest.mark.parametrize(
    ("db", "signs"),
    [(-96, "........"), (-60, "........"), (-54, "#......."), (-30, "#####..."), (-12, "########"), (-3, "#######!")],
)
def test_the_meter(db: float, signs: str) -> None:
    assert meter(db) == signs
