"""Stock that is kept elsewhere, as text: where its numbers don't agree, what isn't issued there."""

from collections.abc import Sequence
from datetime import datetime

from kitbuilder.model.stock_elsewhere import Difference, Differences, ElsewhereReport, IssuesListed
from kitbuilder.show.paper import Paper, counted


def differences_text(answer: Differences, paper: Paper) -> str:
    """Where a source's stock isn't what it was less what was fetched from it."""
    if answer.since is None:
        return "\n".join(paper.wrap(
            f"The stock of {answer.source} is counted: {counted(answer.counted, 'item')}. From tomorrow on, "
            "differences can be told.")) + "\n"
    since = _moment(answer.since)
    if not answer.differences:
        return "\n".join(paper.wrap(
            f"No difference: {answer.source} has what it had at {since}, less what was fetched from it since.")) + "\n"
    lines = [paper.heading(f"{answer.source}: {counted(len(answer.differences), 'difference')} since {since}")]
    return "\n".join([*lines, *_differences(answer.differences, paper)]) + "\n"


def elsewhere_text(reports: Sequence[ElsewhereReport], paper: Paper) -> list[str]:
    """What a report tells of such stock, a paragraph for each source; nothing of one that was counted and agrees."""
    lines: list[str] = []
    for one in reports:
        if one.error:
            lines += paper.wrap(f"{one.source} couldn't be counted, so nobody knows whether it agrees: {one.error}.", 4,
                                "  -")
        elif one.differences and one.since is not None and one.counted_at is not None:
            lines += paper.wrap(
                f"{one.source}, counted {_moment(one.counted_at)}: {counted(len(one.differences), 'difference')} since "
                f"{_moment(one.since)}", 2)
            lines += _differences(one.differences, paper)
        for text in one.not_issued:
            lines += paper.wrap(f"{one.source}: {text}", 4, "  -")
    return ["", paper.heading("STOCK KEPT ELSEWHERE"), *lines] if lines else []


def _differences(found: Sequence[Difference], paper: Paper) -> list[str]:
    lines = []
    for one in found:
        less = one.more.startswith("-")
        what = f"{one.more[1:]} {one.unit} less: sold or used by others?" if less else (
            f"{one.more} {one.unit} more: " + (
                "received or counted again there?" if one.fetched == "0" else "was what was fetched issued there?"))
        had = f"had {one.before}, fetched {one.fetched}, so {one.expected} expected; has {one.now}"
        lines += paper.wrap(f"{one.item}: {had}, {what}", 4, "  -")
    return lines


def issues_text(answer: IssuesListed, paper: Paper) -> str:
    """What was taken and isn't issued where the stock is kept."""
    if not answer.issues:
        return "All that was taken from stock kept elsewhere is issued there.\n"
    lines = []
    for one in answer.issues:
        what = f"{one.amount} {one.unit} of {one.item}" + (f", lot {one.lot}" if one.lot else "")
        state = {"waiting": "not issued there", "unclear": "may not be issued there"}.get(one.state, "being told now")
        why = f": {one.said}" if one.said else ""
        lines += paper.wrap(f"{one.id:>4}  {one.source}: {what}, taken by {one.taken_by} at {_moment(one.taken_at)} "
                            f"for order {one.order}; {state}{why}", 6)
    return "\n".join(lines) + "\n"


def _moment(when: datetime) -> str:
    return f"{when:%Y-%m-%d %H:%M}" + (" UTC" if not when.utcoffset() else "")
