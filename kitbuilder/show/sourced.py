"""What sourcing weighed, in words: what another way would cost, why a booking lost, how far a plan is from proof."""

from collections.abc import Collection, Mapping, Sequence
from typing import Final

import msgspec

from kitbuilder import amount
from kitbuilder.model.plan import Fares, Gap, Lost, Otherwise, Value
from kitbuilder.show.paper import counted, listed

#: What is worse where a plan costs no more: of the fields after money.
_FINER: Final = {
    "changes": "something that is held already would have to be moved",
    "use_by": "stock with a later use-by day would be used up first",
    "lots": "a later lot would be used up first",
    "preference": "it would be an item that is liked less",
}
#: So many bookings are named, at most; of more the rest is counted.
_NAMED: Final = 4


class Terms(msgspec.Struct, frozen=True):
    """What the words need to know: the plan's own value, the currency, which bookings are VOR; of each need, by its
    name, what it is, as `2 each Valve (V-1)`, and whose."""

    value: Value
    currency: str
    vor: Collection[int]
    things: Mapping[str, str]
    booking_of: Mapping[str, int]


def money_words(minor: int, currency: str) -> str:
    """Money with its currency: `12.40 EUR`."""
    return f"{amount.show_money(minor, currency)} {currency}"


def span_words(seconds: int) -> str:
    """So much time, in minutes begun: `40 min`, `3 h 5 min`, `3 days 2 h`."""
    minutes = -(-seconds // 60)
    if minutes < 120:
        return f"{minutes} min"
    hours, rest = divmod(minutes, 60)
    if hours < 48:
        return f"{hours} h {rest} min" if rest else f"{hours} h"
    days, hours = divmod(hours + (rest >= 30), 24)
    return f"{days} days {hours} h" if hours else f"{days} days"


def gap_words(gap: Gap, currency: str) -> str:
    """How far from proof a plan is, at most."""
    by = gap.value - gap.least
    vor = "VOR " if _is_of_vor(gap.field) else ""
    if gap.field.startswith(("short", "not_on_time")):
        state = "short" if gap.field.startswith("short") else "late or short"
        return _may(by, counted(gap.value, f"{vor}booking"), f"to be {state}")
    if gap.field.startswith("delay"):
        return f"the total delay{' of VOR bookings' if vor else ''} may be up to {span_words(by)} less than planned"
    if gap.field == "money":
        return f"it may cost up to {money_words(by, currency)} less than planned"
    return {
        "missing": _may(by, counted(gap.value, "line"), "to stay unfilled"),
        "missing_amount": "less may be missing than planned",
        "changes": _may(by, counted(gap.value, "hold"), "to be moved"),
        "use_by": "stock with earlier use-by days may be used up first",
        "lots": "earlier lots may be used up first",
        "preference": "items that are liked better may be taken",
    }[gap.field]


def _may(by: int, of: str, what: str) -> str:
    return f"up to {by} of {of} may not have {what}"


def cost_words(other: Otherwise, terms: Terms) -> str:
    """What another plan costs more than the one that was chosen, by the first level in which it is worse."""
    money = other.value.money - terms.value.money
    if not other.worse_in:
        return "as good"
    if other.worse_in == "money":
        return f"{money_words(money, terms.currency)} more"
    if other.worse_in in _FINER:
        return f"no dearer, but {_FINER[other.worse_in]}"
    saved = f", for {money_words(abs(money), terms.currency)} {'more' if money > 0 else 'less'}" if money else ""
    worse = [_fares(one, terms) for one in other.fares if _worse(one)]
    if worse:
        return listed(_few(worse, "booking", " would fare worse"), "and") + saved
    if other.worse_in == "missing":
        return f"{counted(other.by, 'line')} more would stay unfilled{saved}"
    return f"{_level(other, terms)}{saved}"


def lost_words(lost: Lost, terms: Terms) -> list[str]:
    """Why a booking is late or short, in sentences."""
    things = [terms.things.get(name, name) for name in lost.needs]
    state = "short" if lost.delay_s is None else f"{span_words(lost.delay_s)} late"
    if not lost.worked_out:
        return [f"Why it is {state} was not worked out in time."]
    if not things:
        return []
    # as many as would fill lines are named
    named = listed(_few(things, "line"), "and")
    other = lost.otherwise
    if other is None:
        sooner = f"{named}, whatever other bookings go without" if lost.delay_s is None else (
            f"{named} any sooner, whatever other bookings go without: it is {state}")
        return [f"Nothing that was offered brings {sooner}."]
    takers = sorted({terms.booking_of[one.need] for one in lost.taken_by} - {lost.booking})
    to = listed(_few([_called(one, terms) for one in takers], "booking"), "and") if takers else ""
    found = [f"It is {state} for want of {named}" + (f", which went to {to}." if to else ".")]
    were = f"Were it {'not short' if lost.goal == 'whole' else lost.goal}"
    cannot = "" if lost.goal == "on time" else "It can't be on time, whatever other bookings go without. "
    others = [one for one in other.fares if _worse(one) and one.booking != lost.booking]
    # where plans are as good as each other, bookings may change places that have nothing to do with this one
    worse = [_fares(one, terms) for one in [one for one in others if one.booking in takers] or others]
    because = f": {listed(_few(worse, 'booking', ' would fare worse'), 'and')}" if worse else ""
    if lost.tied:
        found.append(f"{cannot}{were}, bookings would be served as well{because}. Cost, or something finer, decided.")
    elif not other.worse_in:
        found.append(f"{cannot}{were}, the plan would be as good{because}.")
    else:
        found.append(f"{cannot}{were}, {_level(other, terms)}{because}.")
    return found


def _level(other: Otherwise, terms: Terms) -> str:
    """By which level of the objective a plan is worse, with what it has of it."""
    field = other.worse_in
    before, then = getattr(terms.value, field), getattr(other.value, field)
    vor = "VOR " if _is_of_vor(field) else ""
    if field.startswith("short"):
        return _count(before, then, vor, "short")
    if field.startswith("not_on_time"):
        return _count(before, then, vor, "late or short")
    if field.startswith("delay"):
        return f"all {vor}bookings together would be {span_words(other.by)} later"
    if field == "missing":
        return f"{counted(other.by, 'line')} more would stay unfilled"
    if field == "missing_amount":
        return "more would be missing"
    if field == "money":
        return f"it would cost {money_words(other.by, terms.currency)} more"
    return _FINER[field]


def _count(before: int, then: int, vor: str, state: str) -> str:
    return f"{counted(then, f'{vor}booking')} would be {state} instead of {before or 'none'}"


def _is_of_vor(field: str) -> bool:
    return "_vor" in field


def _worse(one: Fares) -> bool:
    return one.then_s is None or (one.delay_s is not None and one.then_s > one.delay_s)


def _fares(one: Fares, terms: Terms) -> str:
    name = _called(one.booking, terms)
    if one.then_s is None:
        return f"{name} would be short"
    before = one.delay_s or 0
    return f"{name} would be {span_words(one.then_s - before)} {'later' if before else 'late'}"


def _called(booking: int, terms: Terms) -> str:
    return f"booking {booking}{' (VOR)' if booking in terms.vor else ''}"


def _few(words: Sequence[str], noun: str, do: str = "") -> list[str]:
    left = len(words) - _NAMED
    return list(words) if left <= 0 else [*words[:_NAMED], f"{counted(left, f'other {noun}')}{do}"]
