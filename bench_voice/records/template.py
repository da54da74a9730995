"""The one place that knows the template engine: every value that is put into a page is escaped by it."""

from __future__ import annotations

import unicodedata
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup


@lru_cache(maxsize=1)
def _environment() -> Environment:
    env = Environment(
        loader=PackageLoader("bench_voice.records", "templates"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    env.finalize = _shown
    env.globals["style"] = Markup(env.loader.get_source(env, "style.css")[0]) if env.loader else ""
    return env


def page(name: str, **values: Any) -> str:
    """The page `name` with these values."""
    return _environment().get_template(name).render(**values)


def _shown(value: Any) -> Any:
    """What turns the direction of a line round or cannot be seen is shown as a sign: it may not move other words."""
    if not isinstance(value, str) or isinstance(value, Markup) or (value.isascii() and value.isprintable()):
        return value
    return "".join("\ufffd" if _is_hidden(char) else char for char in value)


# Cc: control signs; Cs: halves of pairs. Of the format signs only those that turn or hide text: joiners and soft
# hyphens belong to the writing of many languages.
_TURNING = frozenset("\u200e\u200f\u061c\u202a\u202b\u202c\u202d\u202e\u2066\u2067\u2068\u2069\ufeff")


def _is_hidden(char: str) -> bool:
    return char in _TURNING or (unicodedata.category(char) in ("Cc", "Cs") and char not in "\n\t")
