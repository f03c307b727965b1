"""Answers to quotes that can be had again: remembered by name, in pages, with what tells whether they have changed."""

import hashlib
import json
import threading
import time
from collections import OrderedDict
from typing import Any
from urllib.parse import parse_qsl, urlsplit

import msgspec

#: So many questions are remembered; those put longest ago are forgotten first.
REMEMBERED = 256


class Page(msgspec.Struct, frozen=True):
    """A page of an answer: the status, what it says (None: nothing has changed), and its headers."""

    status: int
    answer: dict[str, Any] | None
    headers: dict[str, str]


class Answers:
    """The questions that were put, as they came (as JSON); `size`: so many offers stand on a page."""

    def __init__(self, size: int) -> None:
        self._size = size
        self._asked: OrderedDict[str, tuple[bytes, float]] = OrderedDict()
        self._lock = threading.Lock()

    def remember(self, question: bytes) -> str:
        """The name under which the answer to a question can be had again."""
        name = hashlib.sha256(question).hexdigest()[:24]
        with self._lock:
            self._asked[name] = question, time.monotonic()
            self._asked.move_to_end(name)
            while len(self._asked) > REMEMBERED:
                self._asked.popitem(last=False)
        return name

    def find(self, name: str) -> tuple[bytes, float] | None:
        """A question that was put, and how many seconds ago."""
        with self._lock:
            known = self._asked.get(name)
        return None if known is None else (known[0], time.monotonic() - known[1])

    def page(self, name: str, whole: dict[str, Any], number: int, known: str) -> Page | None:
        """A page of the whole answer, None where there is no such page; `known`: the tags that the asker has."""
        offers = whole["offers"]
        here = offers[(number - 1) * self._size:number * self._size]
        if number > 1 and not here:
            return None
        used = {arrival["slot"] for offer in here for arrival in offer["arrivals"]}
        answer = {**whole, "offers": here, "slots": [slot for slot in whole["slots"] if slot["name"] in used]}
        tag = f'"{hashlib.sha256(json.dumps(answer).encode()).hexdigest()[:24]}"'
        headers = {"Content-Location": f"/quote/{name}" + (f"?page={number}" if number > 1 else ""), "ETag": tag}
        if number * self._size < len(offers):
            headers["Link"] = f'</quote/{name}?page={number + 1}>; rel="next"'
        if tag in [one.strip() for one in known.split(",")]:
            return Page(304, None, headers)
        return Page(200, answer, headers)


def place_of(path: str) -> tuple[str, int] | None:
    """The name and the page in a path such as /quote/7?page=2; None where it is none."""
    parts = urlsplit(path)
    name = parts.path.removeprefix("/quote/")
    number = dict(parse_qsl(parts.query)).get("page", "1")
    if name == parts.path or not name or "/" in name or not (number.isascii() and number.isdecimal()):
        return None
    return name, max(1, int(number[:9]))
