"""Finds things that lead back to themselves: findings that cover each other, job types inside each other."""

from collections.abc import Iterable, Mapping


def reached(start: str, edges: Mapping[str, Iterable[str]]) -> set[str]:
    """All that `start` leads to, straight or through others; names that lead nowhere are left out."""
    seen: set[str] = set()
    todo = [start]
    while todo:
        for name in edges[todo.pop()]:
            if name in edges and name not in seen:
                seen.add(name)
                todo.append(name)
    return seen


def circles(edges: Mapping[str, Iterable[str]]) -> list[list[str]]:
    """The groups of names that all lead to each other, in order of their first; each name in one at most."""
    reach = {name: reached(name, edges) for name in edges}
    found: list[list[str]] = []
    done: set[str] = set()
    for name in edges:
        if name in reach[name] and name not in done:
            group = [other for other in edges if other in reach[name] and name in reach[other]]
            found.append(group)
            done.update(group)
    return found
