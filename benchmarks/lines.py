"""In-process: a kit's lines, certain and possible, against one indexed SQL query and the rules engine zen-engine.

    python benchmarks/lines.py [--rounds 7]

All three get the same rows: those of one job type, once some 200 and once 10,000. Before anything is timed they must
give the same rows for every vehicle tried. SQL gets the best of three ways to index boxes with "any" cells and ranges
(measured first); zen-engine gets a decision table with the hit policy `collect`, one row a fit. The vehicles differ
from round to round.
"""

import argparse
import sqlite3
import statistics
import tempfile
from collections.abc import Callable, Sequence
from pathlib import Path
from time import perf_counter
from typing import Any

from catalogues import FACTS, make, vehicles
from timing import in_rounds, ratio, told

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.due import due
from kitbuilder.kit.lines import JobLines, KitLines, LineFound
from kitbuilder.model.catalogue import Fit
from kitbuilder.vehicle.facts import LISTED
from kitbuilder.vehicle.statements import TOLD, Statement

#: What the half-known vehicles lack: both facts of a joint, or neither, so that SQL can be right about them.
_LACKING = ({"chassis", "cab"}, {"emissions", "registered", "brakes"}, {"gearbox", "generation", "axles"},
            {"retarder", "power-take-off"}, {"place", "access"})

Vehicle = dict[str, str]
Found = list[tuple[str, str, str, int, str]]
"""Stage, role, key, certain, rows: sorted."""


class Table:
    """The rows of one job type, as a peer would be given them."""

    def __init__(self, edition: Edition, job: str) -> None:
        self.edition, self.job = edition, job
        needs = due(edition, job)
        everything = edition.space.all()
        self.rows: list[tuple[int, str, str, str, bool, bool, Fit]] = []
        for role in needs.roles:
            whole = role.role.takes == "one"
            for fit in role.fits:
                if not everything.within(fit.box).empty:
                    key = f"{fit.item or fit.requirement} {fit.amount} {fit.unit} {fit.finding or ''}"
                    self.rows.append((len(self.rows), role.ways[0].stage, role.role.name, key, whole, fit.nothing, fit))
        # an own fit and a shared one may stand on the same line of two files: places name rows
        self.place = {(fit.file, fit.row): number for number, *_, fit in self.rows}

    def lines(self, found: Sequence[LineFound]) -> Found:
        """Our answer as the peers give theirs."""
        return sorted(
            (one.stage, one.role,
             f"{one.key.item or one.key.requirement} {one.key.amount} {one.key.unit} {one.key.finding or ''}",
             int(one.certain), ",".join(str(n) for n in sorted(self.place[row] for row in one.rows))) for one in found)


def values(edition: Edition, vehicle: Vehicle) -> list[int]:
    """The place of each fact's value in its domain; -1 where it isn't known."""
    return [fact.read(vehicle[fact.name])[0][0] if fact.name in vehicle else -1 for fact in edition.facts]


class Sql:
    """An SQLite table in memory with one way of indexing boxes; `ask` gives all lines in one query."""

    def __init__(self, table: Table, way: str) -> None:
        self.way = way
        facts = table.edition.facts
        self._db = sqlite3.connect(":memory:", cached_statements=64)
        runs = [n for n, fact in enumerate(facts) if fact.kind != LISTED]
        sets = [n for n, fact in enumerate(facts) if fact.kind == LISTED]
        named = [sum(n in fit.box for *_, fit in table.rows) for n in range(len(facts))]
        best = sorted(sets, key=lambda n: -named[n])[:2] if way == "by values" else []
        boxes = sorted(range(len(facts)), key=lambda n: -named[n])[:5] if way == "r-tree" else []
        columns = ["id INTEGER", "row INTEGER", "stage TEXT", "role TEXT", "key TEXT", "whole INTEGER", "empty INTEGER",
                   "asks INTEGER", *(f"s{n} INTEGER" for n in sets), *(f"a{n} INTEGER, b{n} INTEGER" for n in runs),
                   *(f"v{n} INTEGER" for n in best)]
        keys = ["job INTEGER", *columns] if way != "r-tree" else columns
        self._db.execute(f"CREATE TABLE fit ({', '.join(keys)})")
        if boxes:
            corners_of = ", ".join(f"l{n}, h{n}" for n in boxes)
            self._db.execute(f"CREATE VIRTUAL TABLE tree USING rtree_i32(id, {corners_of})")
        marks: list[list[int | str]] = []
        tree: list[list[int]] = []
        for number, stage, role, key, whole, nothing, fit in table.rows:
            asks = sum(1 << n for n in fit.box)
            bits = [sum(1 << v for a, b in fit.box.get(n, facts[n].everything) for v in range(a, b + 1)) for n in sets]
            ends = [end for n in runs for end in fit.box.get(n, facts[n].everything)[0]]
            spread: list[list[int]] = [[]]
            for n in best:
                # "any" is -1; a set has a row a value
                some = [v for a, b in fit.box[n] for v in range(a, b + 1)] if n in fit.box else [-1]
                spread = [[*one, value] for one in spread for value in some]
            corners: list[list[int]] = [[]]
            for n in boxes:
                corners = [[*one, *run] for one in corners for run in fit.box.get(n, facts[n].everything)]
            for one in spread:
                for corner in corners:
                    tree.append([len(marks), *corner])
                    row: list[Any] = [len(marks), number, stage, role, key, whole, nothing, asks, *bits, *ends, *one]
                    marks.append(row if way == "r-tree" else [1, *row])
        self._db.executemany(f"INSERT INTO fit VALUES ({','.join('?' * len(marks[0]))})", marks)
        if boxes:
            self._db.execute("CREATE UNIQUE INDEX place ON fit (id)")
            self._db.executemany(f"INSERT INTO tree VALUES ({','.join('?' * len(tree[0]))})", tree)
        else:
            self._db.execute(f"CREATE INDEX place ON fit ({', '.join(['job', *(f'v{n}' for n in best)])})")
        self._db.execute("ANALYZE")
        self._boxes, self._best, self._runs = boxes, best, runs
        self._queries: dict[tuple[int, ...], str] = {}

    def _query(self, known: tuple[int, ...]) -> str:
        """The query for a vehicle of which just these facts are known; it tests no other."""
        tests = [f"v{n} IN (-1, :k{n})" for n in self._best if n in known]
        tests += [f"l{n} <= :k{n} AND h{n} >= :k{n}" for n in self._boxes if n in known]
        for n in known:
            if n not in self._boxes:
                tests.append(f":k{n} BETWEEN a{n} AND b{n}" if n in self._runs else f"s{n} >> :k{n} & 1")
        source = "tree JOIN fit USING (id) WHERE 1" if self._boxes else "fit WHERE job = 1"
        found = " AND ".join([f"SELECT DISTINCT row, stage, role, key, whole, empty, asks FROM {source}", *tests])
        if len(known) == len(FACTS):
            return f"SELECT stage, role, key, 1, group_concat(row) FROM ({found}) WHERE NOT empty GROUP BY role, key"
        # a role that every vehicle fills is certain if one key is left; another's line, if all that it asks is known
        return f"""WITH m AS ({found}), c AS (SELECT role, count(DISTINCT key) AS keys FROM m GROUP BY role)
            SELECT stage, role, key, max(CASE WHEN whole THEN keys = 1 ELSE NOT (asks & :lack) END), group_concat(row)
            FROM m JOIN c USING (role) WHERE NOT empty GROUP BY role, key"""

    def ask(self, known: list[int]) -> list[Any]:
        """All lines, as the rows of the answer."""
        there = tuple(n for n, value in enumerate(known) if value >= 0)
        query = self._queries.get(there)
        if query is None:
            query = self._queries[there] = self._query(there)
        told_ = {f"k{n}": known[n] for n in there}
        told_["lack"] = sum(1 << n for n, value in enumerate(known) if value < 0)
        return self._db.execute(query, told_).fetchall()


class Zen:
    """A decision table in zen-engine; `ask` gives the rows that apply."""

    def __init__(self, table: Table) -> None:
        import json

        import zen

        facts = table.edition.facts
        inputs = [{"id": f"i{n}", "name": fact.name, "field": f"f{n}"} for n, fact in enumerate(facts)]
        rules = []
        for number, *_, fit in table.rows:
            rule = {"_id": str(number), "o": str(number)}
            for n, fact in enumerate(facts):
                runs = fit.box.get(n)
                if runs is None:
                    rule[f"i{n}"] = ""
                elif fact.kind == LISTED:
                    rule[f"i{n}"] = ", ".join(json.dumps(word) for word in fact.cells(runs))
                else:
                    rule[f"i{n}"] = " or ".join(f"[{first}..{last}]" for first, last in runs)
            rules.append(rule)
        nodes = [
            {"id": "in", "name": "in", "type": "inputNode", "content": {}},
            {"id": "t", "name": "t", "type": "decisionTableNode", "content": {
                "hitPolicy": "collect", "inputs": inputs, "outputs": [{"id": "o", "name": "row", "field": "row"}],
                "rules": rules}},
            {"id": "out", "name": "out", "type": "outputNode", "content": {}}]
        edges = [{"id": "a", "sourceId": "in", "targetId": "t"}, {"id": "b", "sourceId": "t", "targetId": "out"}]
        self._decision = zen.ZenEngine().create_decision(json.dumps({"nodes": nodes, "edges": edges}))
        self._listed = [fact.kind == LISTED for fact in facts]
        self._names = [fact.name for fact in facts]

    def context(self, vehicle: Vehicle, known: list[int]) -> dict[str, Any]:
        """What it is told of a vehicle."""
        return {f"f{n}": vehicle[name] if listed else known[n]
                for n, (name, listed) in enumerate(zip(self._names, self._listed, strict=True))}

    def ask(self, context: dict[str, Any]) -> list[int]:
        """The numbers of the rows that apply."""
        return [one["row"] for one in self._decision.evaluate(context)["result"]]


def best_sql(table: Table, asked: Sequence[list[int]]) -> Sql:
    """The quickest way to index, of three."""
    ways = [Sql(table, way) for way in ("by job", "by values", "r-tree")]

    def call(one: Sql) -> Callable[[int], int]:
        return lambda number: len([one.ask(known) for known in asked])

    took = in_rounds({one.way: call(one) for one in ways}, 3)
    return min(ways, key=lambda one: statistics.median(took[one.way]))


def half(vehicle: Vehicle, number: int) -> Vehicle:
    """A vehicle of which some facts aren't known."""
    lacking = _LACKING[number % len(_LACKING)] | _LACKING[number // 5 % len(_LACKING)]
    return {name: value for name, value in vehicle.items() if name not in lacking}


def same(table: Table, ours: JobLines, sql: Sql, zen: Zen | None, asked: Sequence[Vehicle]) -> int:
    """Fail unless all give the same; how many lines a kit has, on average."""
    lines = 0
    for vehicle in asked:
        known = values(table.edition, vehicle)
        found = ours.lines(vehicle)
        wanted = table.lines(found)
        said = sorted((a, b, c, d, ",".join(sorted(e.split(","), key=int))) for a, b, c, d, e in sql.ask(known))
        if said != wanted:
            raise SystemExit(f"SQL and kitbuilder differ for {vehicle}:\n{set(said) ^ set(wanted)}")
        if zen is not None:
            nothing = {number for number, *_, none, _ in table.rows if none}
            rows = sorted(set(zen.ask(zen.context(vehicle, known))) - nothing)
            if rows != sorted(table.place[row] for one in found for row in one.rows):
                raise SystemExit(f"zen-engine and kitbuilder differ for {vehicle}")
        lines += len(found)
    return lines // len(asked)


def measure(edition: Edition, job: str, rounds: int, what: str, part: int, zen_asked: int) -> None:
    """Compare on one job type, all known and half known."""
    table = Table(edition, job)
    start = perf_counter()
    ours = KitLines(edition).job(job)
    print(f"{what}, laid out once: {told([perf_counter() - start])}")
    zen = Zen(table) if zen_asked else None
    for known, name in ((True, "all known"), (False, "half known")):
        sets = [[one if known else half(one, n) for n, one in enumerate(vehicles(seed, part))]
                for seed in range(rounds + 1)]
        asked = [[values(edition, one) for one in some] for some in sets]
        sql = best_sql(table, asked[0][:50])
        lines = same(table, ours, sql, zen if known else None, [*sets[0][:40], *sets[1][:40]])
        statements = [[[Statement(fact, cell, TOLD) for fact, cell in one.items()] for one in some] for some in sets]
        few = max(1, part // 100) if known else 1
        calls: dict[str, Callable[[int], int]] = {
            "lines": lambda n, s=sets: len([ours.lines(one) for one in s[n]]),
            "sql": lambda n, a=asked, q=sql: len([q.ask(one) for one in a[n]]),
            "kit": lambda n, s=statements, few=few: len([build_kit(edition, job, one) for one in s[n][:few]]),
        }
        if zen is not None and known:
            contexts = [[zen.context(one, said) for one, said in zip(some, places, strict=True)][:zen_asked]
                        for some, places in zip(sets, asked, strict=True)]
            calls["zen"] = lambda n, z=zen, c=contexts: len([z.ask(one) for one in c[n]])
        took = in_rounds(calls, rounds)
        print(f"{what}, {name}: {lines} lines of {len(table.rows):,} rows")
        print(f"  kitbuilder's lines  {told(took['lines']):>10}")
        print(f"  one SQL query       {told(took['sql']):>10}   ours / SQL {ratio(took['lines'], took['sql'])}; "
              f"target 1; {sql.way}")
        if "zen" in took:
            print(f"  zen-engine          {told(took['zen']):>10}   zen / ours {ratio(took['zen'], took['lines'])}; "
                  "target 100")
        print(f"  the whole kit       {told(took['kit']):>10}   with questions, chances, reasons")


def main() -> None:
    """Compare on a job type of the usual size and on one of 10,000 rows."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--rounds", type=int, default=7)
    rounds = parser.parse_args().rounds
    print("a kit's lines in-process (the same answer from all, checked first):")
    for fits, per_job, what, part, zen_asked in (
            (1_000, 500, "a large job type", 400, 40), (25_000, 12_500, "a table of 10,000 rows", 200, 5)):
        with tempfile.TemporaryDirectory() as folder:
            make(Path(folder), fits, per_job=per_job, sound=True, otherwise=0)
            edition = read_edition(Path(folder))
        measure(edition, edition.heading.jobs[0][0], rounds, what, part, zen_asked)


if __name__ == "__main__":
    main()
