"""Leaves a service that struggles alone for a while, across commands: what is known of it lies in a small file."""

from datetime import UTC, datetime
from pathlib import Path

import msgspec

from kitbuilder import SourceFailed, SourceRests
from kitbuilder_http_supplier.keeping import put_whole
from kitbuilder_http_supplier.words import Struggles, plain

#: After so many failures in a row it isn't asked for so many seconds; each further failure doubles them, up to a limit.
ENOUGH = 3
FIRST_REST_S = 60.0
#: Also the longest that a service's own Retry-After is heeded: a mistake there mustn't silence it for days.
LONGEST_REST_S = 900.0


class _State(msgspec.Struct, frozen=True):
    failures: int = 0
    until: float = 0.0
    why: str = ""


class Rest:
    """The memory of one service's failures in a row, in a file of a folder (None: nothing is remembered).

    Only failures that cost time or burden the service count (`Struggles`): one that refuses the connection or the
    token does so at once, and may be asked as often as anybody likes. Times are the machine's own, in seconds.
    """

    def __init__(self, folder: Path | None, host: str) -> None:
        self._file = folder / "rest.json" if folder else None
        self._host = host

    def check(self, now: float) -> None:
        """Raise SourceRests if the service isn't to be asked yet."""
        state = self._state()
        # beyond the longest rest: the machine's clock was set back
        if now < state.until <= now + LONGEST_REST_S:
            until = datetime.fromtimestamp(state.until, UTC).replace(microsecond=0)
            times = f"it failed {state.failures} times in a row, at last so" if state.failures > 1 else "it failed so"
            raise SourceRests(
                f"{self._host} isn't asked before {until:%H:%M:%S} UTC, because {times}: {state.why}", until)

    def answered(self) -> None:
        """Forget what was before."""
        if self._file is not None and self._file.exists():
            self._file.unlink(missing_ok=True)

    def failed(self, error: SourceFailed, now: float) -> None:
        """Remember a failure, if it is one that counts."""
        if self._file is None or not isinstance(error, Struggles):
            return
        failures = self._state().failures + 1
        rest_s = 0.0
        if error.again_s is not None:
            rest_s = error.again_s
        elif failures >= ENOUGH:
            rest_s = FIRST_REST_S * 2.0 ** min(failures - ENOUGH, 10)
        put_whole(self._file, msgspec.json.encode(
            _State(failures, now + min(rest_s, LONGEST_REST_S), plain(str(error)))))

    def _state(self) -> _State:
        if self._file is None:
            return _State()
        try:
            return msgspec.json.decode(self._file.read_bytes(), type=_State)
        except (OSError, msgspec.DecodeError, UnicodeDecodeError):
            return _State()  # none there, or damaged: then it is asked
