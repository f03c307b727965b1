"""What is worth having where several wishes share what they need: a minimum cut, in whole numbers.

Wishes each bring a gain once all that they need is there; what is needed costs once, however many wishes need it.
The best set of wishes is the source's side of a minimum cut (Picard 1976, Management Science 22(11): the maximum
closure of a graph); the flow is Dinic's (1970), with numbers of any size.
"""

from collections import deque
from collections.abc import Sequence


def worth_having(gains: Sequence[int], costs: Sequence[int], needs: Sequence[int]) -> int:
    """What to have, as a mask of the things in `costs`, so that the gains of the wishes granted less the costs of what
    they need are greatest; of several best sets the one that all others hold. `needs`: a mask of things a wish."""
    source, sink = 0, 1
    first_wish, first_thing = 2, 2 + len(gains)
    flow = _Flow(2 + len(gains) + len(costs))
    for thing, cost in enumerate(costs):
        flow.edge(first_thing + thing, sink, cost)
    for wish, gain in enumerate(gains):
        flow.edge(source, first_wish + wish, gain)
        mask = needs[wish]
        while mask:
            low = mask & -mask
            flow.edge(first_wish + wish, first_thing + low.bit_length() - 1, gain)
            mask ^= low
    near = flow.cut(source, sink)
    found = 0
    for wish, mask in enumerate(needs):
        if near[first_wish + wish]:
            found |= mask
    return found


class _Flow:
    """A network; edges are numbered so that an edge's reverse is its number with the last bit turned."""

    def __init__(self, nodes: int) -> None:
        self._of: list[list[int]] = [[] for _ in range(nodes)]
        self._to: list[int] = []
        self._left: list[int] = []

    def edge(self, start: int, end: int, capacity: int) -> None:
        for node, other, left in ((start, end, capacity), (end, start, 0)):
            self._of[node].append(len(self._to))
            self._to.append(other)
            self._left.append(left)

    def cut(self, source: int, sink: int) -> list[bool]:
        """Which nodes are reached from the source once the flow is greatest: the smallest source's side."""
        while True:
            level = self._levels(source)
            if level[sink] < 0:
                return [one >= 0 for one in level]
            at = [0] * len(self._of)
            while self._push(source, sink, level, at):
                pass

    def _levels(self, source: int) -> list[int]:
        level = [-1] * len(self._of)
        level[source] = 0
        waiting = deque([source])
        while waiting:
            node = waiting.popleft()
            for edge in self._of[node]:
                other = self._to[edge]
                if self._left[edge] and level[other] < 0:
                    level[other] = level[node] + 1
                    waiting.append(other)
        return level

    def _push(self, source: int, sink: int, level: list[int], at: list[int]) -> bool:
        """One more path of the flow, if there is one."""
        path: list[int] = []
        node = source
        while node != sink:
            edges = self._of[node]
            while at[node] < len(edges):
                edge = edges[at[node]]
                if self._left[edge] and level[self._to[edge]] == level[node] + 1:
                    break
                at[node] += 1
            if at[node] < len(edges):
                path.append(edges[at[node]])
                node = self._to[path[-1]]
            elif path:
                node = self._to[path.pop() ^ 1]
                at[node] += 1
            else:
                return False
        more = min(self._left[edge] for edge in path)
        for edge in path:
            self._left[edge] -= more
            self._left[edge ^ 1] += more
        return True
