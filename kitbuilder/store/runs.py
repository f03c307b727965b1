"""Runs and their steps: what a run has done, so that one that was killed goes on where it stopped."""

from datetime import date, datetime

from sqlalchemy import select
from sqlmodel import Session

from kitbuilder.errors import StoreRefuses
from kitbuilder.model.order import RunRow
from kitbuilder.store import tables
from kitbuilder.store.database import Store


def begin(store: Store, site: str, day: date, now: datetime) -> RunRow:
    """The run of a site and day that isn't done, with its frozen moment; else a new one."""
    with store.writing() as session:
        row = session.execute(select(tables.Run).where(
            tables.Run.site == site, tables.Run.day == day, tables.Run.state == "running")
        ).scalars().first()
        if row is None:
            if session.get(tables.Site, site) is None:
                session.add(tables.Site(name=site))
                session.flush()
            row = tables.Run(site=site, day=day, state="running", now=now, started_at=now)
            session.add(row)
            session.flush()
        return _value(session, row)


def step_done(session: Session, run: int, name: str, result: str, now: datetime) -> None:
    """Note a step as done, in the transaction that did it. Raises StoreRefuses, and with it undoes that transaction,
    if another process that goes on with the same run has done it meanwhile."""
    if session.execute(select(tables.RunStep.id).where(
            tables.RunStep.run == run, tables.RunStep.name == name)).first() is not None:
        raise StoreRefuses("Another process goes on with the same run and was first. Nothing was done twice; start "
                           "this one again when it has ended.")
    session.add(tables.RunStep(run=run, name=name, at=now, result=result))


def freeze_quotes(session: Session, run: int, quotes: str) -> None:
    """Keep what the sources said: a run that is resumed sees the same."""
    row = session.get(tables.Run, run)
    assert row is not None
    row.quotes = quotes
    session.add(row)


def finish(session: Session, run: int, report: str, now: datetime) -> None:
    """Note a run as done, with its report (JSON)."""
    row = session.get(tables.Run, run)
    assert row is not None
    row.state, row.report, row.finished_at = "done", report, now
    session.add(row)


def last_done(store: Store, site: str, day: date | None = None) -> RunRow | None:
    """The newest run of a site (and day) that is done, or None."""
    query = select(tables.Run).where(tables.Run.site == site, tables.Run.state == "done")
    if day is not None:
        query = query.where(tables.Run.day == day)
    with store.reading() as session:
        row = session.execute(query.order_by(tables.Run.id.desc())).scalars().first()
        return None if row is None else _value(session, row)


def _value(session: Session, row: tables.Run) -> RunRow:
    steps = session.execute(
        select(tables.RunStep).where(tables.RunStep.run == row.id).order_by(tables.RunStep.id)).scalars()
    return RunRow(
        id=row.id or 0, site=row.site, day=row.day, state=row.state, now=row.now, quotes=row.quotes,
        steps={step.name: step.result for step in steps}, report=row.report, finished_at=row.finished_at)
