"""Each check of `kitbuilder.testing` finds what it is for: a sound plug-in with one thing wrong fails just there."""

import inspect
import subprocess
import sys
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import msgspec
import pytest

from kitbuilder import (
    Arrival,
    Context,
    DiaryEntry,
    DiaryKind,
    Entry,
    Offer,
    Price,
    Quote,
    QuoteRequest,
    RegisterKind,
    Slot,
    SourceKind,
    Wanted,
    testing,
)
from kitbuilder.testing import DiaryCase, DiaryChecks, RegisterCase, RegisterChecks, SourceCase, SourceChecks

NOW = datetime(2026, 3, 10, 15, tzinfo=UTC)
RING, OIL, LOST = Wanted("RI-1", "each"), Wanted("OI-1", "L"), Wanted("LO-1", "each")
POOLS = {"RI-1": ("each", 4000), "OI-1": ("mL", 1_500_000)}
change = msgspec.structs.replace


class Sound:
    """A source with nothing wrong; what inherits it has one thing wrong."""

    does = frozenset({"quote"})
    broken = hangs = False

    def __init__(self, context: Context) -> None:
        if context.settings:
            raise ValueError("no key")
        self.context = context

    def quote(self, request: QuoteRequest) -> Quote:
        if Sound.broken:
            return self.when_broken(request)
        if Sound.hangs:
            self.wait()
            raise RuntimeError("the line is dead")
        return self.sound(request)

    def wait(self) -> None:
        pass

    def when_broken(self, request: QuoteRequest) -> Quote:
        raise RuntimeError("gone")

    def sound(self, request: QuoteRequest) -> Quote:
        offers = [
            Offer(item=one.item, unit=POOLS[one.item][0], pool=POOLS[one.item][1], arrivals=(
                Arrival(slot="now", sureness="on the shelf", prices=(Price(minor=1180, per=1000),)),))
            for one in request.wanted if one.item in POOLS]
        unreadable = {one.item: "wiped" for one in request.wanted if one == LOST}
        return Quote(as_of=NOW - timedelta(hours=1), currency="EUR", slots=(Slot(name="now", ready=NOW),),
                     offers=tuple(offers), unreadable=unreadable)


def case_of(maker: Callable[[Context], Any], folder: Path, name: str = "sound", **more: object) -> SourceCase:
    Sound.broken = Sound.hangs = False
    Told.keys = []
    told: dict[str, Any] = {
        "kind": SourceKind(name, "a sound one", maker, elsewhere="issue" in getattr(maker, "does", ())), "settings": {},
        "folder": folder,
        "has": {RING: "4", OIL: "1.5"}, "unreadable": (LOST,), "prices": {"RI-1": "11.80", "OI-1": "11800"},
        "told_at": NOW - timedelta(hours=1), "deadline_s": 0.3,
        "breaks": lambda: setattr(Sound, "broken", True), "hangs": lambda: setattr(Sound, "hangs", True)}
    return SourceCase(**{**told, **more})


def failing(checks: type, case: Callable[[], Any]) -> set[str]:
    """The checks that a plug-in fails."""
    found = set()
    for name, check in inspect.getmembers(checks, inspect.isfunction):
        if name.startswith("test_"):
            try:
                check(checks(), case())
            except BaseException:
                found.add(name)
    return found


class Told(Sound):
    """One that is told what was taken, and issues it once for a key."""

    does = frozenset({"quote", "issue"})
    keys: list[str] = []

    def issue(self, request):
        if request.key not in Told.keys:
            Told.keys.append(request.key)

    def sound(self, request):
        quote = super().sound(request)
        return change(quote, offers=tuple(
            change(offer, pool=offer.pool - 1000 * len(Told.keys)) if offer.item == "RI-1" else offer
            for offer in quote.offers))


class ToldTwice(Told):
    def issue(self, request):
        Told.keys.append(request.key)


class Takes(Sound):
    def __init__(self, context: Context) -> None:
        self.context = context


class Vague(Sound):
    does = frozenset({"quote", "everything"})


class Rounds(Sound):
    def sound(self, request):
        quote = super().sound(request)
        return change(quote, offers=tuple(change(offer, pool=offer.pool // 1_000_000 * 1_000_000 or offer.pool)
                                          for offer in quote.offers))


class Dear(Sound):
    def sound(self, request):
        quote = super().sound(request)
        price = Arrival(slot="now", sureness="on the shelf", prices=(Price(minor=1181, per=1000),))
        return change(quote, offers=tuple(change(offer, arrivals=(price,)) for offer in quote.offers))


class Hides(Sound):
    def sound(self, request):
        return change(super().sound(request), unreadable={})


class Invents(Sound):
    def sound(self, request):
        quote = super().sound(request)
        if any("~" in one.item for one in request.wanted):
            raise KeyError("unknown item")
        return quote


class Talkative(Sound):
    def sound(self, request):
        if not request.wanted:
            raise IndexError("list index out of range")
        return super().sound(request)


class Moody(Sound):
    count = 0

    def sound(self, request):
        Moody.count += 1
        quote = super().sound(request)
        return change(quote, slots=(Slot(name="now", ready=NOW + timedelta(seconds=Moody.count)),))


class Ahead(Sound):
    def sound(self, request):
        return change(super().sound(request), as_of=NOW + timedelta(hours=1))


class Forgets(Sound):
    def when_broken(self, request):
        return change(self.sound(request), offers=())


class Pretends(Sound):
    def when_broken(self, request):
        return change(self.sound(request), as_of=NOW)


class Waits(Sound):
    def wait(self):
        time.sleep(1)


class OneAtATime(Sound):
    busy = False

    def sound(self, request):
        if OneAtATime.busy:
            raise RuntimeError("busy")
        OneAtATime.busy = True
        time.sleep(0.05)
        OneAtATime.busy = False
        return super().sound(request)


@pytest.mark.parametrize("maker", [Sound, Told])
def test_a_sound_source_fails_no_check(tmp_path, maker):
    assert failing(SourceChecks, lambda: case_of(maker, tmp_path)) == set()


WRONG = {
    Takes: {"test_settings_that_it_does_not_know_are_refused"},
    Vague: {"test_it_says_what_it_does"},
    Rounds: {"test_what_there_is_and_what_it_costs_is_told_exactly"},
    Dear: {"test_what_there_is_and_what_it_costs_is_told_exactly"},
    Hides: {"test_what_it_cannot_tell_is_not_told_as_none"},
    Invents: {"test_an_item_that_it_does_not_know_is_none_and_harms_no_other"},
    Talkative: {"test_for_nothing_it_has_an_answer_too"},
    Moody: {"test_the_same_question_has_the_same_answer", "test_it_answers_several_at_once",
            "test_an_item_that_it_does_not_know_is_none_and_harms_no_other"},
    Ahead: {"test_it_says_of_when_its_answer_is", "test_its_answer_is_fresh_and_becomes_stale"},
    Forgets: {"test_one_that_cannot_answer_fails_and_is_not_empty"},
    Pretends: {"test_one_that_cannot_answer_fails_and_is_not_empty"},
    Waits: {"test_its_own_word_comes_before_the_deadline"},
    OneAtATime: {"test_it_answers_several_at_once"},
    ToldTwice: {"test_what_it_is_told_twice_under_one_key_it_issues_once"},
}


@pytest.mark.parametrize("maker", WRONG, ids=lambda maker: maker.__name__)
def test_one_thing_wrong_fails_the_check_that_is_for_it(tmp_path, maker):
    assert failing(SourceChecks, lambda: case_of(maker, tmp_path)) == WRONG[maker]


def test_a_kind_without_a_name_is_found(tmp_path):
    assert failing(SourceChecks, lambda: case_of(Sound, tmp_path, name=" ")) == {
        "test_it_is_registered_with_a_name_and_a_line_of_help"}


def test_every_check_of_sources_is_failed_by_something():
    checks = {name for name in dir(SourceChecks) if name.startswith("test_")}
    assert set().union(*WRONG.values()) | {"test_it_is_registered_with_a_name_and_a_line_of_help"} == checks


class Register:
    def __init__(self, context: Context) -> None:
        if context.settings:
            raise ValueError("no key")

    broken = False
    rows = (Entry("DEMO 001", "", (("axles", "4x2", "row 2"),)),)

    def find(self, registration):
        if Register.broken:
            raise OSError("gone")
        return [row for row in self.rows if row.registration.replace(" ", "") == "".join(
            char for char in registration.upper() if char.isalnum())]

    def registrations(self):
        return [row.registration for row in self.rows]


class Strict(Register):
    def find(self, registration):
        return super().find("DEMO001") if registration == "DEMO 001" else []


class Generous(Register):
    def find(self, registration):
        return super().find("DEMO001")


class Silent(Register):
    def registrations(self):
        return []


class Placeless(Register):
    rows = (Entry("DEMO 001", "", (("axles", "4x2", ""),)),)


class Empty(Register):
    def find(self, registration):
        return [] if Register.broken else super().find(registration)


class Lax(Register):
    def __init__(self, context):
        pass


@pytest.mark.parametrize(("maker", "failed"), [
    (Register, set()),
    (Lax, {"test_settings_that_it_does_not_know_are_refused"}),
    (Strict, {"test_how_a_registration_is_spelled_does_not_matter"}),
    (Generous, {"test_a_stranger_is_nobody"}),
    (Silent, {"test_it_lists_whom_it_knows"}),
    (Placeless, {"test_it_tells_what_it_knows_with_the_place"}),
    (Empty, {"test_one_that_cannot_answer_raises"}),
])
def test_one_thing_wrong_with_a_register_is_found(tmp_path, maker, failed):
    def case() -> RegisterCase:
        Register.broken = False
        return RegisterCase(kind=RegisterKind("r", "help", maker), settings={}, folder=tmp_path,
                            knows={"DEMO 001": {"axles": "4x2"}}, breaks=lambda: setattr(Register, "broken", True))
    assert failing(RegisterChecks, case) == failed


ENTRY = DiaryEntry(id="A", start=datetime(2026, 3, 11, 7, 30), site="here", job="work")


@pytest.mark.parametrize(("told", "when_broken", "takes", "failed"), [
    ([ENTRY], None, False, set()),
    ([ENTRY], None, True, {"test_settings_that_it_does_not_know_are_refused"}),
    ([ENTRY], [], False, {"test_one_that_cannot_answer_raises"}),
    ([], None, False, {"test_it_tells_all_its_bookings_each_time"}),
    ([change(ENTRY, start=NOW)], None, False, {"test_it_tells_all_its_bookings_each_time",
                                               "test_each_booking_has_an_id_of_its_own_and_a_start_at_the_site"}),
    ([ENTRY, ENTRY], None, False, {"test_it_tells_all_its_bookings_each_time",
                                   "test_each_booking_has_an_id_of_its_own_and_a_start_at_the_site"}),
])
def test_one_thing_wrong_with_a_diary_is_found(tmp_path, told, when_broken, takes, failed):
    broken: list[bool] = []

    class Diary:
        def __init__(self, context: Context) -> None:
            if context.settings and not takes:
                raise ValueError("no key")

        def entries(self):
            if broken and when_broken is None:
                raise OSError("gone")
            return when_broken if broken else told

    def case() -> DiaryCase:
        broken.clear()
        return DiaryCase(kind=DiaryKind("d", "help", Diary), settings={}, folder=tmp_path, holds=(ENTRY,),
                         breaks=lambda: broken.append(True))
    assert failing(DiaryChecks, case) == failed


def test_every_check_and_case_is_documented():
    for name in testing.__all__:
        one = getattr(testing, name)
        assert inspect.getdoc(one)
        for each, check in inspect.getmembers(one, inspect.isfunction):
            if each.startswith("test_"):
                assert inspect.getdoc(check), each


def test_it_imports_no_pytest():
    code = "import sys, kitbuilder.testing; print('pytest' in sys.modules, 'hypothesis' in sys.modules)"
    told = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, timeout=60).stdout
    assert told.split() == ["False", "False"]
