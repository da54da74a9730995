"""Who is speaking, by times alone."""

from __future__ import annotations

import pytest

from bench_voice.session.duplex import Duplex


@pytest.mark.parametrize(
    ("at_s", "is_for_us"),
    [(9.99, True), (10.0, False), (11.0, False), (12.0, False), (12.39, False), (12.41, True), (60.0, True)],
)
def test_what_was_captured_while_it_spoke_or_within_the_tail_is_not_for_it(at_s: float, is_for_us: bool) -> None:
    """Spoke from 10 to 12 s; 0.3 s of tail, and 0.1 s for what the card held back."""
    duplex = Duplex()
    duplex.began(10.0)
    assert duplex.is_for_us(10.5) is False, "while it speaks there is no end yet"
    duplex.ended(12.0)
    assert duplex.is_for_us(at_s) is is_for_us


def test_frames_that_come_late_are_judged_by_their_own_time() -> None:
    """A decoder was busy: frames of the first sentence come after the second has begun."""
    duplex = Duplex(tail_s=0.1)
    duplex.began(1.0)
    duplex.ended(2.0)
    duplex.began(5.0)
    assert [duplex.is_for_us(at) for at in (0.9, 1.5, 2.1, 2.3, 4.9, 5.0, 5.1)] == [
        True, False, False, True, True, False, False,
    ]  # fmt: skip


def test_an_end_that_lies_ahead_counts_as_spoken() -> None:
    """What is in the card's buffer is still to be heard when `play` comes back."""
    duplex = Duplex(tail_s=0.2)
    duplex.began(1.0)
    duplex.ended(3.0)
    duplex.began(3.1)
    duplex.ended(3.2)
    assert not duplex.is_speaking
    assert not any(duplex.is_for_us(at) for at in (2.9, 3.25, 3.45))


def test_only_where_the_microphone_cannot_hear_it_everything_counts() -> None:
    duplex = Duplex(is_echo_free=True)
    duplex.began(1.0)
    assert duplex.is_for_us(1.5)
    assert duplex.is_speaking
