"""Fits by the million: kept as the bytes that an edition holds of them, in a fraction of the room that values take."""

from collections.abc import Iterable, Iterator

import msgspec

from kitbuilder.model.catalogue import Fit


class KeptFits:
    """Fits with their job (empty: every job that lists the role), in the order in which they were read."""

    def __init__(self) -> None:
        self._jobs: list[str] = []
        self._fits: list[bytes] = []
        self._shared: dict[int, str] = {}

    def __len__(self) -> int:
        return len(self._fits)

    def __iter__(self) -> Iterator[tuple[str, Fit]]:
        decode = msgspec.msgpack.Decoder(Fit).decode
        for job, fit in zip(self._jobs, self._fits, strict=True):
            yield job, decode(fit)

    def __eq__(self, other: object) -> bool:
        return isinstance(other, KeptFits) and self._jobs == other._jobs and self._fits == other._fits

    def add(self, fits: Iterable[tuple[str, Fit]]) -> None:
        """Keep more fits, each with its job."""
        encode = msgspec.msgpack.Encoder().encode
        for job, fit in fits:
            if not job:
                self._shared[len(self._fits)] = fit.role
            self._jobs.append(job)
            self._fits.append(encode(fit))

    def by_place(self) -> tuple[dict[str, list[msgspec.Raw]], dict[str, list[msgspec.Raw]]]:
        """The encoded fits that belong to each job, and those that belong to each role."""
        own: dict[str, list[msgspec.Raw]] = {}
        shared: dict[str, list[msgspec.Raw]] = {}
        for number, (job, fit) in enumerate(zip(self._jobs, self._fits, strict=True)):
            if job:
                own.setdefault(job, []).append(msgspec.Raw(fit))
            else:
                shared.setdefault(self._shared[number], []).append(msgspec.Raw(fit))
        return own, shared
