"""A kit as text: by stage, in whole words, what is still to be asked at the end, where the eye lands."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import NamedTuple

from msgspec import UNSET

from kitbuilder.calendar.ago import ago
from kitbuilder.model.catalogue import Stage
from kitbuilder.model.kit import Kit, Line, NotNeeded, Question, StockAnswer
from kitbuilder.show.command import pair
from kitbuilder.show.paper import Paper, counted, listed
from kitbuilder.show.when import Groups, cells_words, when_words

SOURCES = {
    "seen": "seen on the vehicle",
    "told": "told",
    "register": "from the register",
    "inferred": "follows from the rest",
    "open": "not known yet",
}
FIRST = "The maker's instructions, local codes and licensed practice come first."
_MOST_ANSWERS = 6
# columns: amount and number as a rule, and at most; the sort with the space before it
_USUAL_LEFT, _MOST_LEFT, _SORT = 25, 34, 15
# not strftime's: a kit reads the same in every locale
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


class _Stock(NamedTuple):
    """How stock answers are read: what counts as now, and the units of items."""

    now: datetime | None
    units: Mapping[str, str]


def kit_text(kit: Kit, title: str, stages: Sequence[Stage], groups: Groups, findings: Mapping[str, str],
             paper: Paper, *, inferred: Mapping[str, str] | None = None, now: datetime | None = None,
             units: Mapping[str, str] | None = None, hints: Sequence[str] = (), quiet: bool = False) -> str:
    """The whole kit. `findings` are the titles of findings; `inferred` says of inferred facts what they follow from;
    what is ready by `now` is there now; `units` are those that stock answers count items in, where a line has another;
    `hints` are what to type next, for the last lines."""
    stock = _Stock(now, units or {})
    parts = [_head(kit, title, paper)]
    if not quiet:
        parts.append(_known(kit, groups, inferred or {}, paper))
    parts.append(_cautions(kit, paper))
    parts += [_stage(stage, kit, groups, findings, stock, paper) for stage in stages]
    if kit.along is not UNSET:
        from kitbuilder.show.on_condition import along_text

        parts.append(along_text(kit.along, findings, paper))
    parts.append(_not_needed(kit, groups, paper))
    if any(isinstance(told, tuple) for told in (kit.exchange, kit.comes_off, kit.hazards)):
        from kitbuilder.show.beside import beside_text

        parts += beside_text(kit, groups, findings, paper)
    parts.append(_problems(kit, paper))
    parts.append(_questions(kit, paper, quiet))
    parts.append(_summary(kit, paper, hints, quiet))
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(kit: Kit, title: str, paper: Paper) -> list[str]:
    lines = [paper.heading(line) for line in paper.wrap(title)]
    return [*lines, f"Kit list for {kit.job}"]


def _known(kit: Kit, groups: Groups, inferred: Mapping[str, str], paper: Paper) -> list[str]:
    told = [one for one in kit.facts if one.source != "open"]
    if not told:
        return ["Nothing is known of the vehicle or the job yet."]
    wide = max(len(one.fact) for one in told) + 4
    lines = [paper.heading("WHAT IS KNOWN")]
    for one in told:
        source = inferred.get(one.fact) or SOURCES[one.source]
        words = f"{cells_words(one.fact, one.values, groups)} ({source})"
        lines += paper.wrap(words, wide, f"  {one.fact}")
    return lines


def _cautions(kit: Kit, paper: Paper) -> list[str]:
    lines = [paper.heading("BEFORE YOU START")]
    for one in kit.cautions:
        lines += paper.wrap(one.text, 4, "  -")
    if not any(FIRST[:-1] in one.text for one in kit.cautions):
        lines += paper.wrap(FIRST, 4, "  -")
    return lines


def _stage(stage: Stage, kit: Kit, groups: Groups, findings: Mapping[str, str], stock: "_Stock",
           paper: Paper) -> list[str]:
    wanted = [line for line in kit.lines if line.stage == stage.name]
    if not wanted:
        return []
    lines = [paper.heading(line) for line in paper.wrap(f"{stage.name.upper()} ({stage.minutes} min)")]
    for one in wanted:
        lines += _line(one, kit, groups, findings, stock, paper)
    return lines


def _line(line: Line, kit: Kit, groups: Groups, findings: Mapping[str, str], stock: "_Stock",
          paper: Paper) -> list[str]:
    lines = _row(f"{line.amount} {line.unit}", line.item or "see below", line.name, line.sort, paper)
    indent = 14
    if line.finding is not None:
        title = findings.get(line.finding, line.finding)
        lines += paper.wrap(f"on condition: {title} (chance {chance_words(line.chance)})", indent)
    if any(told is not UNSET for told in (line.fill, line.least, line.select, line.advised, line.weight, line.ports)):
        from kitbuilder.show.beside import line_words

        lines += [part for said in line_words(line) for part in paper.wrap(said, indent)]
    if line.certainty == "possible":
        lines += paper.wrap(f"only if {when_words(line.when, groups, kit.facts)}", indent)
    if line.item is None:
        lines += paper.wrap(
            f"take {listed(line.acceptable)}" if line.acceptable else "no item of the catalogue will do", indent)
    if isinstance(line.stock, tuple):
        lines += _stock(line, stock, paper, indent)
    return lines


def _row(amount: str, number: str, name: str, sort: str, paper: Paper) -> list[str]:
    """The columns of a line; amount and number stand on a line of their own where they leave the name no room."""
    left = f"  {amount:<9} {number:<12} "
    over = []
    if len(left) > _MOST_LEFT:
        over, left = [left.rstrip()], " " * _USUAL_LEFT
    room = paper.width - len(left) - _SORT
    first, *more = Paper(room).wrap(name)
    return [*over, f"{left}{first:<{room}}  {sort}", *(" " * len(left) + line for line in more)]


def _stock(line: Line, stock: _Stock, paper: Paper, indent: int) -> list[str]:
    lines = []
    assert isinstance(line.stock, tuple)
    together = {word.strip(":,") for word in " ".join(line.superseded).split()} if isinstance(
        line.superseded, tuple) else set()
    for text in line.superseded if isinstance(line.superseded, tuple) else ():
        lines += paper.wrap(text, indent)
    several = len({*line.acceptable, *(row.item for row in line.stock)}) > 1
    for row in line.stock:
        which = f" {row.item}" if several else ""
        if row.item not in line.acceptable:
            which += " (see above)" if row.item in together else " (new number, the old one first)"
        lines += paper.wrap(_stock_words(row, stock.units.get(row.item or "", line.unit), which, stock.now), indent)
    if line.short is None:
        lines += paper.wrap("SHORT? not known, as a source failed", indent)
    elif isinstance(line.short, str) and _is_short(line):
        lines += paper.wrap(f"SHORT by {_many(line.short, line.unit)}: no source has it", indent)
    return lines


def _is_short(line: Line) -> bool:
    """Whether no source has all of it. What is only advised is never short: nobody has asked for it yet."""
    return isinstance(line.short, str) and line.short != "0" and line.advised is not True


def _stock_words(row: StockAnswer, unit: str, which: str, now: datetime | None) -> str:
    if row.state == "failed":
        # without an age the whole source failed: the warning says why, once
        return f"{row.source}{which}: not known, {'the source failed' if row.age_s is None else row.error}"
    have = _many(row.quantity, unit) if row.quantity is not None else "as much as wanted"
    price = ""
    if row.price is not None:
        per = unit if row.per == "1" else _many(row.per or "", unit)
        price = f", {row.price} {row.currency} {per if per == 'each' else 'per ' + per}"
    age = f"; STALE, told {ago(row.age_s or 0)}" if row.state == "stale" else ""
    ready = f" {_moment(row.ready, now)}" if row.ready is not None else ""
    return f"{row.source}{which}: {have}{ready}{price}{age}"


def _moment(text: str, now: datetime | None) -> str:
    moment = datetime.fromisoformat(text)
    if now is not None and moment <= now:
        return "there now"
    day, month = _DAYS[moment.weekday()], _MONTHS[moment.month - 1]
    return f"from {day} {moment.day} {month} {moment:%H:%M}"


def _many(quantity: str, unit: str) -> str:
    """A quantity in a sentence, where single things need no unit."""
    return quantity if unit == "each" else f"{quantity} {unit}"


def chance_words(chance: str) -> str:
    """A chance as per cent, without decimals that nobody could know."""
    percent = float(chance) * 100
    if 0 < percent < 1:
        return "under 1 %"
    return "over 99 %" if 99 < percent < 100 else f"{round(percent)} %"


def _not_needed(kit: Kit, groups: Groups, paper: Paper) -> list[str]:
    if not kit.nothing:
        return []
    lines = [paper.heading("NOTHING NEEDED")]
    for one in kit.nothing:
        lines += paper.wrap(_not_needed_words(one, kit, groups), 4, "  -")
    return lines


def _not_needed_words(one: NotNeeded, kit: Kit, groups: Groups) -> str:
    notes = [reason.note for reason in one.because if reason.note]
    why = f": {notes[0]}" if notes else ""
    only = f" (only if {when_words(one.when, groups, kit.facts)})" if one.certainty == "possible" else ""
    return f"{one.title}{why}{only}"


def _problems(kit: Kit, paper: Paper) -> list[str]:
    if not kit.problems:
        return []
    lines = [paper.heading("THE CATALOGUE FAILS HERE; ASK WHOEVER KEEPS IT")]
    for one in kit.problems:
        sure = "" if one.certainty == "certain" else "Possibly: "
        lines += paper.wrap(sure + one.text, 4, "  -")
        example = ", ".join(f"{fact} {value}" for fact, value in one.witness.items())
        lines += paper.wrap(f"for example: {example}", 6)
    return lines


def _questions(kit: Kit, paper: Paper, quiet: bool) -> list[str]:
    if not kit.questions:
        return []
    lines = [paper.heading("ASK NEXT, the first settles most")]
    for number, one in enumerate(kit.questions, 1):
        lines += paper.wrap(one.question, 5, f"  {number}.")
        if one.where and not quiet:
            lines += paper.wrap(f"Look: {one.where}", 5)
        answers = one.answers[:_MOST_ANSWERS]
        more = f" and {len(one.answers) - len(answers)} more" if len(one.answers) > len(answers) else ""
        lines += paper.wrap(f"Answers: {', '.join(answers)}{more}", 5)
        lines += paper.wrap(f"Type: {_to_type(one)}", 5)
    return lines


def _to_type(question: Question) -> str:
    first, is_run, _ = question.answers[0].partition(" to ")
    if is_run:
        return f"--fact {question.fact}=… (one value, written as {first}, or a part of the answers)"
    return f"--fact {pair(question.fact, first)}"


def _summary(kit: Kit, paper: Paper, hints: Sequence[str], quiet: bool) -> list[str]:
    needed = [line for line in kit.lines if line.advised is not True]
    sure = sum(line.certainty == "certain" and line.finding is None for line in needed)
    condition = sum(line.certainty == "certain" and line.finding is not None for line in needed)
    possible = sum(line.certainty == "possible" for line in needed)
    advised = len(kit.lines) - len(needed)
    said = [f"{counted(sure, 'line')} certain"]
    if condition:
        said.append(f"{condition} on condition")
    if possible:
        hung = len({fact for line in needed for fact in line.hangs_on})
        said.append(f"{possible} hanging on {counted(hung, 'fact')} not known")
    if advised:
        said.append(f"{advised} advised")
    short = [line for line in kit.lines if _is_short(line)]
    if short:
        said.append(f"{len(short)} short")
    if kit.problems:
        said.append(counted(len(kit.problems), "problem"))
    state = "COMPLETE" if kit.complete else "NOT COMPLETE YET"
    lines = [paper.heading(line) for line in paper.wrap(f"{state}: {', '.join(said)}.")]
    if not quiet:
        for hint in hints:
            lines += paper.wrap(hint)
        lines.append(f"Edition {kit.edition[:12]}, kit {kit.fingerprint[:12]}")
    return lines
