"""A kit with the edits that people made by hand; they are applied again after every rebuild."""

from collections.abc import Mapping, Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.model.booking import EditRow
from kitbuilder.model.catalogue import Item, Role
from kitbuilder.model.kit import Kit
from kitbuilder.model.work import EditConflict, WorkKit, WorkLine


def work_kit(booking: int, kit: Kit, roles: Mapping[str, Role], items: Mapping[str, Item],
             edits: Sequence[EditRow]) -> WorkKit:
    """The lines of a kit after its edits, oldest first; an edit that finds nothing to change is a conflict.

    `items` holds those that edits name; one that the catalogue doesn't have (any more) is a conflict too.
    """
    lines = _named([_line(kit, number, roles) for number in range(len(kit.lines))])
    conflicts: list[EditConflict] = []
    for edit in edits:
        found = [line for line in lines if line.role == edit.role and (edit.action == "add" or line.filler == edit.filler)]
        if edit.action in ("add", "swap") and edit.item not in items:
            conflicts.append(EditConflict(edit.id, f"{_told(edit)}: the catalogue has no item {edit.item}"))
        elif edit.action != "add" and not found:
            conflicts.append(EditConflict(edit.id, f"{_told(edit)}: the kit has no such line any more"))
        elif edit.action == "add":
            lines.append(_added(kit, edit, items[edit.item], found, roles))
        else:
            lines = [one for line in lines for one in (_changed(line, edit, items) if line in found else [line])]
    return WorkKit(booking, tuple(_named(lines)), tuple(conflicts))


def _line(kit: Kit, number: int, roles: Mapping[str, Role]) -> WorkLine:
    line = kit.lines[number]
    role = roles[line.role]
    return WorkLine(
        need="", stage=line.stage, role=line.role, title=line.title, filler=line.item or line.requirement or "",
        name=line.name, amount=amount.parse(line.amount, line.unit, line.unit), unit=line.unit, sort=line.sort,
        certainty=line.certainty, finding=line.finding, acceptable=line.acceptable, per_visit=role.per == "visit",
        circuit=role.circuit)


def _named(lines: Sequence[WorkLine]) -> list[WorkLine]:
    """Names that stay the same while role and filler do; several lines of one role and filler are counted."""
    seen: dict[tuple[str, str], int] = {}
    found = []
    for line in lines:
        number = seen[line.role, line.filler] = seen.get((line.role, line.filler), 0) + 1
        need = f"{line.role}:{line.filler}" + (f"#{number}" if number > 1 else "")
        found.append(msgspec.structs.replace(line, need=need))
    return found


def _told(edit: EditRow) -> str:
    what = {"add": f"add {edit.item} to {edit.role}", "swap": f"swap {edit.filler} in {edit.role} for {edit.item}",
            "strike": f"strike {edit.filler} from {edit.role}",
            "amount": f"amount of {edit.filler} in {edit.role}"}[edit.action]
    return f"edit {edit.id} ({what}; {edit.who}: {edit.why})"


def _added(kit: Kit, edit: EditRow, item: Item, of_role: Sequence[WorkLine], roles: Mapping[str, Role]) -> WorkLine:
    """What is added stands with its role's lines; where it is a line on condition, that is what was chosen."""
    role = roles.get(edit.role)
    same = [line for line in of_role if line.filler == edit.item or edit.item in line.acceptable]
    stage = (same or list(of_role))[0].stage if of_role else (kit.lines[0].stage if kit.lines else "")
    milli = edit.amount if edit.amount is not None else (same[0].amount if same else 1000)
    return WorkLine(
        need="", stage=stage, role=edit.role, title=role.title if role else edit.role, filler=f"+{item.number}",
        name=item.name, amount=milli, unit=item.unit, sort=role.sort if role else "part", certainty="certain",
        finding=None, acceptable=(item.number,), by_hand=f"added by {edit.who}: {edit.why}")


def _changed(line: WorkLine, edit: EditRow, items: Mapping[str, Item]) -> list[WorkLine]:
    if edit.action == "strike":
        return []
    if edit.action == "swap":
        item = items[edit.item]
        note = f"{item.number} for {line.filler} by {edit.who}: {edit.why}"
        return [msgspec.structs.replace(line, name=item.name, acceptable=(item.number,), by_hand=note)]
    assert edit.amount is not None
    return [msgspec.structs.replace(line, amount=edit.amount, by_hand=f"amount by {edit.who}: {edit.why}")]


def share_visit(kits: Sequence[WorkKit]) -> tuple[list[WorkKit], list[str]]:
    """The kits of one visit, earliest start first, with what is needed once a visit counted once: in the earliest
    booking that has it, at the larger amount. Different items for it are a clash, told in words."""
    first: dict[str, tuple[int, WorkLine]] = {}
    clashes: list[str] = []
    result: list[list[WorkLine]] = [[] for _ in kits]
    for number, kit in enumerate(kits):
        for line in kit.lines:
            if not line.per_visit or not line.wanted:
                result[number].append(line)
                continue
            known = first.get(line.role)
            if known is None:
                first[line.role] = (number, line)
                result[number].append(line)
                continue
            where, kept = known
            if kept.filler != line.filler or kept.unit != line.unit:
                clashes.append(
                    f"{line.title}: booking {kits[where].booking} asks for {kept.filler}, booking {kit.booking} for "
                    f"{line.filler}, and the visit needs one")
                result[number].append(line)
            elif line.amount > kept.amount:
                larger = msgspec.structs.replace(kept, amount=line.amount)
                result[where] = [larger if one is kept else one for one in result[where]]
                first[line.role] = (where, larger)
    shared = [
        WorkKit(kit.booking, tuple(lines), kit.conflicts) for kit, lines in zip(kits, result, strict=True)]
    return shared, clashes
