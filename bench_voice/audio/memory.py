"""Makes the C library give memory back that the recognisers no longer use.

Each thread that decodes gets a heap of its own from glibc, and what a network needed for one sentence stays in it: 737
MB with all ears after 30 sentences, 576 MB with these settings, at the same processor time (PSS, with the child).
"""

from __future__ import annotations

import ctypes
import functools

# mallopt's numbers, from malloc.h of glibc.
_TRIM_THRESHOLD, _MMAP_THRESHOLD, _ARENA_MAX = -1, -3, -8
# Larger blocks go back at once; below this, page faults would cost a tenth of the time (measured with 1 MiB).
_LARGE = 8 << 20


@functools.cache
def keep_small() -> None:
    """For this process, once, before the ears load. Does nothing where the C library isn't glibc."""
    try:
        mallopt = ctypes.CDLL(None).mallopt
    except (OSError, AttributeError, TypeError):
        return
    mallopt(_ARENA_MAX, 2)
    mallopt(_MMAP_THRESHOLD, _LARGE)
    mallopt(_TRIM_THRESHOLD, _LARGE)
