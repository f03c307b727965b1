"""What is to be loaded for other sites, as text."""

from collections.abc import Mapping, Sequence
from datetime import datetime
from zoneinfo import ZoneInfo

from kitbuilder import amount
from kitbuilder.model.catalogue import Item
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.transfer import Load
from kitbuilder.show.paper import Paper


def loads_text(loads: Sequence[Load], items: Mapping[str, Item], zone: str, paper: Paper) -> str:
    """What goes from a site to others, van by van, in bin order; times on the site's clock. Empty if nothing does."""
    lines: list[str] = []
    for load in loads:
        away = load.state not in ("proposed", "approved")
        lines += paper.wrap(f"{'ON ITS WAY' if away else 'TO LOAD'} for {load.site}: {load.source}, {load.slot}")
        leaves = f"leaves {_wall(load.leaves, zone)}, " if load.leaves is not None and not away else ""
        lines += paper.wrap(f"order {load.order}, {_said(load)}, {leaves}there {_wall(load.ready, zone)}", 2)
        # a bin, item and lot is one row, whatever it is for
        rows: dict[tuple[str, str, str], list[HoldRow]] = {}
        for row in load.rows:
            rows.setdefault((row.bin, row.item, row.lot), []).append(row)
        for (bin_, item, lot), held in rows.items():
            quantity = f"{amount.show(sum(one.quantity for one in held))} {held[0].unit}"
            name = items[item].name if item in items else ""
            label = ", ".join(part for part in (
                f"lot {lot}" if lot else "", f"use by {held[0].use_by}" if held[0].use_by else "") if part)
            lines += _row(f"  {bin_:<12} {quantity:<9} {item:<12} ", name, paper)
            lines += paper.wrap(label, 15) if label else []
        if not load.rows:
            lines += paper.wrap("nothing is held for it any more: the next run there looks for another way", 4, "  -")
        lines.append("")
    return "\n".join(lines)


def _row(left: str, name: str, paper: Paper) -> list[str]:
    room = paper.width - len(left)
    if room < 20:
        return [*paper.wrap(" ".join(left.split()), 2), *paper.wrap(name, 15)]
    first, *more = Paper(room).wrap(name)
    return [left + first, *(" " * len(left) + line for line in more)]


def _said(load: Load) -> str:
    if load.state == "proposed":
        return "planned, nobody has said yet that it goes"
    return f"{'to go' if load.state == 'approved' else 'sent off'}, said {load.said_by}"


def _wall(moment: datetime, zone: str) -> str:
    return f"{moment.astimezone(ZoneInfo(zone)):%Y-%m-%d %H:%M}"
