"""How sources have answered lately: noted for each, shown, and never in the way of an answer."""

import time
from datetime import UTC, datetime, timedelta
from pathlib import Path

from kitbuilder import Quote, QuoteRequest, SourceFailed, SourceRests
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.health import Asked, Health, folder_of, note_health, read_health, told_to_rest
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
    assert told_of([answer]) == ["The source far gives its last good answer, told just now: the line is being mended"]


def test_an_old_answer_is_told_with_its_age_also_where_the_source_has_nothing_of_a_kit(tmp_path):
    mood = Mood()
    mood.quote = change(QUOTE, as_of=NOW - timedelta(hours=25), offers=())
    answer, _ = ask(tmp_path, mood)
    assert told_of([answer]) == ["The source far is stale, told 25 h ago."]


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


def test_how_it_went_lately_is_remembered_for_a_while(tmp_path):
    mood = Mood()
    for times in range(30):
        mood.error = SourceFailed("gone") if times % 5 == 0 else None
        _, health = ask(tmp_path, mood)
    assert (len(health.lately), sum(one.failed for one in health.lately)) == (20, 4)
    assert all(one.took_ms >= 0 for one in health.lately)
    mood.error = SourceRests("later", UNTIL)
    assert ask(tmp_path, mood)[1].lately == health.lately


def test_what_an_earlier_kitbuilder_noted_is_still_read(tmp_path):
    (tmp_path / "health.json").write_text(
        '{"answered":"2026-03-10T15:00:00Z","as_of":null,"took_ms":3,"failures":2,"rests_until":null}')
    assert read_health(tmp_path) == Health(NOW, None, 3, 2)


MONDAY = datetime(2026, 3, 9, 8, tzinfo=UTC).timestamp()


class Slow(Mood):
    """One that is slow, and can be counted how often it was asked."""

    def __init__(self, wait_s: float) -> None:
        super().__init__()
        self.wait_s, self.asked = wait_s, 0

    def __call__(self, request: QuoteRequest) -> Quote:
        self.asked += 1
        time.sleep(self.wait_s)
        return super().__call__(request)


def at(folder: Path, mood: Mood, machine: float, deadline_s: float = 1.0) -> tuple[Answer, Health]:
    """As `ask`, with another clock of the machine's."""
    settings = settings_of(folder, "far", deadline_s=deadline_s)
    [answer] = ask_sources(settings, brought({"far": lambda context: Says(mood)}), REQUEST, "EUR",
                           cache=folder / "cache", machine=lambda: machine)
    return answer, read_health(folder_of(folder / "cache", settings, settings.sources[0]))


def test_one_that_hung_three_times_in_a_row_is_left_alone_for_a_while_and_says_so(tmp_path):
    mood = Slow(1.3)
    for _ in range(3):
        answer, health = at(tmp_path, mood, MONDAY)
        assert answer.error == "far of a-stranger: no answer within 1 s"
    assert (health.failures, health.slow) == (3, 3)
    assert health.rests_until == datetime(2026, 3, 9, 8, 1, tzinfo=UTC)
    started = time.monotonic()
    answer, health = at(tmp_path, mood, MONDAY + 59)
    assert time.monotonic() - started < 0.5
    assert (answer.state, mood.asked, health.failures) == ("failed", 3, 3)
    assert answer.error == ("it isn't asked before 08:01:00 UTC, because it was slow and failed 3 times in a row, at "
                            "last so: far of a-stranger: no answer within 1 s")
    # asked again when the time is over: twice as long then
    _, health = at(tmp_path, mood, MONDAY + 61)
    assert (mood.asked, health.failures) == (4, 4)
    assert health.rests_until == datetime(2026, 3, 9, 8, 3, 1, tzinfo=UTC)
    mood.wait_s = 0
    answer, health = at(tmp_path, mood, MONDAY + 200)
    assert (answer.state, health.failures, health.slow, health.rests_until) == ("fresh", 0, 0, None)


def test_one_that_fails_at_once_may_be_asked_at_any_time(tmp_path):
    mood = Slow(0)
    mood.error = SourceFailed("refused")
    for times in range(1, 7):
        answer, health = at(tmp_path, mood, MONDAY)
        assert (mood.asked, health.failures, health.rests_until) == (times, times, None)
        assert answer.error == "far of a-stranger: refused"


def test_rests_grow_to_a_quarter_of_an_hour_and_a_clock_set_back_ends_them(tmp_path):
    health = Health()
    for times in range(1, 12):
        note_health(tmp_path, health, Asked(NOW, 5000, why="too slow"), MONDAY)
        health = read_health(tmp_path)
        rest_s = health.rests_until.timestamp() - MONDAY if health.rests_until else 0
        assert rest_s == (0 if times < 3 else min(60 * 2 ** (times - 3), 900))
    assert told_to_rest(health, MONDAY + 899)
    assert not told_to_rest(health, MONDAY + 900)
    assert not told_to_rest(health, MONDAY - 3600)
