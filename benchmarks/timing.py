"""Times peers in turn, and tells ratios: the median over the rounds, with the least and the greatest."""

import statistics
from collections.abc import Callable, Mapping
from time import perf_counter


def in_rounds(calls: Mapping[str, Callable[[int], int]], rounds: int) -> dict[str, list[float]]:
    """Seconds a call in each round: every round runs each once, in turn; the first round, a warm-up, is left out.

    A call gets the round's number and tells how many things it did.
    """
    found: dict[str, list[float]] = {name: [] for name in calls}
    for number in range(rounds + 1):
        for name, call in calls.items():
            start = perf_counter()
            done = call(number)
            seconds = perf_counter() - start
            if number:
                found[name].append(seconds / done)
    return found


def ratio(over: list[float], under: list[float]) -> str:
    """How many times the second is the first, round by round."""
    ratios = sorted(one / other for one, other in zip(over, under, strict=True))
    return f"{_short(statistics.median(ratios))} x ({_short(ratios[0])} to {_short(ratios[-1])})"


def _short(number: float) -> str:
    return f"{number:,.0f}" if number >= 100 else f"{number:.1f}" if number >= 10 else f"{number:.2f}"


def told(seconds: list[float]) -> str:
    """The median, in the unit that suits it."""
    middle = statistics.median(seconds)
    for unit, scale in (("s", 1.0), ("ms", 1e3)):
        if middle * scale >= 1:
            return f"{middle * scale:.2f} {unit}"
    return f"{middle * 1e6:.1f} µs"
