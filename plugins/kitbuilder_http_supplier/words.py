"""Where a question goes, and how a service's refusal is worded."""

import email.utils
from collections.abc import Mapping
from pathlib import Path
from urllib.parse import urlsplit

import msgspec

from kitbuilder import SourceFailed


class Struggles(SourceFailed):
    """The service was too slow, broke off, or refused because it has too much to do: asking it on would cost time and
    make it worse. `again_s`: the seconds after which it wants to be asked again, None where it doesn't say."""

    def __init__(self, text: str, again_s: float | None = None) -> None:
        super().__init__(text)
        self.again_s = again_s


class Place(msgspec.Struct, frozen=True):
    """Where a question goes: the whole address, the host as it is named in messages, the token that is sent ("":
    none), whether it is this machine, and the file of the authorities that are trusted (None: the usual ones)."""

    url: str
    host: str
    token: str = ""
    own_machine: bool = False
    ca_file: Path | None = None


def plain(text: str) -> str:
    """A stranger's text as it may stand in a message: one line, not long, nothing a terminal would obey."""
    text = "".join(char if char.isprintable() else " " for char in text)
    text = " ".join(text.split())
    return text if len(text) <= 200 else text[:199] + "…"


def refused(place: Place, status: int, headers: Mapping[str, str], tried: int) -> str:
    """The sentence for a status other than 200."""
    host = place.host
    if status == 401:
        what = "doesn't accept the token" if place.token else "asks for a token"
        return f"{host} {what} (status 401): check token_file or token_env"
    if status == 403:
        return f"{host} doesn't allow quotes to this workshop (status 403): ask the supplier to allow them" + (
            "" if place.token else ", and for a token")
    if status == 404:
        return f"{host} has no {plain(urlsplit(place.url).path)} (status 404): check url, to which /quote is added"
    if status == 429:
        return f"{host} has been asked too often (status 429{_later(headers)}){_times(tried)}: ask less often"
    if status >= 500:
        return f"{host} has a fault of its own (status {status}{_later(headers)}){_times(tried)}: try again later"
    if status in (301, 302, 303, 307, 308):
        to = plain(headers.get("location", "").partition("?")[0]) or "nowhere"
        return (f"{host} sends on to {to} (status {status}), where a question isn't taken unseen: put the new address "
                f"into url")
    if status >= 400:
        return f"{host} doesn't take the question (status {status}): does it know kitbuilder.quote-request/1?"
    return f"{host} answered status {status}, expected 200 with a quote"


def _times(tried: int) -> str:
    return f", asked {tried} times" if tried > 1 else ""


def _later(headers: Mapping[str, str]) -> str:
    wait_s = retry_after(headers)
    return "" if wait_s is None else f", to be asked again in {wait_s:.0f} s"


def retry_after(headers: Mapping[str, str]) -> float | None:
    """Seconds of a Retry-After, which is seconds or a date by the server's own clock; None without a sound one."""
    text = headers.get("retry-after", "").strip()
    if text.isdecimal() and text.isascii():
        return float(text[:9])
    try:
        then = email.utils.parsedate_to_datetime(text)
        return max(0.0, (then - email.utils.parsedate_to_datetime(headers["date"])).total_seconds())
    except (ValueError, TypeError, KeyError):  # no date, or one with a zone and one without
        return None
