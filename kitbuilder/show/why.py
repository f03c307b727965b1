"""The reasons of a line as text."""

from collections.abc import Mapping

from msgspec import UNSET

from kitbuilder.kit.why import RowTested, Tested, Why
from kitbuilder.model.sourced import LineSourced, Sourcing, Take
from kitbuilder.show.beside import beside_text, line_words
from kitbuilder.show.kit import SOURCES, chance_words
from kitbuilder.show.paper import Paper, listed
from kitbuilder.show.when import Groups, cells_words, when_words


def why_text(answer: Why, groups: Groups, findings: Mapping[str, str], paper: Paper,
             sources: Mapping[str, str] | None = None) -> str:
    """What came of the rows, then every row with its conditions. `findings` are the titles of findings; `sources`
    says of some facts how they are known, where their rank alone doesn't say it."""
    head = [paper.heading(line) for line in paper.wrap(f"Why {answer.asked} in {answer.job}?")]
    parts = [head, _outcome(answer, groups, findings, paper)]
    if answer.sourcing is not UNSET:
        parts.append(_sourcing(answer.sourcing, paper))
    parts += beside_text(answer, groups, findings, paper)
    for title, applies in (("ROWS THAT COUNT", "yes"), ("ROWS THAT MAY COUNT", "open"), ("ROWS THAT DON'T", "no")):
        rows = [row for row in answer.rows if row.applies == applies]
        if rows:
            parts.append([paper.heading(title)] + [
                line for row in rows for line in _row(row, groups, sources or {}, paper)])
    return "\n\n".join("\n".join(part) for part in parts if part) + "\n"


def _outcome(answer: Why, groups: Groups, findings: Mapping[str, str], paper: Paper) -> list[str]:
    lines: list[str] = []
    for line in answer.lines:
        what = f"{line.amount} {line.unit} {line.item or listed(line.acceptable)} ({line.name})"
        lines += paper.wrap(f"{what}, as {line.title}, at stage {line.stage}", 4, "  -")
        if line.finding is not None:
            title = findings.get(line.finding, line.finding)
            lines += paper.wrap(f"on condition: {title} (chance {chance_words(line.chance)})", 6)
        for said in line_words(line):
            lines += paper.wrap(said, 6)
        if line.certainty == "possible":
            lines += paper.wrap(f"only if {when_words(line.when, groups, answer.facts)}", 6)
    for one in answer.nothing:
        only = f", only if {when_words(one.when, groups, answer.facts)}" if one.certainty == "possible" else ""
        lines += paper.wrap(f"{one.title}: nothing is needed{only}", 4, "  -")
    for problem in answer.problems:
        lines += paper.wrap(f"Problem: {problem.text}", 4, "  -")
    return lines or paper.wrap("It is not in this kit.", 2)


def _row(row: RowTested, groups: Groups, sources: Mapping[str, str], paper: Paper) -> list[str]:
    what = row.item or f"the requirement {row.requirement}"
    last = ", where no other row does" if row.otherwise else ""
    through = f", through {' and '.join(row.through)}" if row.through else ""
    lines = paper.wrap(f"{row.file} line {row.row}: {what} for {row.role}{last}{through}", 4, "  -")
    if row.note:
        lines += paper.wrap(f"\"{row.note}\"", 6)
    for one in row.conditions:
        lines += paper.wrap(_condition(one, groups, sources), 6)
    if not row.otherwise and (more := _beyond_conditions(row)):
        lines += paper.wrap(more, 6)
    return lines


def _beyond_conditions(row: RowTested) -> str:
    """Why a row counts or not, where its conditions one by one don't say it."""
    holds = [one.holds for one in row.conditions]
    if row.applies == "yes":
        return "" if holds else "it has no conditions: it counts on every vehicle"
    if all(one == "yes" for one in holds):
        never = "never" if row.applies == "no" else "not always"
        return f"{never} asked: the job fills this role itself, or through another job that comes first"
    if row.applies == "no" and "no" not in holds:
        return "these can't all be so at once, or the role comes through another job first"
    return ""


def _condition(one: Tested, groups: Groups, sources: Mapping[str, str]) -> str:
    verdict = {"yes": "holds", "open": "open", "no": "fails"}[one.holds]
    known = cells_words(one.fact, one.known, groups) if one.source != "open" else ""
    source = sources.get(one.fact, SOURCES[one.source])
    said = f"it is {known} ({source})" if known else source
    return f"{one.fact} must be {one.cell}: {verdict}, {said}"


def _sourcing(answer: Sourcing, paper: Paper) -> list[str]:
    lines = [paper.heading("WHERE IT COMES FROM")]
    for line in answer.lines:
        lines += _line(line, paper)
    for text in answer.told:
        lines += paper.wrap(text, 2)
    return lines


def _line(line: LineSourced, paper: Paper) -> list[str]:
    what = f"{line.amount} {line.unit} {line.name}, as {line.title}, wanted {_when(line.wanted_at)}"
    lines = paper.wrap(what, 4, "  -")
    rows = [_take(take) for take in line.takes]
    if not rows and not line.told:
        rows = ["nothing is held or ordered for it"]
    if line.would_take is not None:
        would = listed([_take(take) for take in line.would_take], "and") or "nothing"
        rows.append(f"by the same quotes it would now take: {would}")
    if line.next_best is not None:
        takes = listed([_take(take) for take in line.next_best.takes], "and") or "to leave it unfilled"
        rows.append(f"next best: {takes}: {line.next_best.costs}")
    for text in (*rows, *line.lost, *line.told):
        lines += paper.wrap(text, 8, "      -")
    return lines


def _take(take: Take) -> str:
    what = f"{take.amount} {take.unit} {take.item}"
    lot = f", lot {take.lot}" if take.lot else ""
    state = "" if take.state == "offered" else take.state if take.order is None else f"order {take.order}, {take.state}"
    place = f", {take.where}" if take.where and not take.ready else ""
    here = f", here {_when(take.ready)}" if take.ready else ""
    return f"{what} from {take.source}{place}{lot}{here}{f' ({state})' if state else ''}"


def _when(moment: str) -> str:
    return moment.replace("T", " ")
