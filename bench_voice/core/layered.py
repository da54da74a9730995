"""A frozen map in the order of its keys that can be changed often: a change costs no copy of the whole.

A session may hold thousands of reminders. With a plain dict copied at each change, a resume would cost the square of
their number. Here a shared base stays as it is, and the few keys that differ from it are kept apart; when they have
become many, a new base is made. Iterating is as with a dict: a key that was removed and set again comes last.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any

# Past so many keys that differ, a new base is made: its cost is spread over as many changes.
_MOST = 128


class Layered(Mapping[str, Any]):
    """Immutable. `set` and `without` give another map."""

    __slots__ = ("_added", "_base", "_base_before", "_gone", "_since", "_swapped")

    def __init__(self, base: Mapping[str, Any] | None = None) -> None:
        self._base: dict[str, Any] = dict(base or {})
        # The base that this one took the place of, and the keys in which they may differ.
        self._base_before: dict[str, Any] | None = None
        self._since: tuple[str, ...] = ()
        self._gone: frozenset[str] = frozenset()  # keys of the base that do not count
        self._swapped: dict[str, Any] = {}  # keys of the base with another value
        self._added: dict[str, Any] = {}  # behind those of the base

    def __getitem__(self, key: str) -> Any:
        if key in self._added:
            return self._added[key]
        if key in self._swapped:
            return self._swapped[key]
        if key in self._gone:
            raise KeyError(key)
        return self._base[key]

    def __iter__(self) -> Iterator[str]:
        yield from (key for key in self._base if key not in self._gone)
        yield from self._added

    def __len__(self) -> int:
        return len(self._base) - len(self._gone) + len(self._added)

    def __repr__(self) -> str:
        return repr(dict(self))

    def set(self, key: str, value: Any) -> Layered:
        """With `key` as `value`: where it stood, else at the end."""
        if key in self._added or key not in self._base or key in self._gone:
            return self._with(self._gone, self._swapped, {**self._added, key: value})
        return self._with(self._gone, {**self._swapped, key: value}, self._added)

    def without(self, key: str) -> Layered:
        """Without `key`; the same where it is not there."""
        if key not in self:
            return self
        if key in self._added:
            return self._with(self._gone, self._swapped, {k: v for k, v in self._added.items() if k != key})
        swapped = {k: v for k, v in self._swapped.items() if k != key}
        return self._with(self._gone | {key}, swapped, self._added)

    def _with(self, gone: frozenset[str], swapped: dict[str, Any], added: dict[str, Any]) -> Layered:
        new = Layered.__new__(Layered)
        new._base, new._base_before, new._since = self._base, self._base_before, self._since
        new._gone, new._swapped, new._added = gone, swapped, added
        return new if len(gone) + len(swapped) + len(added) <= _MOST else new._on_a_new_base()

    def _on_a_new_base(self) -> Layered:
        base = self._base | self._swapped
        for key in self._gone:
            del base[key]
        new = Layered()
        new._base, new._base_before, new._since = base | self._added, self._base, self._apart()
        return new

    def _apart(self) -> tuple[str, ...]:
        return (*self._gone, *self._swapped, *self._added)

    def differs_from(self, old: Mapping[str, Any]) -> tuple[str, ...]:
        """Keys whose value is another one, or that only one of them has; those of `old` first."""
        if isinstance(old, Layered) and old._base is self._base:
            return _different(old, self, (*old._apart(), *self._apart()))
        if isinstance(old, Layered) and old._base is self._base_before:
            return _different(old, self, (*old._apart(), *self._since, *self._apart()))
        return _different(old, self, (*old, *self))


def layered(mapping: Mapping[str, Any]) -> Layered:
    return mapping if isinstance(mapping, Layered) else Layered(mapping)


def difference(old: Mapping[str, Any], new: Mapping[str, Any]) -> tuple[str, ...]:
    """Keys whose value is another one, or that only one of them has; those of `old` first."""
    if old is new:
        return ()
    return new.differs_from(old) if isinstance(new, Layered) else _different(old, new, (*old, *new))


def _different(old: Mapping[str, Any], new: Mapping[str, Any], keys: tuple[str, ...]) -> tuple[str, ...]:
    return tuple(key for key in dict.fromkeys(keys) if old.get(key) is not new.get(key))
