"""Whole kits on random small catalogues, against the plain judge that looks into every world."""

from pathlib import Path
from tempfile import TemporaryDirectory

import msgspec
import pytest
from hypothesis import HealthCheck, given, note, settings
from hypothesis import strategies as st

from kitbuilder.catalogue.cache import read_edition
from kitbuilder.errors import Contradiction
from kitbuilder.kit.build import build_kit
from kitbuilder.kit.fingerprint import matches
from kitbuilder.vehicle.statements import Statement
from tests import brute, brute_worlds, draw_worlds, draws, spec_files


def built(spec, job, statements):
    """The kit as its JSON, from a folder that holds the catalogue."""
    with TemporaryDirectory() as folder:
        spec_files.write(spec, Path(folder))
        edition = read_edition(Path(folder))
    told = [Statement(one.fact, one.cell, one.source) for one in statements]
    return build_kit(edition, job, told)


@settings(suppress_health_check=list(HealthCheck), deadline=None)
@given(st.data())
def test_a_kit_is_what_looking_into_every_world_says(data):
    spec = data.draw(draws.specs())
    statements = data.draw(draw_worlds.statements(spec))
    job = data.draw(st.sampled_from([job.name for job in spec.jobs]))
    try:
        wanted = brute.kit(spec, job, statements)
    except brute_worlds.Contradiction as contradiction:
        with pytest.raises(Contradiction) as raised:
            built(spec, job, statements)
        for one in contradiction.statements:
            assert f"{one.fact} = {one.cell}" in str(raised.value)
        for table in contradiction.tables:
            assert table in str(raised.value)
        return
    kit = built(spec, job, statements)
    assert matches(kit)
    got = msgspec.json.decode(msgspec.json.encode(kit))
    note(repr(spec))
    assert len(got["warnings"]) == len(brute.open_worlds(spec, statements).aside)
    assert got["facts"] == wanted["facts"]
    for one in (*got["lines"], *got["nothing"]):
        assert one.pop("because")
    assert got["lines"] == wanted["lines"]
    assert got["nothing"] == wanted["nothing"]
    for one in got["problems"]:
        assert one.pop("text")
    assert got["problems"] == wanted["problems"]
    assert [{"fact": one["fact"], "answers": one["answers"]} for one in got["questions"]] == wanted["questions"]
    assert [one["name"] for one in got["cautions"]] == wanted["cautions"]
    assert got["complete"] == wanted["complete"]
    assert got["fingerprint"] == wanted["fingerprint"]
