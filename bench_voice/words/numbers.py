"""Number words -> value. Full match or nothing; says whether the words could be another number too.

Taken as said: cardinals ("one hundred and ten"), digits one by one ("four six" = 46), spoken decimals ("four point
six zero" = 4.60, "point sixty five" = .65), fractions ("one and nine sixteenths"). Groups ("one ten", "nine fifty")
have two candidates and are asked. Values are Decimal with the digits that were said; nothing goes through a float.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Context, Decimal, localcontext
from itertools import pairwise

from bench_voice.words.phrases import NumberWords

MAX_WORDS = 24
MAX_INTEGER_DIGITS = 15
MAX_DECIMALS = 12
_MOST_WHOLES = 4  # larger improper fractions ("one thousand two sixteenths") are asked


@dataclass(frozen=True)
class Spoken:
    """What the words can be: candidates, the likeliest first. `is_sure`: one only, said in a way that is one only."""

    candidates: tuple[Decimal, ...]
    is_sure: bool = True
    is_tenths: bool = False  # "two tenths": of what must be known
    fraction_parts: int = 0  # denominator, where a fraction was said
    pointed: Decimal | None = None  # "oh four six" with the point that may have been swallowed: 0.46

    @property
    def value(self) -> Decimal:
        return self.candidates[0]


def split_compounds(tokens: Sequence[str], numbers: NumberWords) -> tuple[str, ...]:
    """Words such as "vierundzwanzig" into their parts; anything that is no number word stays whole."""
    if not numbers.is_compound:
        return tuple(tokens)
    out: list[str] = []
    for token in tokens:
        parts = None
        if len(token) > 4 and len(token) <= 120 and token not in numbers.digit and (token,) not in numbers.fraction:
            parts = _pieces(token, numbers.pieces)
        out.extend(parts or (token,))
    return tuple(out)


def _pieces(token: str, pieces: Sequence[str]) -> tuple[str, ...] | None:
    """Segmentation into morphemes from the left, longest first, with one step back where that fails."""
    best: dict[int, tuple[str, ...]] = {len(token): ()}
    for start in range(len(token) - 1, -1, -1):
        for piece in pieces:
            rest = best.get(start + len(piece))
            if rest is not None and token.startswith(piece, start):
                best[start] = (piece, *rest)
                break
    return best.get(0)


def read_number(tokens: Sequence[str], numbers: NumberWords) -> Spoken | None:
    """The whole of `tokens` as one number, or None. Never raises."""
    if not tokens or len(tokens) > MAX_WORDS:
        return None
    for token in tokens:  # the quick way out: most talk has no number in it
        if token not in numbers.known and token[0] not in "0123456789.":
            return None
    negative = tokens[0] in numbers.minus
    rest = tuple(tokens[1:] if negative else tokens)
    if not rest:
        return None
    spoken = _typed(rest, numbers) or _unsigned(rest, numbers)
    if spoken is None or not negative:
        return spoken
    return Spoken(
        tuple(v.copy_negate() for v in spoken.candidates), spoken.is_sure, spoken.is_tenths, spoken.fraction_parts
    )


def _typed(tokens: tuple[str, ...], numbers: NumberWords) -> Spoken | None:
    """One token in figures: 46, 4.60, .65, 5/16, 1,234 (asked: thousands here, decimals elsewhere)."""
    if len(tokens) == 1 and "/" not in tokens[0]:
        token = tokens[0]
        mark, other = (".", ",") if numbers.decimal_mark == "." else (",", ".")
        if not token[:1].isascii() or not (token[:1].isdigit() or token[:1] == "."):
            return None
        if token.isascii() and token.isdigit():
            return _sure(token) if len(token) <= MAX_INTEGER_DIGITS else None
        whole, _, decimals = token.partition(mark)
        if whole + decimals and (whole + decimals).isdigit() and decimals:
            return _sure(f"{whole or '0'}.{decimals}") if _fits(whole, decimals) else None
        whole, _, decimals = token.partition(other)
        if whole.isdigit() and decimals.isdigit() and len(decimals) == 3 and 0 < len(whole) <= 3:
            return Spoken((Decimal(whole + decimals), Decimal(f"{whole}.{decimals}")), is_sure=False)
        return None
    return None


def _fits(whole: str, decimals: str) -> bool:
    return len(whole) <= MAX_INTEGER_DIGITS and len(decimals) <= MAX_DECIMALS


def _sure(text: str) -> Spoken:
    return Spoken((_digits_kept(text),))


def _digits_kept(text: str) -> Decimal:
    """Leading zeros go, trailing decimals stay."""
    return Decimal(text)


def _unsigned(tokens: tuple[str, ...], numbers: NumberWords) -> Spoken | None:
    points = [i for i, token in enumerate(tokens) if token in numbers.point]
    if len(points) > 1:
        return None
    if points:
        return _decimal(tokens[: points[0]], tokens[points[0] + 1 :], numbers)
    return _fraction(tokens, numbers) or read_integer(tokens, numbers)


def _decimal(before: tuple[str, ...], after: tuple[str, ...], numbers: NumberWords) -> Spoken | None:
    whole = read_integer(before, numbers) if before else Spoken((Decimal(0),))
    decimals = read_decimals(after, numbers)
    if whole is None or decimals is None:
        return None
    digits, is_plain = decimals
    if len(digits) > MAX_DECIMALS:
        return None
    # "one ten point five": the group before the point is joined, but asked.
    if whole.value != whole.value.to_integral_value():
        return None
    return Spoken((Decimal(f"{whole.value}.{digits}"),), whole.is_sure and is_plain)


def read_decimals(tokens: Sequence[str], numbers: NumberWords) -> tuple[str, bool] | None:
    """Digits after the point, and whether they can be only these: "six zero", "sixty five", "oh sixty five"."""
    digits, index, n_tens = "", 0, 0
    while index < len(tokens):
        group = _group_at(tokens, index, numbers)
        if group is None:
            whole = _cardinal(tuple(tokens), numbers)
            return None if whole is None else (str(whole), False)
        text, index = group
        digits += text
        n_tens += len(text) > 1
        if n_tens and index < len(tokens) and len(text) > 1:
            n_tens += 1  # something follows a two-digit group: could be joined in more than one way
    return (digits, n_tens < 2) if digits else None


def _group_at(tokens: Sequence[str], index: int, numbers: NumberWords) -> tuple[str, int] | None:
    """One digit, teen, ten or ten-and-digit from `index`: its digits and where it ends."""
    token = tokens[index]
    if token in numbers.digit:
        if (
            numbers.is_inverted
            and index + 2 < len(tokens)
            and tokens[index + 1] in numbers.and_
            and tokens[index + 2] in numbers.ten
            and numbers.digit[token]
        ):
            return str(numbers.ten[tokens[index + 2]] + numbers.digit[token]), index + 3
        return str(numbers.digit[token]), index + 1
    if token in numbers.teen:
        return str(numbers.teen[token]), index + 1
    if token in numbers.ten:
        value = numbers.ten[token]
        if not numbers.is_inverted and index + 1 < len(tokens) and numbers.digit.get(tokens[index + 1]):
            return str(value + numbers.digit[tokens[index + 1]]), index + 2
        return str(value), index + 1
    if token.isascii() and token.isdigit() and len(token) <= MAX_INTEGER_DIGITS:
        return token, index + 1
    return None


def read_integer(tokens: Sequence[str], numbers: NumberWords) -> Spoken | None:
    """Digits one by one and cardinals are sure; two or more groups side by side are asked."""
    if not tokens or len(tokens) > MAX_WORDS:
        return None
    cardinal = _cardinal(tuple(tokens), numbers)
    if cardinal is not None:
        return Spoken((Decimal(cardinal),)) if cardinal < 10**MAX_INTEGER_DIGITS else None
    groups: list[str] = []
    index = 0
    while index < len(tokens):
        group = _group_at(tokens, index, numbers)
        if group is None:
            return _mixed_groups(tokens, numbers)
        groups.append(group[0])
        index = group[1]
    joined = "".join(groups)
    if len(joined) > MAX_INTEGER_DIGITS:
        return None
    if all(len(group) == 1 for group in groups):
        is_led_by_zero = len(joined) > 1 and joined[0] == "0"
        return Spoken((Decimal(joined),), pointed=Decimal(f"0.{joined[1:]}") if is_led_by_zero else None)
    # The other candidate has its point before the last two-digit group, or the last row of single digits.
    last = len(groups) - 1
    while last > 1 and len(groups[last]) == 1 and len(groups[last - 1]) == 1:
        last -= 1
    other = Decimal(f"{''.join(groups[:last])}.{''.join(groups[last:])}")
    return Spoken(_distinct(Decimal(joined), other), is_sure=False)


def _mixed_groups(tokens: Sequence[str], numbers: NumberWords) -> Spoken | None:
    """Two cardinals side by side where one has a hundred in it ("one two hundred"): asked, joined first."""
    for cut in range(1, len(tokens)):
        left, right = _cardinal(tuple(tokens[:cut]), numbers), _cardinal(tuple(tokens[cut:]), numbers)
        if left is not None and right is not None:
            joined = f"{left}{right}"
            if len(joined) > MAX_INTEGER_DIGITS:
                return None
            return Spoken(_distinct(Decimal(joined), Decimal(f"{left}.{right}")), is_sure=False)
    return None


def _distinct(*values: Decimal) -> tuple[Decimal, ...]:
    out: list[Decimal] = []
    for value in values:
        if str(value) not in map(str, out):
            out.append(value)
    return tuple(out)


def _cardinal(tokens: tuple[str, ...], numbers: NumberWords) -> int | None:
    """A well-formed cardinal, or None: "one hundred and ten", "twelve hundred", "four thousand two hundred six"."""
    total, rest, ceiling = 0, tokens, 10**16
    while True:
        at = next((i for i, token in enumerate(rest) if token in numbers.scale), None)
        if at is None:
            break
        scale = numbers.scale[rest[at]]
        if scale >= ceiling:
            return None
        head = _below_thousand(rest[:at], numbers, is_head=True, may_be_empty=numbers.has_implicit_one and not total)
        if head is None or head == 0:
            return None
        total, ceiling, rest = total + head * scale, scale, rest[at + 1 :]
        if not rest:
            return total
        if rest[0] in numbers.and_:
            rest = rest[1:]
            if not rest or any(token in numbers.scale for token in rest):
                return None
    last = _below_thousand(rest, numbers, is_head=False, may_be_empty=False)
    if last is None or (total and (last == 0 or last >= ceiling)):
        return None
    return total + last


def _below_thousand(tokens: Sequence[str], numbers: NumberWords, is_head: bool, may_be_empty: bool) -> int | None:
    if not tokens:
        return 1 if may_be_empty else None
    if is_head and len(tokens) == 1 and tokens[0] in numbers.articles:
        return 1
    at = next((i for i, token in enumerate(tokens) if token in numbers.hundred), None)
    if at is None:
        return _below_hundred(tokens, numbers)
    head: int | None
    if (at == 0 and numbers.has_implicit_one) or (at == 1 and tokens[0] in numbers.articles):
        head = 1
    else:
        head = _below_hundred(tokens[:at], numbers)
    if not head or (head >= 10 and (is_head or head % 10 == 0)):
        return None  # "twelve hundred" is said, "fifty hundred" is not
    rest = tokens[at + 1 :]
    if rest and rest[0] in numbers.and_:
        rest = rest[1:]
        if not rest:
            return None
    if not rest:
        return head * 100
    tail = _below_hundred(rest, numbers)
    return head * 100 + tail if tail else None


def _below_hundred(tokens: Sequence[str], numbers: NumberWords) -> int | None:
    group = _group_at(tokens, 0, numbers) if tokens else None
    if group is None or group[1] != len(tokens):
        return None
    return int(group[0]) if len(group[0]) <= 2 or len(tokens) == 1 else None


def _fraction(tokens: tuple[str, ...], numbers: NumberWords) -> Spoken | None:
    """Exact fractions with and without a whole number before: "half", "three eighths", "one and nine sixteenths"."""
    if len(tokens) == 1 and "/" in tokens[0]:
        top, _, bottom = tokens[0].partition("/")
        return _over(0, int(top), int(bottom)) if top.isdigit() and bottom.isdigit() and len(tokens[0]) < 9 else None
    if len(tokens) in (2, 3) and "/" in tokens[-1]:
        top, _, bottom = tokens[-1].partition("/")
        if top.isdigit() and bottom.isdigit() and len(tokens[-1]) < 9 and int(top) < int(bottom):
            whole = _cardinal(tokens[:1], numbers)
            if whole is not None and (len(tokens) == 2 or tokens[1] in numbers.and_):
                return _over(whole, int(top), int(bottom))
        return None
    for length in (1, 2):
        parts = numbers.fraction.get(tokens[-length:])
        if parts is None:
            continue
        found = _with_parts(tokens[:-length], parts, numbers, tokens[-length:] in numbers.fraction_singular)
        if found is not None:
            return found
    return None


def _with_parts(head: tuple[str, ...], parts: int, numbers: NumberWords, is_singular: bool) -> Spoken | None:
    """`parts` of which `head` counts; "six half" and "one thousand two sixteenths" have a mixed number in them too."""
    if not head:
        return _over(0, 1, parts) if parts in (2, 4) else None
    readings: list[Spoken] = []
    plain = _numerator(head, numbers)
    sure = True
    if plain is not None:
        if is_singular and plain != 1:
            mixed = _over(plain, 1, parts)
            readings += [mixed] if mixed is not None else []
            sure = False
        found = _over(0, plain, parts)
        if found is not None:
            readings.append(found)
            sure = sure and plain <= _MOST_WHOLES * parts
    for cut in range(1, len(head)):
        whole = _cardinal(head[:cut], numbers)
        has_and = head[cut] in numbers.and_
        top = _numerator(head[cut + 1 :] if has_and else head[cut:], numbers)
        if whole is None or top is None or not 0 < top < parts:
            continue
        if plain is not None and not has_and and plain <= _MOST_WHOLES * parts:
            continue  # "twenty one sixty fourths": one number in front, as it is written
        found = _over(whole, top, parts)
        if found is not None:
            readings.append(found)
            sure = sure and has_and
    if not readings:
        return None
    values = _distinct(*(reading.value for reading in readings))
    return Spoken(values, sure and len(values) == 1, parts == 10, parts)


def _numerator(tokens: Sequence[str], numbers: NumberWords) -> int | None:
    if len(tokens) == 1 and tokens[0] in numbers.articles:
        return 1
    return _cardinal(tuple(tokens), numbers) if tokens else None


def _over(whole: int, top: int, bottom: int) -> Spoken | None:
    """Exact or nothing: thirds have no end in Decimal."""
    if not 0 < bottom <= 1000 or top == 0 or top > 9999 or whole >= 10**9:
        return None
    rest = bottom
    for prime in (2, 5):
        while rest % prime == 0:
            rest //= prime
    if rest != 1:
        return None
    with localcontext(Context(prec=28)):
        value = whole + Decimal(top) / Decimal(bottom)
    return Spoken((value,), True, bottom == 10, bottom)


def read_points(tokens: Sequence[str], wanted: int, numbers: NumberWords) -> list[tuple[Decimal, ...]]:
    """Every way to cut `tokens` (no commas) into `wanted` decimals that each have their own point; at most 16 ways.

    "four point six four point five": the run between two points ends one number and begins the next.
    """
    at = [i for i, token in enumerate(tokens) if token in numbers.point]
    if len(at) != wanted or wanted < 2 or not tokens or at[0] == 0:
        return []
    ways: list[tuple[tuple[Decimal, ...], tuple[str, ...]]] = [((), tuple(tokens[: at[0]]))]
    for place, following in pairwise((*at, len(tokens))):
        run, new = tuple(tokens[place + 1 : following]), []
        is_last = following == len(tokens)
        cuts = (len(run),) if is_last else range(1, len(run))
        for values, whole in ways:
            for cut in cuts:
                left = _decimal(whole, run[:cut], numbers)
                if left is None or not left.is_sure:
                    continue
                head = run[cut:]
                if is_last or read_integer(head, numbers) is not None:
                    new.append(((*values, left.value), head))
        ways = new[:16]
    return [values for values, _ in ways]
