"""A kit with the edits that people made by hand; they are applied again after every rebuild."""

from collections.abc import Mapping, Sequence

import msgspec

from kitbuilder import amount
from kitbuilder.model.booking import EditRow
from kitbuilder.model.catalogue import Finding, Item, Key, Role
from kitbuilder.model.kit import Kit
from kitbuilder.model.work import EditConflict, WorkKit, WorkLine


def work_kit(booking: int, kit: Kit, roles: Mapping[str, Role], items: Mapping[str, Item], edits: Sequence[EditRow],
             findings: Mapping[str, Finding] | None = None, stage_of: Mapping[str, str] | None = None,
             first_stage: str = "") -> WorkKit:
    """The lines of a kit after its edits, oldest first; an edit that can't be carried out is a conflict, and changes
    nothing.

    `items` holds those that edits name; one that the catalogue doesn't have (any more) is a conflict too. `stage_of`
    and `first_stage`: where something added stands whose role has no line.
    """
    lines = [_line(kit, number, roles, findings or {}) for number in range(len(kit.lines))]
    stages = {**(stage_of or {}), **{one.role: one.stage for one in kit.nothing}}
    conflicts: list[EditConflict] = []
    for edit in edits:
        found = [
            line for line in lines if line.role == edit.role and (edit.action == "add" or line.filler == edit.filler)]
        trouble = ""
        if edit.action in ("add", "swap") and edit.item not in items:
            trouble = f"the catalogue has no item {edit.item}"
        elif edit.action == "add":
            stage = stages.get(edit.role, first_stage or (kit.lines[0].stage if kit.lines else ""))
            lines, trouble = _with_added(lines, edit, items[edit.item], found, roles.get(edit.role), stage)
        elif not found:
            trouble = "the kit has no such line any more"
        else:
            changed = [_changed(line, edit, items) if line in found else (line, "") for line in lines]
            trouble = next((text for _, text in changed if text), "")
            lines = lines if trouble else [line for line, _ in changed if line is not None]
        if trouble:
            conflicts.append(EditConflict(edit.id, f"{_told(edit)}: {trouble}"))
    conflicts += _mixed(lines, edits)
    return WorkKit(booking, tuple(_named(lines)), tuple(conflicts))


def edited_key(role: str, key: Key, items: Mapping[str, Item], edits: Sequence[EditRow]) -> Key | None:
    """What a line's key comes to by the edits, as `work_kit` has it; None if it is struck. What is added isn't told."""
    line: WorkLine | None = WorkLine(
        need="", stage="", role=role, title="", filler=key.item or key.requirement or "", name="", amount=key.amount,
        unit=key.unit, sort="part", certainty="certain", finding=key.finding, acceptable=(), item=key.item,
        requirement=key.requirement)
    for edit in edits:
        if line is None or edit.action == "add" or (edit.role, edit.filler) != (role, line.filler):
            continue
        if edit.action == "swap" and edit.item not in items:
            continue
        changed, trouble = _changed(line, edit, items)
        line = line if trouble else changed
    if line is None:
        return None
    # how little a fill may take is known only of the amount as built
    least = key.least if (line.amount, line.unit) == (key.amount, key.unit) else 0
    return Key(line.item, line.requirement, line.amount, line.unit, line.finding, least)


def _line(kit: Kit, number: int, roles: Mapping[str, Role], findings: Mapping[str, Finding]) -> WorkLine:
    line = kit.lines[number]
    role = roles.get(line.role)  # None: the catalogue has dropped it since
    condition = ""
    if line.finding is not None:
        condition = findings[line.finding].title if line.finding in findings else line.finding
    if line.advised is True:
        condition = f"{condition}, and the customer chooses it" if condition else "the customer chooses it"
    return WorkLine(
        need="", stage=line.stage, role=line.role, title=line.title, filler=line.item or line.requirement or "",
        name=line.name, amount=amount.parse(line.amount, line.unit, line.unit), unit=line.unit, sort=line.sort,
        certainty=line.certainty, finding=line.finding, acceptable=line.acceptable, item=line.item,
        requirement=line.requirement, per_visit=role is not None and role.per == "visit",
        circuit=role.circuit if role is not None else "", condition=condition, chance=line.chance,
        advised=line.advised is True)


def _named(lines: Sequence[WorkLine]) -> list[WorkLine]:
    """Names that stay the same while role and filler do; several lines of one role and filler are counted.

    Those that are wanted are counted first, for holds and orders go by their names: a line on condition that comes or
    goes with a rebuild mustn't rename them.
    """
    seen: dict[tuple[str, str], int] = {}
    found = list(lines)
    for number in sorted(range(len(lines)), key=lambda number: (not lines[number].wanted, number)):
        line = lines[number]
        count = seen[line.role, line.filler] = seen.get((line.role, line.filler), 0) + 1
        need = f"{line.role}:{line.filler}" + (f"#{count}" if count > 1 else "")
        found[number] = msgspec.structs.replace(line, need=need)
    return found


def _told(edit: EditRow) -> str:
    what = {"add": f"add {edit.item} to {edit.role}", "swap": f"swap {edit.filler} in {edit.role} for {edit.item}",
            "strike": f"strike {edit.filler} from {edit.role}",
            "amount": f"amount of {edit.filler} in {edit.role}"}[edit.action]
    return f"edit {edit.id} ({what}; {edit.who}: {edit.why})"


def _with_added(lines: list[WorkLine], edit: EditRow, item: Item, of_role: Sequence[WorkLine], role: Role | None,
                stage: str) -> tuple[list[WorkLine], str]:
    """The lines with what is added, beside its role's. Where that is on condition, the condition's line is chosen so:
    the added one takes its place, with its amount unless another was said. Or why it can't be done."""
    chosen = next((line for line in of_role if line.waits and item.number in line.acceptable), None)
    if edit.amount is not None:
        milli = _in_unit(edit.amount, edit.unit or item.unit, item.unit)
    else:
        milli = 1000 if chosen is None else _in_unit(chosen.amount, chosen.unit, item.unit)
    if milli is None:
        return lines, f"{item.number} is counted in {item.unit} now; say the amount again"
    beside = chosen or next(iter(of_role), None)
    added = WorkLine(
        need="", stage=beside.stage if beside else stage, role=edit.role,
        title=beside.title if beside else role.title if role else edit.role, filler=f"+{item.number}", name=item.name,
        amount=milli, unit=item.unit, sort=beside.sort if beside else role.sort if role else "part",
        certainty="certain", finding=None, acceptable=(item.number,), item=item.number,
        by_hand=f"added by {edit.who}: {edit.why}", added=True)
    return [*(line for line in lines if line is not chosen), added], ""


def _changed(line: WorkLine, edit: EditRow, items: Mapping[str, Item]) -> tuple[WorkLine | None, str]:
    """A line after an edit of it (None: struck), or why it can't be done."""
    if edit.action == "strike":
        return None, ""
    if edit.action == "amount":
        assert edit.amount is not None
        milli = _in_unit(edit.amount, edit.unit or line.unit, line.unit)
        if milli is None:
            return line, f"it is counted in {line.unit} now; say the amount again"
        return msgspec.structs.replace(line, amount=milli, by_hand=f"amount by {edit.who}: {edit.why}"), ""
    item = items[edit.item]
    given = edit.amount is not None
    milli = _in_unit(edit.amount if edit.amount is not None else line.amount,
                     (edit.unit or item.unit) if given else line.unit, item.unit)
    if milli is None:
        return line, f"{item.number} is counted in {item.unit}, not in {line.unit}; say how much of it"
    return msgspec.structs.replace(
        line, name=item.name, amount=milli, unit=item.unit, acceptable=(item.number,), item=item.number,
        requirement=None, by_hand=f"{item.number} for {line.filler} by {edit.who}: {edit.why}"), ""


def _in_unit(milli: int, unit: str, shown_in: str) -> int | None:
    """An amount in another unit, rounded up; None where that measures something else."""
    if amount.quantity(unit) != amount.quantity(shown_in):
        return None
    return amount.parse(amount.show(milli), unit, shown_in)


def _mixed(lines: Sequence[WorkLine], edits: Sequence[EditRow]) -> list[EditConflict]:
    """Circuits that are to be filled from one item, and after edits can't be: nobody may mix two oils unawares."""
    found = []
    for circuit in sorted({line.circuit for line in lines if line.circuit and line.by_hand}):
        of_it = [line for line in lines if line.circuit == circuit and line.wanted and not line.added]
        if of_it and not set.intersection(*(set(line.acceptable) for line in of_it)):
            last = [edit for edit in edits if edit.action == "swap" and edit.role in {line.role for line in of_it}]
            if last:
                names = " and ".join(dict.fromkeys(" or ".join(line.acceptable) or line.filler for line in of_it))
                found.append(EditConflict(last[-1].id, (
                    f"{_told(last[-1])}: all of the circuit {circuit} is filled from one item, and now {names} are "
                    "asked for; swap it in all its roles")))
    return found


def share_visit(kits: Sequence[WorkKit]) -> tuple[list[WorkKit], list[str]]:
    """The kits of one visit, those first that come first, with what is needed once a visit counted once: in the first
    booking that has it, at the larger amount. Different things for it are a clash, told in words, and stay with both.

    What is only possible is counted with each booking: whether it is one and the same isn't known yet.
    """
    first: dict[str, int] = {}
    clashes: list[str] = []
    result = [list(kit.lines) for kit in kits]
    elsewhere = [list(kit.elsewhere) for kit in kits]
    for number, kit in enumerate(kits):
        for role in dict.fromkeys(line.role for line in kit.lines if line.per_visit and line.wanted):
            where = first.setdefault(role, number)
            if where == number:
                continue
            mine, kept = _of_visit(result[number], role), _of_visit(result[where], role)
            if [_what(line) for line in mine] != [_what(line) for line in kept]:
                clashes.append(
                    f"{mine[0].title}: booking {kits[where].booking} asks for {_asked(kept)}, booking {kit.booking} "
                    f"for {_asked(mine)}, and the visit needs one")
                continue
            for own, other in zip(mine, kept, strict=True):
                needed = _in_unit(own.amount, own.unit, other.unit) or 0
                larger = msgspec.structs.replace(other, amount=max(other.amount, needed))
                result[where] = [larger if one is other else one for one in result[where]]
                result[number] = [one for one in result[number] if one is not own]
                elsewhere[number].append(
                    f"{own.name}: {amount.show(larger.amount)} {larger.unit} with booking {kits[where].booking}")
    shared = [
        msgspec.structs.replace(kit, lines=tuple(lines), elsewhere=tuple(told))
        for kit, lines, told in zip(kits, result, elsewhere, strict=True)]
    return shared, clashes


def _of_visit(lines: Sequence[WorkLine], role: str) -> list[WorkLine]:
    """A role's lines that are needed once a visit, in an order that goes by what they take and how much."""
    found = [line for line in lines if line.role == role and line.per_visit and line.wanted]
    return sorted(found, key=lambda line: (_what(line), line.amount))


def _what(line: WorkLine) -> tuple[str, bool, str]:
    # not by what is acceptable: a new number that one booking may take and an earlier one not yet is no clash
    return line.takes


def _asked(lines: Sequence[WorkLine]) -> str:
    return " and ".join(line.item or line.requirement or "" for line in lines)
