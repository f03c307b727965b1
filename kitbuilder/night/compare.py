"""What has changed in kits since the run before, in words."""

from collections.abc import Mapping

import msgspec

from kitbuilder.model.kit import Kit

#: So many changes of one kit are told; a kit that changed more is better read anew.
TOLD = 6


class LineBefore(msgspec.Struct, frozen=True):
    """A line as it was: `filler` is its item or requirement, `amount` a decimal in `unit`."""

    role: str
    filler: str
    finding: str
    name: str
    amount: str
    unit: str
    certain: bool


class Before(msgspec.Struct, frozen=True):
    """A kit as it was: its job type, its lines."""

    job: str
    lines: tuple[LineBefore, ...]


def before_of(kit: Kit) -> Before:
    """What is kept of a kit to compare it later."""
    return Before(kit.job, tuple(
        LineBefore(line.role, line.item or line.requirement or "", line.finding or "", line.name, line.amount,
                   line.unit, line.certainty == "certain") for line in kit.lines))


def changes(booking: int, old: Before, new: Before) -> str:
    """How a booking's kit changed, one sentence; empty if what it needs is the same."""
    if old.job != new.job:
        return f"The kit of booking {booking} changed: its job is {new.job} instead of {old.job}."
    was, now = _by_key(old), _by_key(new)
    told = [f"now also {_all(now[key])}" for key in now if key not in was]
    told += [f"no longer {_all(was[key])}" for key in was if key not in now]
    for key in now:
        if key not in was:
            continue
        if [(line.amount, line.unit) for line in was[key]] != [(line.amount, line.unit) for line in now[key]]:
            told.append(f"{_all(now[key])} instead of {_amounts(was[key])}")
        elif [line.certain for line in was[key]] != [line.certain for line in now[key]]:
            sure = "certain" if now[key][0].certain else "only possible"
            told.append(f"{now[key][0].name} ({now[key][0].filler}) is {sure} now")
    if not told:
        return ""
    more = f"; and {len(told) - TOLD} changes more" if len(told) > TOLD else ""
    return f"The kit of booking {booking} changed: {'; '.join(told[:TOLD])}{more}."


def _by_key(kit: Before) -> Mapping[tuple[str, str, str], list[LineBefore]]:
    found: dict[tuple[str, str, str], list[LineBefore]] = {}
    for line in kit.lines:
        found.setdefault((line.role, line.filler, line.finding), []).append(line)
    return found


def _amounts(lines: list[LineBefore]) -> str:
    return " + ".join(f"{line.amount} {line.unit}" for line in lines)


def _all(lines: list[LineBefore]) -> str:
    condition = f", if: {lines[0].finding}" if lines[0].finding else ""
    return f"{_amounts(lines)} of {lines[0].name} ({lines[0].filler}){condition}"
