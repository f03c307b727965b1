"""The ways to one goal as text, for the house: side by side where they fit, else one below the other."""

from collections.abc import Callable, Mapping, Sequence
from datetime import datetime

from kitbuilder.model.options import MayTurnOut, Options, Span, Way
from kitbuilder.show.kit import FIRST, chance_words
from kitbuilder.show.paper import Paper, counted, listed

# the column of labels, the space between columns, and the least that a column of words needs
_LABELS, _GAP, _LEAST = 20, 2, 17
_DEAREST = 5


def options_text(options: Options, titles: Mapping[str, str], paper: Paper, *, hints: Sequence[str] = (),
                 quiet: bool = False) -> str:
    """The whole comparison. `titles` are those of findings; `hints` are what to type next, for the last lines."""
    parts = [_head(options, paper), _table(options, paper)]
    parts += [_more(way, options, titles, paper) for way in options.ways]
    if not quiet:
        parts.append(_how(options, hints, paper))
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _head(options: Options, paper: Paper) -> list[str]:
    ways = counted(len(options.ways), "way")
    lines = [paper.heading(line) for line in paper.wrap(f"{ways} to {options.goal}, in {options.currency}")]
    if len(options.ways) == 1:
        lines += paper.wrap("No other job type has this goal, so there is nothing to compare it with.")
    if options.start is not None:
        lines += paper.wrap(f"If the work starts on {moment(options.start)}.")
    return lines


def _table(options: Options, paper: Paper) -> list[str]:
    tax = f"{options.tax} %" if options.tax else ""
    rows: list[tuple[str, Callable[[Way], str]]] = [
        ("Parts", lambda way: span(way.choice.sums.parts)),
        ("Labour", lambda way: span(way.choice.sums.labour) if way.choice.sums.labour else "no rate is set"),
        ("Planned minutes", _minutes),
        (f"Tax {tax}".rstrip(), lambda way: span(way.choice.sums.tax) if way.choice.sums.tax else "no tax is set"),
        ("Total", lambda way: span(way.choice.sums.total)),
        ("Without a price", lambda way: _none_or(counted(len(way.choice.unpriced), "line"), way.choice.unpriced)),
        ("What may turn out, on average", lambda way: way.choice.sums.expected_extra),
        ("Total on average", lambda way: span(way.choice.sums.expected_total)),
        ("Deposits, apart", lambda way: span(way.choice.sums.deposits)),
        ("Earliest finish", lambda way: _finish(way, options)),
        ("Chance of a second strip-down", lambda way: _strip_down(way, options)),
    ]
    if any(way.cost for way in options.ways):
        rows.append(("Our cost of parts", _cost))
    if any(way.choice.hangs_on for way in options.ways):
        rows.append(("Still hangs on", lambda way: _none_or(listed(way.choice.hangs_on, "and"), way.choice.hangs_on)))
    column = (paper.width - _LABELS) // len(options.ways) - _GAP
    if column >= _LEAST:
        return _beside(options.ways, rows, column, paper)
    lines: list[str] = []
    for way in options.ways:
        lines += [*([""] if lines else []), *(paper.heading(line) for line in paper.wrap(way.choice.title))]
        for label, told in rows:
            lines += paper.wrap(told(way), 34, f"  {label}")
    return lines


def _beside(ways: Sequence[Way], rows: Sequence[tuple[str, Callable[[Way], str]]], column: int,
            paper: Paper) -> list[str]:
    labels, cells = Paper(_LABELS - _GAP), Paper(column)

    def row(label: str, told: Sequence[str]) -> list[str]:
        blocks = [labels.wrap(label), *(cells.wrap(one) for one in told)]
        tall = max(len(block) for block in blocks)
        blocks = [block + [""] * (tall - len(block)) for block in blocks]
        return [
            "".join([f"{one[0]:<{_LABELS}}", *(f"{cell:<{column + _GAP}}" for cell in one[1:])]).rstrip()
            for one in zip(*blocks, strict=True)]

    lines = [paper.heading(line) for line in row("", [way.choice.title for way in ways])]
    for label, told in rows:
        lines += row(label, [told(way) for way in ways])
    return lines


def _none_or(text: str, told: Sequence[str]) -> str:
    return text if told else "none"


def _minutes(way: Way) -> str:
    least, most = (sum(getattr(one, which) for one in way.choice.stages) for which in ("least", "most"))
    return str(least) if least == most else f"{least} to {most}"


def _finish(way: Way, options: Options) -> str:
    choice = way.choice
    if options.start is None:
        return "no site is set"
    if choice.finish is None:
        return "not known, a source failed" if any(one.why == "a source failed" for one in way.waits) \
            else "none: something never comes"
    latest = f", at the latest {moment(choice.finish_latest)}" if choice.finish_latest not in (None, choice.finish) \
        and choice.finish_latest else ""
    return moment(choice.finish) + latest


def _strip_down(way: Way, options: Options) -> str:
    chance = chance_words(way.strip_down.chance)
    return chance if options.asked else f"up to {chance}, as no stock was asked"


def _cost(way: Way) -> str:
    if not way.cost:
        return "not known"
    without = f", {counted(len(way.cost.unpriced), 'line')} without a price" if way.cost.unpriced else ""
    return span(way.cost.parts) + without


def _more(way: Way, options: Options, titles: Mapping[str, str], paper: Paper) -> list[str]:
    choice = way.choice
    lines = [paper.heading(line) for line in paper.wrap(f"{choice.title.upper()} ({choice.job})")]
    for one in way.problems:
        lines += _item(f"THE CATALOGUE FAILS HERE: {one}", paper)
    for wait in way.waits:
        what = f"{wait.stage} waits for {wait.amount} {wait.unit} {wait.name}"
        lines += _item(f"{what}, until {moment(wait.until)}" if wait.until else f"{what}: {wait.why}", paper)
    if choice.unpriced:
        lines += _item(f"{counted(len(choice.unpriced), 'line')} without a price, in no sum: "
                       f"{'; '.join(choice.unpriced)}", paper)
    if way.cost and way.cost.unpriced:
        lines += _item(f"{counted(len(way.cost.unpriced), 'line')} that no source has a price for, not in our cost: "
                       f"{'; '.join(way.cost.unpriced)}", paper)
    possible = sorted((part for part in choice.parts if part.certainty == "possible" and part.price),
                      key=lambda part: -_figure(part.price.most if part.price else "0"))
    if possible:
        lines += _item(f"{counted(len(possible), 'line')} only possible, the dearest:", paper)
        for part in possible[:_DEAREST]:
            price = span(part.price) if part.price else ""
            lines += paper.wrap(f"{part.name}: {price}, hangs on {listed(part.hangs_on, 'and')}", 8, "      -")
    for due in choice.deposits:
        back = f", if the old unit is back by {day(due.back_by)}" if due.back_by else ", if the old unit comes back"
        only = f" (only if: {titles.get(due.finding, due.finding)})" if due.finding else \
            " (only possible)" if due.certainty == "possible" else ""
        tax = f" and {due.tax} tax" if _figure(due.tax) else ""
        lines += _item(f"deposit {due.deposit}{tax} for {due.name}{only}, paid back{back}", paper)
    for turn in choice.may_turn_out:
        lacking = options.asked and turn.finding in way.strip_down.findings
        lines += _item(turn_words(turn) + (" (not at hand when its stage starts)" if lacking else ""), paper)
    for advised in choice.advised:
        price = span(advised.price) if advised.price else "no price"
        lines += _item(f"advised while it is open, in no sum: {advised.title}, {price}", paper)
    return lines if len(lines) > 1 else []


def _figure(money: str) -> int:
    """Money as a whole number, to compare it with money of the same currency."""
    return int(money.replace(".", ""))


def _item(text: str, paper: Paper) -> list[str]:
    return paper.wrap(text, 4, "  -")


def turn_words(turn: MayTurnOut) -> str:
    """What may turn out, with its chance and what it adds."""
    if turn.turns_into:
        adds = f"it then becomes: {turn.turns_into}, which adds {span(turn.adds)}"
    else:
        adds = f"adds {span(turn.adds)}"
    without = f", and what has no price: {'; '.join(turn.unpriced)}" if turn.unpriced else ""
    return f"{turn.title} (chance {chance_words(turn.chance)}): {adds}{without}"


def _how(options: Options, hints: Sequence[str], paper: Paper) -> list[str]:
    lines = [paper.heading("HOW TO READ IT")]
    said = [
        "What the customer is charged: parts, labour, deposits and what may turn out are before tax, totals with it. "
        "Two figures are the least and the most over what is not known yet.",
        "On average: each finding's chance times what it adds. Work that a finding adds is in no catalogue, except "
        "where it turns the job into another.",
        "A second strip-down: the chance that something turns out for which a part is not at hand when its stage "
        "starts." + ("" if options.asked else " As no source was asked, none counts as at hand."),
    ]
    if not options.asked and options.start is not None:
        said.append("The finish assumes that every part is there.")
    for text in [*said, *hints, FIRST]:
        lines += _item(text.strip(), paper)
    return lines


def span(both: Span) -> str:
    """The least and the most, once where they are the same."""
    return both.least if both.least == both.most else f"{both.least} to {both.most}"


def moment(text: str) -> str:
    """A moment at the site: `Wed 11 Mar 14:20`."""
    at = datetime.fromisoformat(text)
    return f"{day(text)} {at:%H:%M}"


_DAYS = ("Mon", "Tue", "Wed", "Thu", "Fri", "Sat", "Sun")
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


def day(text: str) -> str:
    """A day, in the same words in every locale: `Wed 11 Mar 2026`."""
    at = datetime.fromisoformat(text)
    return f"{_DAYS[at.weekday()]} {at.day} {_MONTHS[at.month - 1]} {at.year}"
