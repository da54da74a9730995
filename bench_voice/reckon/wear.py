"""Wear from earlier readings of one point against distance or hours: rate, expected value, when the limit is reached.

Ordinary least squares (numpy); intervals by Student's t (ISO 5725-style prediction; Draper & Smith, Applied Regression
Analysis, inverse prediction by Fieller's bounds). The quantile comes from the finite series of the t distribution
(Abramowitz & Stegun 26.7.3 and 26.7.4), so scipy is not needed.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

from bench_voice.reckon.answer import ReckonError

MAX_AHEAD = 1.0  # a forecast farther ahead than the history is long is said to be far
FAR = "That is farther ahead than the readings reach back: only a guess."
SCATTER = "The readings scatter too much to say when."


@dataclass(frozen=True)
class Line:
    """y = b0 + b1·x. `residual_sd`, `sd_b0`, `sd_b1` None with two points: nothing is left to judge them by."""

    n: int
    b0: float
    b1: float
    mean_x: float
    sxx: float
    residual_sd: float | None
    sd_b0: float | None
    sd_b1: float | None
    r2: float

    @property
    def freedom(self) -> int:
        return self.n - 2

    def at(self, x: float) -> float:
        return self.b0 + self.b1 * x


@dataclass(frozen=True)
class Trend:
    """`reached_at`: where the line meets the limit, None where it never does. `interval`: 95 % bounds of that, an end
    None where it is open. `notes`: sentences to be said with it, the most important first.
    """

    line: Line
    limit: float
    reached_at: float | None
    interval: tuple[float | None, float | None] | None
    left: float | None
    notes: tuple[str, ...]


def fit(x: Sequence[float], y: Sequence[float]) -> Line:
    """Raises ReckonError for fewer than two points, unequal lengths, or readings all at one distance."""
    import numpy as np

    if len(x) != len(y) or len(x) < 2:
        raise ReckonError("One reading has no trend.", mend="Measure again later.", slug="reckon-points")
    xs, ys = np.asarray(x, dtype=np.float64), np.asarray(y, dtype=np.float64)
    if not (np.isfinite(xs).all() and np.isfinite(ys).all()):
        raise ReckonError("A reading is no number.", mend="Correct the logbook.", slug="reckon-points")
    # Centred: the columns are then orthogonal and nothing is lost to cancellation.
    mean_x = float(xs.mean())
    centred = xs - mean_x
    sxx = float(centred @ centred)
    if sxx == 0:
        raise ReckonError("All readings are at one distance.", mend="Give the distance of each.", slug="reckon-points")
    design = np.column_stack((np.ones_like(xs), centred))
    (level, slope), *_ = np.linalg.lstsq(design, ys, rcond=None)
    residuals = ys - design @ np.array((level, slope))
    rss, tss = float(residuals @ residuals), float(((ys - ys.mean()) ** 2).sum())
    freedom = len(xs) - 2
    sd = math.sqrt(rss / freedom) if freedom else None
    return Line(
        n=len(xs),
        b0=float(level - slope * mean_x),
        b1=float(slope),
        mean_x=mean_x,
        sxx=sxx,
        residual_sd=sd,
        sd_b0=None if sd is None else sd * math.sqrt(1 / len(xs) + mean_x**2 / sxx),
        sd_b1=None if sd is None else sd / math.sqrt(sxx),
        r2=1 - rss / tss if tss else 1.0,
    )


def t_probability(t: float, freedom: int) -> float:
    """P(|T| < t) for whole `freedom`, A&S 26.7.3 (odd) and 26.7.4 (even)."""
    theta = math.atan(t / math.sqrt(freedom))
    sine, cosine = math.sin(theta), math.cos(theta)
    if freedom == 1:
        return 2 * theta / math.pi
    term, total = (cosine, cosine) if freedom % 2 else (1.0, 1.0)
    for k in range(3 if freedom % 2 else 2, freedom - 1, 2):
        term *= cosine**2 * (k - 1) / k
        total += term
    if freedom % 2:
        return 2 / math.pi * (theta + sine * total)
    return sine * total


def t_quantile(probability: float, freedom: int) -> float:
    """One-sided: t_quantile(0.975, 34) = 2.03224. By halving: t_probability only grows."""
    if freedom < 1 or not 0.5 <= probability < 1:
        raise ReckonError("No such quantile.", mend="Give a freedom of 1 or more.", slug="reckon-points")
    wanted, low, high = 2 * probability - 1, 0.0, 1.0
    while t_probability(high, freedom) < wanted and high < 1e9:
        high *= 2
    for _ in range(200):
        middle = (low + high) / 2
        if t_probability(middle, freedom) < wanted:
            low = middle
        else:
            high = middle
    return (low + high) / 2


def expected(line: Line, x: float, probability: float = 0.975) -> tuple[float, tuple[float, float] | None]:
    """Expected reading at `x`, and the bounds that the next one falls into (95 %); None with two points."""
    if line.residual_sd is None:
        return line.at(x), None
    half = t_quantile(probability, line.freedom) * line.residual_sd
    half *= math.sqrt(1 + 1 / line.n + (x - line.mean_x) ** 2 / line.sxx)
    return line.at(x), (line.at(x) - half, line.at(x) + half)


def crossing(line: Line, limit: float) -> float | None:
    """x at which the line meets `limit`; None for a level line."""
    return None if line.b1 == 0 else (limit - line.b0) / line.b1


def crossing_interval(line: Line, limit: float) -> tuple[float | None, float | None] | None:
    """95 % bounds of the crossing (Fieller): None with two points, open at both ends where the slope is not proved."""
    if line.residual_sd is None or line.sd_b1 is None:
        return None
    t = t_quantile(0.975, line.freedom)
    g = (t * line.sd_b1) ** 2
    a = line.b1**2 - g
    if a <= 0:
        return None, None
    # Solve (b1·u − d)² = t²s²(1/n + u²/sxx) with u = x − mean, d = limit − mean reading.
    d = limit - line.at(line.mean_x)
    b, c = -2 * line.b1 * d, d**2 - (t * line.residual_sd) ** 2 / line.n
    root = math.sqrt(max(0.0, b * b - 4 * a * c))
    ends = sorted(((-b - root) / (2 * a) + line.mean_x, (-b + root) / (2 * a) + line.mean_x))
    return ends[0], ends[1]


def trend(
    x: Sequence[float], y: Sequence[float], limit: float, is_low_bad: bool = True, uncertainty: float = 0.0
) -> Trend:
    """`x` in distance or hours, rising; `y` the readings; `limit` the last good value.

    A newest reading that went up (down where high is bad) by more than U·√2 is a replaced part or a misreading: it is
    said and no forecast is made from it. Raises ReckonError for too few points.
    """
    order = sorted(range(len(x)), key=lambda i: x[i])
    xs, ys = [x[i] for i in order], [y[i] for i in order]
    line = fit(xs, ys)
    notes: list[str] = []
    back = (ys[-1] - ys[-2]) * (1 if is_low_bad else -1)
    if back > uncertainty * math.sqrt(2):
        way = "up" if is_low_bad else "down"
        notes.append(f"The newest reading went {way}: was the part replaced, or misread?")
        return Trend(line, limit, None, None, None, tuple(notes))
    if line.n == 2:
        notes.append("Two readings only: a rough rate without an interval.")
    wears = line.b1 < 0 if is_low_bad else line.b1 > 0
    if not wears:
        notes.append("The readings show no wear.")
        return Trend(line, limit, None, None, None, tuple(notes))
    at, interval = crossing(line, limit), crossing_interval(line, limit)
    left = None if at is None else max(0.0, at - xs[-1])
    if left == 0:
        notes.insert(0, "By this trend the limit is reached already.")
    elif left is not None and left > MAX_AHEAD * (xs[-1] - xs[0]):
        notes.append(FAR)
    if interval == (None, None):
        notes.append(SCATTER)
    return Trend(line, limit, at, interval, left, tuple(notes))
