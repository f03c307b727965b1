"""Facts and their values in words, as a person says them."""

from collections.abc import Mapping, Sequence

from kitbuilder.model.kit import KnownFact, When
from kitbuilder.show.paper import listed

Groups = Mapping[str, Mapping[tuple[str, ...], str]]
"""For each fact, the names of its groups by their cells."""


def when_words(when: When, groups: Groups, facts: Sequence[KnownFact]) -> str:
    """Branches as a person says them, without the facts of which any open value will do."""
    opened = {one.fact: one.values for one in facts}
    branches = []
    for branch in when:
        telling = {fact: cells for fact, cells in branch.items() if cells != opened.get(fact)} or branch
        said = (f"{fact} is {cells_words(fact, cells, groups)}" for fact, cells in telling.items())
        branches.append(" and ".join(said))
    return "; or ".join(branches)


def cells_words(fact: str, cells: tuple[str, ...], groups: Groups) -> str:
    """Cells as a person says them: the name of the group that is just these, else the values."""
    return groups.get(fact, {}).get(tuple(cells)) or listed(cells)
