"""bench_voice: an offline bench assistant worked by voice. The data flow stands in DEVELOPERS.md."""

from bench_voice import interrupts, offline

__version__ = "0.1.0"

offline.apply()  # before any library that would report or fetch is imported
interrupts.quiet_while_loading()
