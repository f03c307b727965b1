"""Checks of a diary."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any, get_args

import msgspec

from kitbuilder.hooks import Context, Diary, DiaryKind
from kitbuilder.model.booking import BookingState, DiaryEntry, Priority


class DiaryCase(msgspec.Struct, frozen=True, kw_only=True):
    """A diary to be checked: `kind`, `settings`, `folder` as for a source, the bookings that it `holds`, and what
    `breaks` it."""

    kind: DiaryKind
    settings: Mapping[str, Any]
    folder: Path
    holds: tuple[DiaryEntry, ...]
    breaks: Callable[[], object] | None = None

    def made(self, settings: Mapping[str, Any] | None = None) -> Diary:
        """The diary, as kitbuilder makes it for each run."""
        keys = dict(self.settings if settings is None else settings)
        return self.kind.make(Context("checked", keys, self.folder, ""))


class DiaryChecks:
    """What kitbuilder relies on in a diary. A class that inherits it has a fixture `case`: a DiaryCase."""

    def test_settings_that_it_does_not_know_are_refused(self, case: DiaryCase) -> None:
        """A bare ValueError says what was expected."""
        try:
            case.made({**case.settings, "no-such-key": "1"})
        except ValueError as error:
            assert type(error) is ValueError
            assert str(error).strip()
        else:
            raise AssertionError("it took no-such-key")

    def test_it_tells_all_its_bookings_each_time(self, case: DiaryCase) -> None:
        """Kitbuilder finds out what is new, changed or gone; a booking that isn't told has vanished."""
        entries = list(case.made().entries())
        assert sorted(entries, key=_key) == sorted(case.holds, key=_key)
        assert list(case.made().entries()) == entries

    def test_each_booking_has_an_id_of_its_own_and_a_start_at_the_site(self, case: DiaryCase) -> None:
        """Ids are stable; repeats of one have a recurrence; the start is wall time, without a zone."""
        entries = list(case.made().entries())
        for entry in entries:
            assert type(entry) is DiaryEntry
            assert entry.id.strip()
            assert entry.start.tzinfo is None, f"{entry.id}: its start has a zone"
            assert entry.state in get_args(BookingState)
            assert entry.priority in get_args(Priority)
            assert msgspec.convert(msgspec.to_builtins(entry), DiaryEntry) == entry
        assert len({_key(entry) for entry in entries}) == len(entries)

    def test_one_that_cannot_answer_raises(self, case: DiaryCase) -> None:
        """An empty diary would cancel a night's work."""
        if case.breaks is None:
            return
        case.breaks()
        try:
            found = list(case.made().entries())
        except Exception:
            return
        raise AssertionError(f"it told {len(found)} bookings")


def _key(entry: DiaryEntry) -> tuple[str, str]:
    return entry.id, entry.recurrence
