"""Values that the workshop's tests are made of: lines, holds, orders, items, a booking."""

from datetime import UTC, date, datetime, timedelta

from kitbuilder.model.booking import Booking, EditRow
from kitbuilder.model.catalogue import Item, Role
from kitbuilder.model.kit import Kit, Line, NotNeeded
from kitbuilder.model.order import OrderedFor, OrderedLine, OrderRow
from kitbuilder.model.shelf import HoldRow
from kitbuilder.model.work import WorkKit, WorkLine

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
START = datetime(2026, 3, 11, 8, tzinfo=UTC)
TODAY = date(2026, 3, 10)


def booking(number=12, **more):
    told = {
        "number": number,
        "diary": "desk",
        "id": f"id-{number}",
        "recurrence": "",
        "revision": 0,
        "visit": "",
        "site": "marl",
        "job": "work",
        "registration": "DEMO 001",
        "start": START,
        "start_wall": "2026-03-11T08:00:00",
        "zone": "Europe/London",
        "state": "authorised",
        "priority": "normal",
        "bay": "3",
        "technician": "",
        "facts": {},
        "missing": False,
    }
    return Booking(**(told | more))


def item(number, unit="each", name="", codes=()):
    return Item(number, name or f"Item {number}", unit, codes=tuple(codes))


def kit_line(
    role,
    filler,
    amount="1",
    unit="each",
    stage="fit",
    *,
    requirement=False,
    certainty="certain",
    finding=None,
    acceptable=None,
    sort="part",
    chance="1",
):
    return Line(
        stage,
        role,
        f"The {role}",
        None if requirement else filler,
        filler if requirement else None,
        f"Name of {filler}",
        amount,
        unit,
        sort,
        certainty,
        (),
        (),
        finding,
        chance,
        (filler,) if acceptable is None else tuple(acceptable),
        (),
    )


def kit(*lines, nothing=()):
    return Kit(
        "kitbuilder.kit/1",
        (),
        "work",
        "edition",
        "print",
        True,
        (),
        tuple(lines),
        tuple(NotNeeded("then", role, role, "certain", (), (), ()) for role in nothing),
        (),
        (),
        (),
    )


def roles(*names, **more):
    return {name: Role(name, f"The {name}", "part", "any", **more) for name in names}


def edit(action, role, filler="", number=1, **more):
    return EditRow(
        id=number,
        booking=12,
        action=action,
        role=role,
        filler=filler,
        who="A. Person",
        why="because",
        at=NOW,
        **more,
    )


def line(need, amount=1000, unit="each", stage="fit", **more):
    role, _, filler = need.partition(":") if ":" in need else ("", "", need[1:])
    told = {
        "need": need,
        "stage": stage,
        "role": role,
        "title": f"The {role}",
        "filler": filler,
        "name": f"Name of {filler}",
        "amount": amount,
        "unit": unit,
        "sort": "part",
        "certainty": "certain",
        "finding": None,
        "acceptable": (filler,),
        "item": filler,
    }
    return WorkLine(**(told | more))


def work_kit_of(*lines, number=12, extras=(), reserves=()):
    return WorkKit(number, tuple(lines), (), tuple(extras), tuple(reserves))


def hold(
    need, item, quantity=1000, number=1, unit="each", bin="A-01-1-1", lot="", state="planned", use_by=None, of=12
):
    return HoldRow(
        number, f"{of}/{need}|{item}|{lot}", of, f"{of}/{need}", item, lot, bin, quantity, unit, state, use_by
    )


def order(
    need,
    item,
    quantity=1000,
    number=1,
    unit="each",
    state="ordered",
    ready=None,
    expected=None,
    cut_off=None,
    source="north-parts",
    of=12,
):
    ready = ready or START - timedelta(hours=1)
    return OrderRow(
        id=number,
        key=f"key-{number}",
        site="marl",
        source=source,
        slot="first",
        ready=ready,
        cut_off=cut_off,
        currency="EUR",
        fee=0,
        state=state,
        proposed_at=NOW,
        lines=(OrderedLine(item, unit, quantity, (), 100),),
        wanted_for=(OrderedFor(item, of, f"{of}/{need}", quantity),),
        expected_at=expected,
    )
