"""The chance that a line is used: the weight of its worlds, its finding, and what covers that finding."""

from collections.abc import Mapping

from kitbuilder.kit.due import DueJob
from kitbuilder.kit.events import LineEvent
from kitbuilder.kit.group import Group
from kitbuilder.model.catalogue import Finding
from kitbuilder.vehicle.worlds import Worlds


def decimal(over: int, under: int, places: int = 4) -> str:
    """A ratio as a decimal, rounded half to even, without needless zeros."""
    scale = 10**places
    whole, rest = divmod(over * scale, under)
    if 2 * rest > under or (2 * rest == under and whole % 2):
        whole += 1
    units, fraction = divmod(whole, scale)
    return f"{units}.{fraction:0{places}d}".rstrip("0").rstrip(".") if fraction else str(units)


class Chances:
    """Works out the chances of a kit's lines; findings that cover others are looked up once."""

    def __init__(self, worlds: Worlds, job: DueJob, findings: Mapping[str, Finding]) -> None:
        self._worlds, self._job, self._findings = worlds, job, findings
        self._groups: dict[tuple[str, ...], Group] = {}

    def of(self, line: LineEvent) -> str:
        """The chance of a line as a decimal with at most 4 places."""
        if line.key.finding is None:
            return decimal(line.group.weight(line.inside), line.group.total)
        finding = self._findings[line.key.finding]
        over, under = finding.chance
        rivals = [self._findings[name] for name in finding.covered_by]
        bringing = [
            role for role in self._job.roles
            if role is not line.role and any(fit.finding in finding.covered_by for fit in role.fits)
        ]
        if not bringing and not any(fit.finding in finding.covered_by for fit in line.role.fits):
            return decimal(line.group.weight(line.inside) * over, line.group.total * under)
        roles = [line.role, *bringing]
        names = tuple(role.role.name for role in roles)
        group = self._groups.get(names)
        if group is None:
            group = self._groups[names] = Group(self._worlds, roles)
        used, scale = 0, 1
        for rival in rivals:
            scale *= rival.chance[1]
        for mask, weight in group.weights.items():
            there = [key for _, outcome in group.outcomes(mask) for key in outcome.lines]
            if (line.stage, line.key) not in next(group.outcomes(mask))[1].lines:
                continue
            present = {key.finding for _, key in there}
            part = weight
            for rival in rivals:
                part *= rival.chance[1] - rival.chance[0] if rival.name in present else rival.chance[1]
            used += part
        return decimal(used * over, group.total * scale * under)
