"""The frozen map of the register against a dict, and what a long register costs."""

from __future__ import annotations

import tracemalloc

from hypothesis import given
from hypothesis import strategies as st

from bench_voice.core import events as ev
from bench_voice.core.apply import apply
from bench_voice.core.cases import OpenedBy
from bench_voice.core.layered import Layered, difference
from bench_voice.core.sheet import ItemKind
from bench_voice.core.state import State
from bench_voice.testing import small_sheet, step

changes = st.lists(st.tuples(st.booleans(), st.integers(0, 300).map(str), st.integers(0, 5)), max_size=500)


@given(changes)
def test_it_is_a_dict_in_content_and_order(done: list[tuple[bool, str, int]]) -> None:
    mapping, model = Layered(), {}  # type: Layered, dict[str, int]
    for is_set, key, value in done:
        old, before = mapping, dict(model)
        if is_set:
            mapping, model = mapping.set(key, value), {**model, key: value}
        else:
            mapping = mapping.without(key)
            model.pop(key, None)
        assert list(mapping.items()) == list(model.items())
        assert len(mapping) == len(model)
        assert dict(old) == before, "the one before was changed"
        touched = {k for k in {**before, **model} if before.get(k) is not model.get(k)}
        assert set(difference(old, mapping)) == touched
        assert set(difference(mapping, old)) == touched


def test_a_change_copies_no_long_register() -> None:
    """Memory that a change asks for, which no other process on the machine sways: with 20 times the entries as much."""

    def most_bytes(n: int) -> int:
        state = State(small_sheet(step("one")))
        for number in range(n):
            state = apply(
                state,
                ev.ItemOpened(f"reminder-{number}", f"oil it {number}", ItemKind.REMINDER, OpenedBy.VOICE),
                number,
            )
        asked = []
        tracemalloc.start()
        for number in range(20):  # fewer than make a new base
            tracemalloc.reset_peak()
            before = tracemalloc.get_traced_memory()[0]
            later = apply(state, ev.ItemOpened(f"new-{number}", "x", ItemKind.REMINDER, OpenedBy.VOICE), n)
            asked.append(tracemalloc.get_traced_memory()[1] - before)
            assert len(later.register) == n + 1
        tracemalloc.stop()
        return sorted(asked)[len(asked) // 2]

    assert most_bytes(10_000) < 2 * most_bytes(500) + 4096
