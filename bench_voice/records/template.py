"""The one place that knows the template engine: every value that is put into a page is escaped by it."""

from __future__ import annotations

import re
from functools import lru_cache
from typing import Any

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup

from bench_voice.words.visible import visible


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
    env.filters["attr_text"] = _Attribute
    env.globals["style"] = Markup(env.loader.get_source(env, "style.css")[0]) if env.loader else ""
    return env


def page(name: str, **values: Any) -> str:
    """The page `name` with these values."""
    return _environment().get_template(name).render(**values)


class _Attribute(str):
    """Text for an attribute or a title, where no place to break may stand."""


def _shown(value: Any) -> Any:
    """What would not be seen is shown as an escape. A word that is longer than a column gets places where it may be
    broken; words of a usual length stay whole. Text from right to left is kept to its cell by the style.
    """
    if not isinstance(value, str) or isinstance(value, Markup):
        return value
    text = visible(value)
    if isinstance(value, _Attribute) or not _LONG.search(text):
        return text
    parts = _LONG.sub(lambda found: _PIECE.sub("\\g<0>\0", found[0]), text).split("\0")
    return Markup("<wbr>").join(parts)


_LONG, _PIECE = re.compile(r"\S{14,}"), re.compile(r"\S{5}")
