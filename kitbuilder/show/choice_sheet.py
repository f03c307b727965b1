"""The customer's choice sheet, to be signed: as text, or as one page of HTML that prints as it stands.

It is drawn from a `ChoiceSheet` alone, which knows no cost, no supplier and no place of stock: what isn't there can't
get onto the sheet.
"""

from html import escape
from typing import NamedTuple

from kitbuilder.model.options import ChargedPart, Choice, ChoiceSheet, DepositDue, MayTurnOut, Span
from kitbuilder.show.kit import FIRST, chance_words
from kitbuilder.show.options import day, moment, span
from kitbuilder.show.paper import Paper, listed

_MAIN = ("part", "exchange unit", "software")
_LINE = "_" * 34


class _Block(NamedTuple):
    """One choice as both forms draw it: rows of words and figures, the last of them in bold; then lists."""

    title: str
    rows: list[tuple[str, str]]
    total: tuple[str, str]
    lists: list[tuple[str, list[str]]]


def sheet_text(sheet: ChoiceSheet) -> str:
    """The sheet as text, 80 columns wide."""
    paper = Paper(80)
    lines = ["YOUR CHOICE", "", *paper.wrap(_aim(sheet))]
    lines += [f"{label}: {value}" for label, value in _head(sheet)]
    for block in _blocks(sheet):
        lines += ["", "=" * paper.width, *paper.wrap(block.title), ""]
        for label, value in block.rows:
            lines += _row(label, value, paper)
        lines += ["-" * paper.width, *_row(block.total[0].upper(), block.total[1], paper)]
        for title, items in block.lists:
            lines += ["", *paper.wrap(title)]
            for item in items:
                lines += paper.wrap(item, 4, "  -")
        lines += ["", "[  ] We choose this."]
    lines += ["", "=" * paper.width]
    for text in _closing(sheet):
        lines += paper.wrap(text, 4, "  -")
    lines += ["", *(line for label in ("Name", "Date", "Signature") for line in (f"{label:<12}{_LINE}", ""))]
    return "\n".join(lines)


def _row(label: str, value: str, paper: Paper) -> list[str]:
    """Words on the left, the figure at the right edge; on a line of its own where the words leave it no room."""
    room = paper.width - len(value) - 2
    first, *more = Paper(max(room, 30)).wrap(label)
    return [f"{first:<{room}}  {value}", *("  " + line for line in more)]


def sheet_html(sheet: ChoiceSheet) -> str:
    """The sheet as one HTML page: no script, no file beside it; it prints on A4."""
    head = "".join(f"<div><dt>{escape(label)}</dt><dd>{escape(value)}</dd></div>" for label, value in _head(sheet))
    blocks = "".join(_html_block(block) for block in _blocks(sheet))
    closing = "".join(f"<li>{escape(text)}</li>" for text in _closing(sheet))
    sign = "".join(f"<div>{label}<span></span></div>" for label in ("Name", "Date", "Signature"))
    return (
        f'<!DOCTYPE html>\n<html lang="en">\n<head><meta charset="utf-8">'
        f'<meta name="viewport" content="width=device-width, initial-scale=1">'
        f"<title>{escape('Your choice: ' + sheet.goal)}</title>\n<style>{_STYLE}</style></head>\n<body>\n"
        f"<h1>Your choice</h1>\n<p class=\"aim\">{escape(_aim(sheet))}</p>\n<dl>{head}</dl>\n{blocks}"
        f"<footer><ul>{closing}</ul>\n<div class=\"sign\">{sign}</div></footer>\n</body>\n</html>\n")


def _html_block(block: _Block) -> str:
    rows = "".join(f"<tr><th>{escape(label)}</th><td>{escape(value)}</td></tr>" for label, value in block.rows)
    total = f'<tr class="total"><th>{escape(block.total[0])}</th><td>{escape(block.total[1])}</td></tr>'
    lists = "".join(
        f"<h3>{escape(title)}</h3><ul>{''.join(f'<li>{escape(item)}</li>' for item in items)}</ul>"
        for title, items in block.lists)
    return (f"<section><h2>{escape(block.title)}</h2>\n<table>{rows}{total}</table>\n{lists}"
            '<p class="choose"><span></span>We choose this.</p></section>\n')


_STYLE = """
@page { size: A4; margin: 16mm }
body { font: 15px/1.45 Georgia, "Times New Roman", serif; color: #1d1d1b; max-width: 46em; margin: 2em auto;
  padding: 0 1.2em }
h1 { font-size: 1.9em; margin: 0 } h2 { font-size: 1.2em; margin: 0 0 .5em } h3 { font-size: 1em; margin: 1em 0 .2em }
.aim { margin: .2em 0 1em } dl { display: flex; flex-wrap: wrap; gap: .3em 2.4em; margin: 0 0 1.4em }
dt { font-size: .8em; color: #55524c } dd { margin: 0 }
section { border-top: 3px solid #1d1d1b; padding: 1em 0 1.2em; break-inside: avoid }
table { border-collapse: collapse; width: 100% } tr { border-bottom: 1px solid #d9d5cc }
th { text-align: left; font-weight: normal; padding: .25em 1em .25em 0 }
td { text-align: right; white-space: nowrap; font-variant-numeric: tabular-nums; padding: .25em 0; vertical-align: top }
.total th, .total td { font-weight: bold; font-size: 1.1em; border-top: 2px solid #1d1d1b }
ul { margin: .2em 0; padding-left: 1.2em } 
footer { border-top: 3px solid #1d1d1b; padding-top: 1em; break-inside: avoid }
.choose { margin: 1.2em 0 0; font-weight: bold } .choose span { display: inline-block; width: 1.1em; height: 1.1em;
  border: 2px solid #1d1d1b; margin-right: .6em; vertical-align: text-bottom }
.sign { display: flex; gap: 2em; margin-top: 2.6em } .sign div { flex: 1; font-size: .85em }
.sign span { display: block; border-bottom: 1px solid #1d1d1b; height: 2.2em }
@media print { body { margin: 0; padding: 0; max-width: none; font-size: 11pt } }
"""


def _aim(sheet: ChoiceSheet) -> str:
    ways = len(sheet.choices)
    return f"There {'is one way' if ways == 1 else f'are {ways} ways'} to {sheet.goal}. Please choose before we start."


def _head(sheet: ChoiceSheet) -> list[tuple[str, str]]:
    vehicle = [("Vehicle", sheet.vehicle)] if sheet.vehicle else []
    return [*vehicle, ("Date", day(sheet.day)), ("Prices in", sheet.currency)]


def _blocks(sheet: ChoiceSheet) -> list[_Block]:
    return [_block(number, choice, sheet) for number, choice in enumerate(sheet.choices, 1)]


def _block(number: int, choice: Choice, sheet: ChoiceSheet) -> _Block:
    sums = choice.sums
    titles = {turn.finding: turn.title for turn in choice.may_turn_out}
    rows = [
        (f"{_many(part)} {part.name}{'' if part.certainty == 'certain' else ', only if needed'}",
         span(part.price)) for part in choice.parts if part.price and part.sort in _MAIN]
    rows += [
        ("Small parts, fluids and materials", span(sums.small)), ("Parts and materials together", span(sums.parts)),
        (f"Labour, {_minutes(choice)} minutes planned", _span(sums.labour)),
        ("Without tax", span(sums.net)), (f"Tax, {sheet.tax} %", _span(sums.tax))]
    finish = "not known yet; please ask us" if choice.finish is None else f"at the earliest {moment(choice.finish)}"
    if choice.finish and choice.finish_latest and choice.finish_latest != choice.finish:
        finish += f", at the latest {moment(choice.finish_latest)}"
    later = "; later if something turns out" if choice.finish and choice.may_turn_out else ""
    there = " if all parts are there" if sheet.all_there and choice.finish else ""
    lists = [("When it can be done", [f"{finish}{there}{later}"])]
    if choice.deposits:
        lists.append(("Deposits, not in the total", [_deposit(due, titles) for due in choice.deposits]))
    if choice.may_turn_out:
        lists.append(("What may turn out once it is open, not in the total (prices with tax)",
                      [*(_turn(turn) for turn in choice.may_turn_out),
                       f"With each counted by its chance, the total is {span(sums.expected_total)} on average."]))
    if choice.advised:
        lists.append(("Worth renewing while it is open, if you wish, not in the total (prices with tax)",
                      [f"[  ] {one.title}: {_span(one.total, 'price on request')}" for one in choice.advised]))
    if choice.unpriced:
        lists.append(("Also needed; its price we still have to tell you, it is not in the total",
                      list(choice.unpriced)))
    if choice.hangs_on:
        facts = listed(choice.hangs_on, "and")
        lists.append(("Why two figures", [f"the price still hangs on what we don't know yet: {facts}"]))
    return _Block(f"Choice {number}: {choice.title}", rows, ("Total with tax", span(sums.total)), lists)


def _many(part: ChargedPart) -> str:
    return f"{part.amount} ×" if part.unit == "each" else f"{part.amount} {part.unit}"


def _span(both: Span | None, nothing: str = "not known") -> str:
    return span(both) if both else nothing


def _minutes(choice: Choice) -> str:
    least, most = sum(one.least for one in choice.stages), sum(one.most for one in choice.stages)
    return str(least) if least == most else f"{least} to {most}"


def _deposit(due: DepositDue, titles: dict[str, str]) -> str:
    only = f"only if it turns out: {titles.get(due.finding, due.finding)}; " if due.finding else \
        "may be needed; " if due.certainty == "possible" else ""
    back = f"is back by {day(due.back_by)}" if due.back_by else "is back"
    state = f", {listed(due.state, 'and')}" if due.state else ""
    tax = f" and {due.tax} tax on it" if due.tax.strip("0.") else ""
    return f"{due.deposit}{tax} for {due.name}: {only}paid back if your old unit, like for like, {back}{state}"


def _turn(turn: MayTurnOut) -> str:
    becomes = f" It then becomes: {turn.turns_into}." if turn.turns_into else ""
    without = f" Without a price yet: {'; '.join(turn.unpriced)}." if turn.unpriced else ""
    return f"{turn.title}, chance {chance_words(turn.chance)}: {span(turn.adds_total)} more.{becomes}{without}"


def _closing(sheet: ChoiceSheet) -> list[str]:
    deposit = "A deposit carries no tax unless it is kept: then tax is added (a rule of this house)." \
        if sheet.deposit_rule == "when kept" else "Deposits carry tax, which is paid back with them."
    deposits = [deposit] if any(choice.deposits for choice in sheet.choices) else []
    return [
        "Not included: deposits, what may turn out, what is only worth renewing, recovery, and any other work you ask "
        "for.",
        "We ask you before we do anything that is not in the total.", *deposits,
        "Chances are what is seen as a rule, not a promise. Two figures are the least and the most.", FIRST]
