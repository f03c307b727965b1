"""Moments: UTC in the database, with their zone in Python."""

from datetime import UTC, datetime, timedelta, timezone
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given
from hypothesis import strategies as st
from sqlalchemy import Column, MetaData, Table, create_engine, insert, select
from sqlalchemy.exc import StatementError

from kitbuilder.store.columns import Moment
from kitbuilder.store.prepared import Hand, Prepared

TABLE = Table("t", MetaData(), Column("at", Moment))
ZONES = st.one_of(
    st.sampled_from([ZoneInfo(name) for name in ("UTC", "Europe/Berlin", "Asia/Kathmandu", "America/St_Johns")]),
    st.integers(-23 * 60, 23 * 60).map(lambda minutes: timezone(timedelta(minutes=minutes))))


@pytest.fixture(scope="module")
def engine():
    made = create_engine("sqlite://")
    TABLE.metadata.create_all(made)
    yield made
    made.dispose()


@given(at=st.datetimes(datetime(1980, 1, 1), datetime(2200, 1, 1), timezones=ZONES))
def test_a_moment_comes_back_the_same_and_in_utc_by_either_way(engine, at):
    with engine.connect() as connection:
        connection.execute(insert(TABLE).values(at=at))
        back = connection.execute(select(TABLE.c.at)).scalar_one()
        stored = connection.exec_driver_sql("SELECT at FROM t").scalar_one()
        connection.exec_driver_sql("DELETE FROM t")
        hand = Hand(connection.connection.cursor(), connection.dialect)
        Prepared(insert(TABLE), "at").run(hand, at=at)
        prepared = Prepared(select(TABLE.c.at)).run(hand)
        assert connection.exec_driver_sql("SELECT at FROM t").scalar_one() == stored
    # moments in two zones are never equal in Python where one of them happens twice, so both are told in UTC
    assert back == at.astimezone(UTC) and back.tzinfo is UTC and prepared == [(back,)] and prepared[0][0].tzinfo is UTC
    assert stored == at.astimezone(UTC).strftime("%Y-%m-%d %H:%M:%S.%f")


def test_a_time_without_a_zone_is_refused_by_either_way(engine):
    with engine.connect() as connection:
        with pytest.raises(StatementError, match="has no zone"):
            connection.execute(insert(TABLE).values(at=datetime(2026, 3, 29, 2, 30)))
        hand = Hand(connection.connection.cursor(), connection.dialect)
        with pytest.raises(ValueError, match=r"2026-03-29T02:30:00 has no zone"):
            Prepared(insert(TABLE), "at").run(hand, at=datetime(2026, 3, 29, 2, 30))
        assert connection.execute(select(TABLE)).all() == []


def test_no_moment_stays_none(engine):
    with engine.connect() as connection:
        connection.execute(insert(TABLE).values(at=None))
        assert connection.execute(select(TABLE.c.at)).scalar_one() is None
