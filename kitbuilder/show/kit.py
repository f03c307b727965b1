"""A kit as text: by stage, in whole words, what is still to be asked at the end, where the eye lands."""

from collections.abc import Mapping, Sequence
from datetime import datetime

from kitbuilder.model.catalogue import Stage
from kitbuilder.model.kit import Kit, Line, NotNeeded, Question, StockAnswer, When
from kitbuilder.show.paper import Paper, counted, listed

Groups = Mapping[str, Mapping[tuple[str, ...], str]]
"""For each fact, the names of its groups by their cells."""

SOURCES = {
    "seen": "seen on the vehicle",
    "told": "told",
    "register": "from the register",
    "inferred": "follows from the rest",
    "open": "not known yet",
}
FIRST = "The maker's instructions, local codes and licensed practice come first."
_MOST_ANSWERS = 6
# not strftime's: a kit reads the same in every locale
_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def kit_text(kit: Kit, title: str, stages: Sequence[Stage], groups: Groups, findings: Mapping[str, str],
             paper: Paper, *, inferred: Mapping[str, str] | None = None, now: datetime | None = None, hints: Sequence[str] = (),
             quiet: bool = False) -> str:
    """The whole kit. `findings` are the titles of findings; `inferred` says of inferred facts what they follow from;
    what is ready by `now` is there now; `hints` are what to type next, for the last lines."""
    parts = [_head(kit, title, paper)]
    if not quiet:
        parts.append(_known(kit, groups, inferred or {}, paper))
    parts.append(_cautions(kit, paper))
    parts += [_stage(stage, kit, groups, findings, now, paper) for stage in stages]
    parts.append(_not_needed(kit, groups, paper))
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


def _stage(stage: Stage, kit: Kit, groups: Groups, findings: Mapping[str, str], now: datetime | None,
           paper: Paper) -> list[str]:
    wanted = [line for line in kit.lines if line.stage == stage.name]
    if not wanted:
        return []
    lines = [paper.heading(f"{stage.name.upper()} ({stage.minutes} min)")]
    for one in wanted:
        lines += _line(one, groups, findings, now, paper)
    return lines


def _line(line: Line, groups: Groups, findings: Mapping[str, str], now: datetime | None, paper: Paper) -> list[str]:
    amount = f"{line.amount} {line.unit}"
    number = line.item or "by spec"
    left = f"  {amount:<9} {number:<12} "
    room = paper.width - len(left) - 15
    name = Paper(room).wrap(line.name)
    lines = [f"{left}{name[0]:<{room}}  {line.sort}"]
    lines += [" " * len(left) + more for more in name[1:]]
    indent = 14
    if line.finding is not None:
        title = findings.get(line.finding, line.finding)
        lines += paper.wrap(f"on condition: {title} (chance {line.chance})", indent)
    if line.certainty == "possible":
        lines += paper.wrap(f"only if {when_words(line.when, groups)}", indent)
    if line.item is None:
        lines += paper.wrap(
            f"take {listed(line.acceptable)}" if line.acceptable else "no item of the catalogue will do", indent)
    if isinstance(line.stock, tuple):
        lines += _stock(line, now, paper, indent)
    return lines


def _stock(line: Line, now: datetime | None, paper: Paper, indent: int) -> list[str]:
    lines = []
    several = len(line.acceptable) > 1
    assert isinstance(line.stock, tuple)
    for row in line.stock:
        lines += paper.wrap(_stock_words(row, line.unit, several, now), indent)
    if line.short is None:
        lines += paper.wrap("SHORT? not known, as a source failed", indent)
    elif line.short != "0":
        lines += paper.wrap(f"SHORT by {line.short} {line.unit}: no source has it", indent)
    return lines


def _stock_words(row: StockAnswer, unit: str, several: bool, now: datetime | None) -> str:
    which = f" {row.item}" if several else ""
    if row.state == "failed":
        return f"{row.source}{which}: not known ({row.error})"
    have = f"{row.quantity} {unit}" if row.quantity is not None else "as much as wanted"
    price = ""
    if row.price is not None:
        per = unit if row.per == "1" else f"{row.per} {unit}"
        price = f", {row.price} {row.currency} {per if per == 'each' else 'per ' + per}"
    age = f"; STALE, told {_age(row.age_s)} ago" if row.state == "stale" else ""
    ready = f" {_moment(row.ready, now)}" if row.ready is not None else ""
    return f"{row.source}{which}: {have}{ready}{price}{age}"


def _moment(text: str, now: datetime | None) -> str:
    moment = datetime.fromisoformat(text)
    if now is not None and moment <= now:
        return "there now"
    day, month = _DAYS[moment.weekday()], _MONTHS[moment.month - 1]
    return f"from {day} {moment.day} {month} {moment:%H:%M}"


def _age(seconds: int | None) -> str:
    hours = (seconds or 0) // 3600
    return f"{hours} h" if hours < 72 else f"{hours // 24} days"


def _not_needed(kit: Kit, groups: Groups, paper: Paper) -> list[str]:
    if not kit.nothing:
        return []
    lines = [paper.heading("NOTHING NEEDED")]
    for one in kit.nothing:
        lines += paper.wrap(_not_needed_words(one, groups), 4, "  -")
    return lines


def _not_needed_words(one: NotNeeded, groups: Groups) -> str:
    notes = [reason.note for reason in one.because if reason.note]
    why = f": {notes[0]}" if notes else ""
    only = f" (only if {when_words(one.when, groups)})" if one.certainty == "possible" else ""
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
    return f"--fact {shell(question.fact, first)}"


def shell(fact: str, cell: str) -> str:
    """A fact and its cell as they are typed after --fact."""
    plain = all(char.isalnum() or char in "-._" for char in cell)
    return f"{fact}={cell}" if plain else f'{fact}="{cell}"'


def _summary(kit: Kit, paper: Paper, hints: Sequence[str], quiet: bool) -> list[str]:
    sure = sum(line.certainty == "certain" and line.finding is None for line in kit.lines)
    condition = sum(line.certainty == "certain" and line.finding is not None for line in kit.lines)
    possible = sum(line.certainty == "possible" for line in kit.lines)
    said = [f"{counted(sure, 'line')} certain"]
    if condition:
        said.append(f"{condition} on condition")
    if possible:
        hung = len({fact for line in kit.lines for fact in line.hangs_on})
        said.append(f"{possible} hanging on {counted(hung, 'fact')} not known")
    short = [line for line in kit.lines if isinstance(line.short, str) and line.short != "0"]
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


def when_words(when: When, groups: Groups) -> str:
    """Branches as a person says them."""
    branches = [
        " and ".join(f"{fact} is {cells_words(fact, cells, groups)}" for fact, cells in branch.items())
        for branch in when
    ]
    return "; or ".join(branches)


def cells_words(fact: str, cells: tuple[str, ...], groups: Groups) -> str:
    """Cells as a person says them: the name of the group that is just these, else the values."""
    return groups.get(fact, {}).get(tuple(cells)) or listed(cells)
