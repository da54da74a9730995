"""Each rule of a session on its own."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from core_quick import RULES


@pytest.mark.parametrize("rule", RULES, ids=lambda rule: rule.__name__)
def test_rule(rule: Callable[[], None]) -> None:
    rule()
