"""Drafts a job type from past jobs: its roles, their fits with the evidence for each, and what it can't tell."""

import math
from collections import Counter
from collections.abc import Hashable, Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.bringing_in.asked import Asked
from kitbuilder.bringing_in.chance import wilson
from kitbuilder.bringing_in.conditions import rows_of, words_of
from kitbuilder.bringing_in.groups import group_items, guessed_sort, place_name
from kitbuilder.bringing_in.past import PastJob
from kitbuilder.bringing_in.rules import BELIEVED, Cell, Ruling, Split, decide_by_facts
from kitbuilder.model.bringing_in import DraftedFinding, DraftedFit, DraftedRole
from kitbuilder.model.catalogue import NOTHING, Item
from kitbuilder.vehicle.facts import LISTED, Fact

#: One job in so many may lack what is needed every time: a line that was forgotten.
_FORGOTTEN_ONE_IN = 25
#: An amount that so large a share of jobs had is the amount.
_USUAL = 0.9
#: Where so many had it and the others had more, it is the amount, and the rest is on a finding.
_MOSTLY = 0.6
#: An amount that fewer jobs had isn't one that facts decide.
_SELDOM = 0.1
#: So many amounts of one item are looked at for what facts decide them.
_AMOUNTS = 4


class Draft(msgspec.Struct, frozen=True):
    """What past jobs say of a job type. `fills` are roles whose amount varies, measured: fills to a level."""

    roles: tuple[DraftedRole, ...]
    findings: tuple[DraftedFinding, ...]
    fits: tuple[DraftedFit, ...]
    least: dict[tuple[str, str], str]
    questions: tuple[str, ...]

    @property
    def fills(self) -> frozenset[str]:
        """The roles that fill something to a level."""
        return frozenset(role for role, _ in self.least)


def draft_job(job: str, jobs: Sequence[PastJob], facts: Sequence[Fact], items: dict[str, Item],
              taken: frozenset[str]) -> Draft:
    """The draft of a job type. `taken` are names of roles and findings that the catalogue has already."""
    return _Drafter(job, jobs, facts, items, taken).draft()


class _Drafter:
    def __init__(self, job: str, jobs: Sequence[PastJob], facts: Sequence[Fact], items: dict[str, Item],
                 taken: frozenset[str]) -> None:
        self._job, self._jobs, self._facts, self._items = job, jobs, facts, items
        self._taken = set(taken)
        self._roles: list[DraftedRole] = []
        self._findings: list[DraftedFinding] = []
        self._fits: list[DraftedFit] = []
        self._least: dict[tuple[str, str], str] = {}
        self._asked = Asked(jobs, facts)

    def draft(self) -> Draft:
        used = sorted({number for job in self._jobs for number in job.used})
        used_in = {number: frozenset(at for at, job in enumerate(self._jobs) if number in job.used) for number in used}
        for group in group_items([self._items[number] for number in used], used_in):
            if not self._role_of(group):
                # alike by name only: each is a place of its own
                for item in group:
                    if not self._role_of((item,)):
                        self._sometimes(item)
        return Draft(tuple(self._roles), tuple(self._findings), tuple(self._fits), self._least,
                     self._asked.questions(self._roles))

    def _role_of(self, group: Sequence[Item]) -> bool:
        """Draft the role that a group fills, where it is certain or facts decide it."""
        numbers = {item.number for item in group}
        labels = [next((number for number in job.used if number in numbers), None) for job in self._jobs]
        count = Counter(labels)
        best, times = max(count.items(), key=lambda pair: (pair[1], str(pair[0])))
        by_amount = self._by_amount(labels)
        if by_amount is not None:
            self._decided(group, by_amount)
            return True
        if times == len(self._jobs) and best is not None:
            self._always(group, best, [])
            return True
        ruling = decide_by_facts(self._jobs, labels, self._facts)
        if ruling is not None and ruling.believed:
            self._decided(group, ruling)
            return True
        if best is not None and len(self._jobs) - times <= len(self._jobs) // _FORGOTTEN_ONE_IN:
            self._always(group, best, [job for job, label in zip(self._jobs, labels, strict=True) if label != best])
            return True
        if ruling is not None and len(group) == 1:
            self._asked.doubted(place_name(group), ruling)
        return len(group) > 1 and self._by_vehicle(group, labels)

    def _by_amount(self, labels: Sequence[str | None]) -> Ruling | None:
        """The facts that decide both item and amount, where an item has a few amounts.

        Where no facts do for all jobs, those whose amount is seldom are set aside: they may have used more for another
        reason, if the facts give each of them the same item and less of it.
        """
        found: list[Hashable] = [
            label and (label, job.used[label]) for job, label in zip(self._jobs, labels, strict=True)]
        kinds = Counter(one for one in found if isinstance(one, tuple))
        for least in (2, max(2, _SELDOM * kinds.total())):
            often = {one for one, times in kinds.items() if times >= least}
            several = Counter(number for number, _ in often)
            aside = [place for place, one in enumerate(found) if isinstance(one, tuple) and one not in often]
            if not 1 < max(several.values(), default=0) <= _AMOUNTS or len(aside) > (1 - _MOSTLY) * len(found):
                continue
            kept = [place for place in range(len(found)) if place not in aside]
            ruling = decide_by_facts([self._jobs[place] for place in kept], [found[place] for place in kept],
                                     self._facts)
            if ruling is not None and ruling.believed and all(self._used_more(ruling, place, found) for place in aside):
                return ruling
        return None

    def _used_more(self, ruling: Ruling, place: int, found: Sequence[Hashable]) -> bool:
        """Whether a job used the item that a ruling gives it, and more of it."""
        cell = ruling.split.cell(self._jobs[place])
        given, used = ruling.labels.get(cell) if cell is not None else None, found[place]
        return isinstance(given, tuple) and isinstance(used, tuple) and given[0] == used[0] and given[1] < used[1]

    def _always(self, group: Sequence[Item], number: str, without: Sequence[PastJob]) -> None:
        role = self._new_role(group, "one")
        used = [job for job in self._jobs if number in job.used]
        self._fit(role, number, used, {}, f"{len(used)} of {_jobs(len(self._jobs), {})}")
        if without:
            self._asked.forgotten(role.title, self._items[number], without, len(self._jobs))

    def _decided(self, group: Sequence[Item], ruling: Ruling) -> None:
        """The fits of a role that facts decide; `nothing` where the records say that there is none."""
        role = self._new_role(group, "one")
        for label in dict.fromkeys(ruling.labels.values()):
            number = label[0] if isinstance(label, tuple) else label
            for cells, conditions in rows_of(ruling.split, ruling.labels, label, self._facts):
                inside = [job for job in self._jobs if ruling.split.cell(job) in cells]
                if number is None:
                    bare = sum(not any(item.number in job.used for item in group) for job in inside)
                    self._nothing(role, conditions, f"nothing used in {bare} of {_jobs(len(inside), conditions)}")
                    continue
                assert isinstance(number, str)
                used = [job for job in inside if number in job.used]
                self._fit(role, number, used, conditions, f"{len(used)} of {_jobs(len(inside), conditions)}")
        self._asked.decided(role.title, ruling)

    def _by_vehicle(self, group: Sequence[Item], labels: Sequence[str | None]) -> bool:
        """Draft a role that is not always filled, where facts decide at least with which item."""
        filled = [(job, label) for job, label in zip(self._jobs, labels, strict=True) if label is not None]
        ruling = decide_by_facts([job for job, _ in filled], [label for _, label in filled], self._facts)
        if ruling is None or not ruling.believed:
            return False
        role = self._new_role(group, "at most one")
        for label in dict.fromkeys(ruling.labels.values()):
            assert isinstance(label, str)
            for cells, conditions in rows_of(ruling.split, ruling.labels, label, self._facts):
                inside = [job for job in self._jobs if ruling.split.cell(job) in cells]
                self._share(role, self._items[label], inside, conditions)
        self._asked.decided(role.title, ruling)
        return True

    def _share(self, role: DraftedRole, item: Item, inside: Sequence[PastJob], conditions: dict[str, str]) -> None:
        """A fit for an item that some of these jobs used: certain if all but a forgotten one did, else a finding."""
        used = [job for job in inside if item.number in job.used]
        evidence = f"{len(used)} of {_jobs(len(inside), conditions)}"
        if len(inside) - len(used) > len(inside) // _FORGOTTEN_ONE_IN:
            finding = self._new_finding(role, item, len(used), len(inside))
            self._fit(role, item.number, used, conditions, evidence, finding)
        else:
            self._fit(role, item.number, used, conditions, evidence)
            if len(used) < len(inside):
                self._asked.forgotten(role.title, item, [job for job in inside if job not in used], len(inside))

    def _sometimes(self, item: Item) -> None:
        """A role for what turned out in some jobs, no fact says in which; where one says that it never is, only in the
        others."""
        role = self._new_role((item,), "at most one")
        region = self._region(item)
        if region is None:
            self._share(role, item, self._jobs, {})
            return
        split, cells = region
        labels: dict[Cell, object] = {cell: cell in cells for cell in _cells(self._jobs, split)}
        for inside_cells, conditions in rows_of(split, labels, True, self._facts):
            inside = [job for job in self._jobs if split.cell(job) in inside_cells]
            self._share(role, item, inside, conditions)
        self._asked.region(role.title, split, labels)

    def _region(self, item: Item) -> tuple[Split, frozenset[Cell]] | None:
        """The values of one listed fact with which an item was used at all, if that is unlikely by luck."""
        best: tuple[float, Split, frozenset[Cell]] | None = None
        listed = [number for number, fact in enumerate(self._facts) if fact.kind == LISTED]
        for number in listed:
            split = Split((number,), (None,))
            known = [(cell, item.number in job.used) for job in self._jobs if (cell := split.cell(job)) is not None]
            cells = frozenset(cell for cell, used in known if used)
            inside, used = sum(cell in cells for cell, _ in known), sum(used for _, used in known)
            if not cells or inside == len(known) or len(known) * 2 < len(self._jobs):
                continue
            # which values these would be wasn't known before: each choice of so many counts as a rule tried
            choices = math.comb(len({cell for cell, _ in known}), len(cells))
            chance = _drawn(inside, len(known), used) * len(listed) * choices
            if chance < BELIEVED and (best is None or chance < best[0]):
                best = chance, split, cells
        return best and best[1:]

    def _new_role(self, group: Sequence[Item], takes: str) -> DraftedRole:
        title = place_name(group)
        if any(role.title == title for role in self._roles):
            title = group[0].name
        role = DraftedRole(self._name(title), title, guessed_sort(group[0]), takes)
        self._roles.append(role)
        return role

    def _new_finding(self, role: DraftedRole, item: Item, used: int, jobs: int) -> str:
        name = self._name(f"{role.title} needed")
        least, most = wilson(used, jobs)
        share = min(max(used / jobs, 0.001), 0.999)
        self._findings.append(DraftedFinding(name, f"{item.name}: needed", used, jobs, amount.show(round(share * 1000)),
                                             f"{least:.3f}", f"{most:.3f}"))
        self._asked.finding(item, used, jobs, least, most)
        return name

    def _name(self, title: str) -> str:
        """A name that nothing has yet."""
        bare = "-".join("".join(sign if sign.isalnum() else " " for sign in title.casefold()).split()) or "role"
        name, more = bare, 2
        while name in self._taken:
            name = f"{self._job}-{bare}" if more == 2 else f"{self._job}-{bare}-{more - 1}"
            more += 1
        self._taken.add(name)
        return name

    def _fit(self, role: DraftedRole, number: str, used: Sequence[PastJob], conditions: dict[str, str], evidence: str,
             finding: str = "") -> None:
        item = self._items[number]
        amounts = Counter(job.used[number] for job in used)
        usual, times = max(amounts.items(), key=lambda pair: (pair[1], pair[0]))
        if times >= _MOSTLY * len(used) and usual == min(amounts) and not finding:
            self._more(role, item, usual, [job for job in used if job.used[number] > usual], len(used))
        elif times < _USUAL * len(used):
            usual = max(amounts)
            if amount.quantity(item.unit) in ("volume", "mass"):
                self._least[role.name, number] = amount.show(min(amounts))
        if len(amounts) > 1:
            self._asked.amounts(role.title, item, amounts, usual)
        self._fits.append(DraftedFit(
            role.name, number, amount.show(usual), item.unit, conditions, finding, False, evidence))

    def _more(self, role: DraftedRole, item: Item, usual: int, jobs: Sequence[PastJob], of: int) -> None:
        """What some jobs used beyond the usual amount, as a role of its own on a finding; one job tells nothing."""
        if len(jobs) < 2:
            return
        beyond = Counter(job.used[item.number] - usual for job in jobs)
        extra, _ = max(beyond.items(), key=lambda pair: (pair[1], pair[0]))
        more = DraftedRole(self._name(f"{role.title} more"), f"{role.title}, more of it", role.sort, "at most one")
        self._roles.append(more)
        finding = self._new_finding(more, item, len(jobs), of)
        evidence = f"{len(jobs)} of {_jobs(of, {})} used more than {amount.show(usual)} {item.unit}"
        self._fits.append(DraftedFit(
            more.name, item.number, amount.show(extra), item.unit, {}, finding, False, evidence))

    def _nothing(self, role: DraftedRole, conditions: dict[str, str], evidence: str) -> None:
        self._fits.append(DraftedFit(role.name, NOTHING, "", "", conditions, "", False, evidence))


def _jobs(number: int, conditions: dict[str, str]) -> str:
    jobs = f"{number} job" if number == 1 else f"{number} jobs"
    return f"{jobs} with {words_of(conditions)}" if conditions else jobs


def _cells(jobs: Sequence[PastJob], split: Split) -> list[Cell]:
    return sorted({cell for job in jobs if (cell := split.cell(job)) is not None})


def _drawn(inside: int, jobs: int, used: int) -> float:
    """How likely it is that all of so many uses, dealt to the jobs by luck, are within `inside` of them."""
    chance = 1.0
    for already in range(used):
        chance *= max(inside - already, 0) / (jobs - already)
    return chance
