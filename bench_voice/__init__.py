"""bench_voice: an offline bench assistant worked by voice. The data flow stands in DEVELOPERS.md."""

__version__ = "0.1.0"
