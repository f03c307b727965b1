"""What has changed in kits since the run before, in words: for a kit that is being picked or is picked, all of it."""

from collections.abc import Mapping

import msgspec

from kitbuilder.model.kit import Kit

#: So many changes of one kit are told; a kit that changed more is better read anew. Of one picked all are told:
#: somebody has to put right what lies in the tote.
TOLD = 6


class LineBefore(msgspec.Struct, frozen=True):
    """A line as it was: `filler` is its item or requirement, `amount` a decimal in `unit`, `acceptable` the items that
    may be taken, best first."""

    role: str
    filler: str
    finding: str
    name: str
    amount: str
    unit: str
    certain: bool
    stage: str = ""
    acceptable: tuple[str, ...] = ()


class Before(msgspec.Struct, frozen=True):
    """A kit as it was: its job type, its lines, what was certainly wrong with it; the edition it was built on."""

    job: str
    lines: tuple[LineBefore, ...]
    edition: str = ""
    problems: tuple[str, ...] = ()


def before_of(kit: Kit) -> Before:
    """What is kept of a kit to compare it later."""
    return Before(kit.job, tuple(
        LineBefore(line.role, line.item or line.requirement or "", line.finding or "", line.name, line.amount,
                   line.unit, line.certainty == "certain", line.stage, line.acceptable) for line in kit.lines),
        kit.edition, tuple(problem.text for problem in kit.problems))


def changes(booking: int, old: Before, new: Before, picked: str = "") -> str:
    """How a booking's kit changed, one sentence; empty if what it needs is the same.

    `picked`: "picking" or "picked" where what it needed lies in the tote already, or is on its way there.
    """
    lead = f"The kit of booking {booking} changed"
    if picked:
        why = " with the new catalogue" if old.edition and old.edition != new.edition else ""
        lead = f"Booking {booking} is {'being picked' if picked == 'picking' else 'picked'}, and its kit changed{why}"
    if old.job != new.job:
        return f"{lead}: its job is {new.job} instead of {old.job}."
    told = [*_lines(_by_key(old), _by_key(new))]
    told += [f"a problem: {text.rstrip('.')}" for text in new.problems if text not in old.problems]
    told += [f"no longer a problem: {text.rstrip('.')}" for text in old.problems if text not in new.problems]
    if not told:
        return ""
    if picked:
        return f"{lead}: {'; '.join(told)}. Put the tote right before it is checked."
    more = f"; and {len(told) - TOLD} changes more" if len(told) > TOLD else ""
    return f"{lead}: {'; '.join(told[:TOLD])}{more}."


_Lines = Mapping[tuple[str, str, str], list[LineBefore]]


def _by_key(kit: Before) -> _Lines:
    found: dict[tuple[str, str, str], list[LineBefore]] = {}
    for line in kit.lines:
        found.setdefault((line.role, line.filler, line.finding), []).append(line)
    return found


def _lines(was: _Lines, now: _Lines) -> list[str]:
    """Lines that came, went, and are otherwise than they were."""
    told = [f"now also {_all(now[key])}" for key in now if key not in was]
    told += [f"no longer {_all(was[key])}" for key in was if key not in now]
    for key in now:
        if key in was:
            told += _otherwise(was[key], now[key])
    return told


def _otherwise(was: list[LineBefore], now: list[LineBefore]) -> list[str]:
    """How lines of one role and thing differ."""
    told = []
    name = f"{now[0].name} ({now[0].filler})"
    if [(line.amount, line.unit) for line in was] != [(line.amount, line.unit) for line in now]:
        told.append(f"{_all(now)} instead of {_amounts(was)}")
    elif [line.certain for line in was] != [line.certain for line in now]:
        told.append(f"{name} is {'certain' if now[0].certain else 'only possible'} now")
    # what was kept by an earlier kitbuilder tells no stage
    stages = [[line.stage for line in lines] for lines in (was, now)]
    if stages[0] != stages[1] and all(stages[0]):
        told.append(f"{name} at {' and '.join(stages[1])!r} instead of {' and '.join(stages[0])!r}")
    accepted = [list(dict.fromkeys(number for line in lines for number in line.acceptable)) for lines in (was, now)]
    if accepted[0] != accepted[1] and all(stages[0]):
        took, takes = (", ".join(numbers) or "no item" for numbers in accepted)
        told.append(f"for {name} now {takes} may be taken, no longer {took}" if not set(accepted[0]) & set(accepted[1])
                    else f"for {name} now {takes} may be taken, was {took}")
    return told


def _amounts(lines: list[LineBefore]) -> str:
    return " + ".join(f"{line.amount} {line.unit}" for line in lines)


def _all(lines: list[LineBefore]) -> str:
    condition = f", if: {lines[0].finding}" if lines[0].finding else ""
    return f"{_amounts(lines)} of {lines[0].name} ({lines[0].filler}){condition}"
