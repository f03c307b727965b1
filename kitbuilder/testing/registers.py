"""Checks of a vehicle register."""

from collections.abc import Callable, Mapping
from pathlib import Path
from typing import Any

import msgspec

from kitbuilder.hooks import Context, Entry, RegisterKind, VehicleRegister


class RegisterCase(msgspec.Struct, frozen=True, kw_only=True):
    """A register to be checked, and what is true of it.

    `kind`, `settings`, `folder` as for a source. `knows`: registrations (or VINs in their place) with facts and cells
    that it tells of each, as written. `stranger` is one it doesn't know. `breaks` makes it unable to answer.
    """

    kind: RegisterKind
    settings: Mapping[str, Any]
    folder: Path
    knows: Mapping[str, Mapping[str, str]]
    stranger: str = "NO SUCH 999"
    breaks: Callable[[], object] | None = None

    def made(self, settings: Mapping[str, Any] | None = None) -> VehicleRegister:
        """The register, as kitbuilder makes it for each command."""
        return self.kind.make(Context(
            "checked", dict(self.settings if settings is None else settings), self.folder, "EUR"))


class RegisterChecks:
    """What kitbuilder relies on in a register. A class that inherits it has a fixture `case`, a RegisterCase."""

    def test_settings_that_it_does_not_know_are_refused(self, case: RegisterCase) -> None:
        """A bare ValueError says what was expected."""
        try:
            case.made({**case.settings, "no-such-key": "1"})
        except ValueError as error:
            assert type(error) is ValueError
            assert str(error).strip()
        else:
            raise AssertionError("it took no-such-key")

    def test_it_tells_what_it_knows_with_the_place(self, case: RegisterCase) -> None:
        """Cells are as written, and say where they stand: a wrong one has to be found."""
        for registration, cells in case.knows.items():
            told: dict[str, str] = {}
            for entry in case.made().find(registration):
                assert type(entry) is Entry
                assert entry.registration.strip()
                for fact, cell, place in entry.cells:
                    assert fact.strip(), "a fact without a name"
                    assert cell.strip(), "what isn't known is left out"
                    assert place.strip(), f"{fact} doesn't say where it stands"
                    told[fact] = cell
            assert {fact: told.get(fact) for fact in cells} == dict(cells), registration

    def test_how_a_registration_is_spelled_does_not_matter(self, case: RegisterCase) -> None:
        """People type it with spaces, hyphens or neither, in any case."""
        for registration in case.knows:
            bare = "".join(char for char in registration if char.isalnum())
            expected = list(case.made().find(registration))
            for spelling in (bare, bare.lower(), "-".join(bare), f" {bare} "):
                assert list(case.made().find(spelling)) == expected, spelling

    def test_a_stranger_is_nobody(self, case: RegisterCase) -> None:
        """One that it doesn't know has no rows; the empty registration is no vehicle's."""
        assert list(case.made().find(case.stranger)) == []
        assert list(case.made().find("")) == []

    def test_it_lists_whom_it_knows(self, case: RegisterCase) -> None:
        """So that the nearest can be named for one mistyped."""
        listed = {_bare(one) for one in case.made().registrations()}
        assert {_bare(entry.registration) for one in case.knows for entry in case.made().find(one)} <= listed

    def test_one_that_cannot_answer_raises(self, case: RegisterCase) -> None:
        """A vehicle that reads as unknown gets the kit of any vehicle."""
        if case.breaks is None:
            return
        case.breaks()
        for registration in case.knows:
            try:
                found = list(case.made().find(registration))
            except Exception:  # noqa: S112 - whatever it raises: that is what is asked for
                continue
            raise AssertionError(f"it answered {found}")


def _bare(registration: str) -> str:
    return "".join(char for char in registration.casefold() if char.isalnum())
