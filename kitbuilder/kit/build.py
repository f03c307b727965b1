"""Builds a kit: what a job needs in every world that agrees with what is known."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from msgspec import UNSET

from kitbuilder import amount
from kitbuilder.catalogue.edition import Edition
from kitbuilder.kit.chances import Chances
from kitbuilder.kit.due import DueJob, DueRole, due
from kitbuilder.kit.events import Events, LineEvent, NothingEvent, ProblemEvent, acceptable, events
from kitbuilder.kit.fingerprint import fingerprint
from kitbuilder.kit.questions import best_first
from kitbuilder.kit.words import problem_text
from kitbuilder.model.catalogue import Condition, Fit, Include, Item
from kitbuilder.model.kit import (
    CautionShown,
    Ground,
    Kit,
    KnownFact,
    Line,
    NotNeeded,
    Problem,
    Question,
    Reason,
    RowPlace,
    When,
)
from kitbuilder.vehicle.facts import Fact
from kitbuilder.vehicle.slices import Branch
from kitbuilder.vehicle.statements import Standing, Statement, settle
from kitbuilder.vehicle.worlds import Worlds

if TYPE_CHECKING:
    from kitbuilder.kit.comes_off import WasteEvent


def build_kit(edition: Edition, job: str, statements: Sequence[Statement] = (), *,
              warnings: Sequence[str] = ()) -> Kit:
    """The kit of a job under some statements.

    `warnings` come before those that arise here. Raises WrongUse for an unknown job, fact or value,
    Contradiction where statements of one rank can't all be true.
    """
    needs = due(edition, job)
    standing = settle(edition.space, edition.tables, statements)
    return _Builder(edition, needs, standing).kit((*warnings, *standing.warnings))


def problems_in(edition: Edition, needs: DueJob, worlds: Worlds) -> tuple[Problem, ...]:
    """The problems of a job, or of some of its roles, in some worlds."""
    return tuple(_problem(edition.facts, one) for one in events(edition, needs, worlds).problems)


class _Builder:
    def __init__(self, edition: Edition, needs: DueJob, standing: Standing) -> None:
        self._edition, self._needs, self._standing = edition, needs, standing
        self._worlds: Worlds = standing.worlds
        self._facts: tuple[Fact, ...] = edition.facts
        self._known = {
            fact.name: (tuple(fact.cells(self._worlds.opened(number))), standing.source(fact))
            for number, fact in enumerate(self._facts)
        }

    def kit(self, warnings: Sequence[str]) -> Kit:
        found = events(self._edition, self._needs, self._worlds)
        lines = self._lines(found)
        nothing = tuple(self._not_needed(one) for one in found.nothing)
        problems = tuple(_problem(self._facts, one) for one in found.problems)
        sure = {one.certainty for one in lines} | {one.certainty for one in nothing}
        complete = not problems and sure <= {"certain"}
        job = self._needs.job.name
        return Kit(
            "kitbuilder.kit/1", tuple(warnings), job, self._edition.name, fingerprint(job, lines, nothing, problems),
            complete, tuple(KnownFact(name, values, source) for name, (values, source) in self._known.items()),  # type: ignore[arg-type]
            lines, nothing, tuple(self._question(fact) for fact in best_first(found, self._worlds)),
            self._cautions(), problems, **(self._beside(lines) if self._edition.more else {}))

    def _beside(self, lines: Sequence[Line]) -> dict[str, Any]:
        """What the kit tells beside its lines, where the catalogue says anything of it."""
        found: dict[str, Any] = {}
        if "waste" in self._edition.more:
            from kitbuilder.kit.comes_off import shown, waste_events

            found["comes_off"] = tuple(
                shown(self._edition, one, *self._hangs(one), self._grounds)
                for one in waste_events(self._edition, self._needs, self._worlds))
        if "hazards" in self._edition.more:
            from kitbuilder.kit.beside import hazards_of

            found["hazards"] = hazards_of(self._edition, lines)
        if "exchange" in self._edition.more:
            from kitbuilder.kit.beside import exchange_of

            found["exchange"] = exchange_of(self._edition, lines)
        return {name: told for name, told in found.items() if told}

    def _lines(self, found: Events) -> tuple[Line, ...]:
        chances = Chances(self._worlds, self._needs, self._edition.findings)
        return tuple(self._line(one, chances) for one in found.lines)

    def _line(self, event: LineEvent, chances: Chances) -> Line:
        key, role = event.key, event.role.role
        item = None
        if key.item is not None:
            item = self._edition.item(key.item)
            name = item.name
        else:
            assert key.requirement is not None
            name = self._edition.requirement(key.requirement).requirement.title
        hangs_on, when = self._hangs(event)
        because = self._reasons(
            event.role, event.stage, event.inside, lambda fit: fit.key == key)
        return Line(
            event.stage, role.name, role.title, key.item, key.requirement, name, amount.show(key.amount), key.unit,
            role.sort, "certain" if event.group.certain(event.inside) else "possible", hangs_on, when, key.finding,
            chances.of(event), acceptable(self._edition, key), because, fill=role.fill or UNSET,
            least=amount.show(key.least) if key.least else UNSET, select=role.select or UNSET,
            advised=role.advised or UNSET, weight=_weight(item, key.amount) if item and item.weight else UNSET,
            ports=item.ports if item and item.ports else UNSET)

    def _not_needed(self, event: NothingEvent) -> NotNeeded:
        hangs_on, when = self._hangs(event)
        because = self._reasons(event.role, event.stage, event.inside, lambda fit: fit.nothing)
        return NotNeeded(
            event.stage, event.role.role.name, event.role.role.title,
            "certain" if event.group.certain(event.inside) else "possible", hangs_on, when, because)

    def _hangs(self, event: "LineEvent | NothingEvent | WasteEvent") -> tuple[tuple[str, ...], When]:
        return hangs_shown(self._facts, *event.group.hangs_on(event.inside))

    def _reasons(self, role: DueRole, stage: str, inside: frozenset[int], of_key: object) -> tuple[Reason, ...]:
        assert callable(of_key)
        fits: dict[tuple[str, int], Fit] = {}
        steps: dict[tuple[str, int], Include] = {}
        for mask in inside:
            outcome = role.outcome(mask)
            if outcome.way is None or role.ways[outcome.way].stage != stage:
                continue
            fits |= {(fit.file, fit.row): fit for fit in outcome.fits if of_key(fit)}
            steps |= {(step.file, step.include.row): step.include for step in role.ways[outcome.way].steps}
        brought = [
            Reason(file, row, fits[file, row].note, self._grounds(fits[file, row].conditions))
            for file, row in sorted(fits)
        ]
        included = [
            Reason(file, row, f"includes {steps[file, row].job}", self._grounds(steps[file, row].conditions))
            for file, row in sorted(steps)
        ]
        return (*brought, *included)

    def _grounds(self, conditions: Sequence[Condition]) -> tuple[Ground, ...]:
        return tuple(Ground(one.fact, one.cell, *self._known[one.fact]) for one in conditions)

    def _question(self, number: int) -> Question:
        fact = self._facts[number]
        return Question(fact.name, fact.question, fact.where, tuple(fact.cells(self._worlds.opened(number))))

    def _cautions(self) -> tuple[CautionShown, ...]:
        names = dict.fromkeys(
            name for box, told in self._needs.cautions if told and not self._worlds.within(box).empty for name in told)
        return tuple(CautionShown(name, self._edition.caution(name).text) for name in names)


def _weight(item: Item, milli: int) -> str:
    """The weight of so much of an item in kg, rounded up to the gram."""
    return amount.show(-(-item.weight * milli // 1000))


def _problem(facts: Sequence[Fact], event: ProblemEvent) -> Problem:
    """A problem with its witness."""
    hangs_on, branches = event.group.hangs_on(event.inside)
    witness, fits = event.group.witness(event.inside)
    return Problem(
        event.kind, event.role.role.name if event.role else None, event.circuit,  # type: ignore[arg-type]
        "certain" if event.group.certain(event.inside) else "possible", *hangs_shown(facts, hangs_on, branches),
        witness,
        tuple(RowPlace(fit.file, fit.row) for fit in fits), problem_text(facts, event, branches, fits))


def hangs_shown(facts: Sequence[Fact], hangs_on: Sequence[int],
                branches: Sequence[Branch]) -> tuple[tuple[str, ...], When]:
    """What something hangs on and when it is so, with the names of facts and values."""
    return tuple(facts[fact].name for fact in hangs_on), tuple(
        {facts[fact].name: tuple(facts[fact].cells(values)) for fact, values in branch.items()} for branch in branches)
