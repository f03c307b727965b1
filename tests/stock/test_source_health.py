"""How sources have answered lately: noted for each, shown, and never in the way of an answer."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from kitbuilder import Quote, QuoteRequest, SourceFailed, SourceRests
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.health import Health, folder_of, read_health
from kitbuilder.stock.quoting import Answer, ask_sources, told_of
from tests.stock.asking import NOW, QUOTE, REQUEST, Says, brought, change

UNTIL = datetime(2026, 3, 10, 16, tzinfo=UTC)


class Mood:
    """What the source does the next time."""

    def __init__(self) -> None:
        self.error: Exception | None = None
        self.quote = QUOTE

    def __call__(self, request: QuoteRequest) -> Quote:
        if self.error is not None:
            raise self.error
        return self.quote


def settings_of(folder: Path, *names: str, deadline_s: float = 5.0) -> Settings:
    return Settings(folder, sources=tuple(PluginSettings(name, name, deadline_s, 24.0, {}) for name in names))


def ask(folder: Path, mood: Mood, now: datetime = NOW) -> tuple[Answer, Health]:
    settings = settings_of(folder, "far")
    plugins = brought({"far": lambda context: Says(mood)})
    [answer] = ask_sources(
        settings, plugins, QuoteRequest(REQUEST.wanted, now), "EUR", cache=folder / "cache")
    return answer, read_health(folder_of(folder / "cache", settings, settings.sources[0]))


def test_an_answer_and_failures_are_noted(tmp_path):
    mood = Mood()
    mood.quote = change(QUOTE, as_of=NOW - timedelta(hours=1))
    _, health = ask(tmp_path, mood)
    assert (health.answered, health.as_of, health.failures) == (NOW, NOW - timedelta(hours=1), 0)
    assert health.took_ms is not None
    mood.error = SourceFailed("gone")
    for times in (1, 2, 3):
        _, health = ask(tmp_path, mood, NOW + timedelta(hours=times))
        assert (health.answered, health.as_of, health.failures) == (NOW, NOW - timedelta(hours=1), times)
    mood.error = None
    _, health = ask(tmp_path, mood, NOW + timedelta(hours=4))
    assert (health.answered, health.failures) == (NOW + timedelta(hours=4), 0)


def test_one_that_rests_has_not_failed_once_more(tmp_path):
    mood = Mood()
    mood.error = SourceFailed("too slow")
    ask(tmp_path, mood)
    mood.error = SourceRests("not before four", UNTIL)
    answer, health = ask(tmp_path, mood)
    assert (answer.state, answer.error) == ("failed", "far of a-stranger: not before four")
    assert (health.failures, health.rests_until) == (1, UNTIL)
    mood.error = None
    assert ask(tmp_path, mood)[1].rests_until is None


def test_a_time_that_is_none_is_not_taken_for_one(tmp_path):
    mood = Mood()
    for wrong in ("soon", datetime(2026, 3, 10), None):
        mood.error = SourceRests("later", wrong)
        answer, health = ask(tmp_path, mood)
        assert answer.state == "failed"
        assert health.rests_until is None


def test_each_source_of_each_workshop_has_a_folder_of_its_own(tmp_path):
    cache = tmp_path / "cache"
    folders = {
        folder_of(cache, Settings(tmp_path / place), PluginSettings(name, plugin, 5, 24, {}))
        for place in ("a", "b") for name in ("far", "../far", "fär", "far ") for plugin in ("x", "y")}
    assert len(folders) == 16
    assert {folder.parent for folder in folders} == {cache / "sources"}


def test_a_source_keeps_things_in_its_folder(tmp_path):
    seen = []

    def make(context):
        seen.append(context.cache)
        return Says(lambda request: QUOTE)

    settings = settings_of(tmp_path, "far")
    ask_sources(settings, brought({"far": make}), REQUEST, "EUR", cache=tmp_path / "cache")
    ask_sources(settings, brought({"far": make}), REQUEST, "EUR")
    assert seen == [folder_of(tmp_path / "cache", settings, settings.sources[0]), None]


def test_where_nothing_can_be_written_or_read_the_answer_stands(tmp_path):
    (tmp_path / "cache").write_text("a file")
    answer, health = ask(tmp_path, Mood())
    assert (answer.state, health) == ("fresh", Health())
    (tmp_path / "cache").unlink()
    ask(tmp_path, Mood())
    [file] = (tmp_path / "cache").rglob("health.json")
    file.write_text("{")
    assert ask(tmp_path, Mood())[1].failures == 0


def test_a_kept_answer_is_stale_however_young_and_said(tmp_path):
    mood = Mood()
    mood.quote = change(QUOTE, kept="the line is being mended")
    answer, _ = ask(tmp_path, mood)
    assert (answer.state, answer.age_s) == ("stale", 0)
    assert told_of([answer]) == ["The source far gives its last good answer: the line is being mended"]


def test_a_slow_source_costs_its_deadline_once_however_much_is_asked(tmp_path):
    """Ten sources side by side, one of which hangs: the round is as long as its deadline, and the others answer."""
    names = [f"s{number}" for number in range(10)]

    def make(context):
        wait_s = 5.0 if context.name == "s3" else 0.2
        return Says(lambda request: time.sleep(wait_s) or QUOTE)

    started = time.monotonic()
    answers = ask_sources(settings_of(tmp_path, *names, deadline_s=1.0), brought(dict.fromkeys(names, make)), REQUEST,
                          "EUR", cache=tmp_path / "cache")
    assert time.monotonic() - started < 1.8
    assert [one.source for one in answers if one.state == "failed"] == ["s3"]
    assert [one.source for one in answers] == names
