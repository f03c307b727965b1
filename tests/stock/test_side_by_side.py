"""Sources are asked at once: the slowest costs no more than itself."""

import threading
import time
from pathlib import Path

import msgspec

from kitbuilder.plugins import Plugins
from kitbuilder.settings import PluginSettings, Settings
from kitbuilder.stock.health import Asked, Health, folder_of, note_health
from kitbuilder.stock.quoting import Answer, ask_sources
from tests.stock.asking import QUOTE, REQUEST, Says, asked, brought, change, saying


def test_all_sources_are_asked_before_any_has_to_answer():
    meet = threading.Barrier(8, timeout=20)

    def answer(request):
        meet.wait()  # breaks, and so fails the source, unless all eight are here at one time
        return QUOTE

    answers = asked(*[lambda context: Says(answer)] * 8, deadline_s=30)
    assert [one.error for one in answers] == [None] * 8


def test_answers_stand_in_the_order_of_the_settings_whoever_is_first():
    second_done = threading.Event()

    def first(request):
        assert second_done.wait(20)
        return QUOTE

    def second(request):
        second_done.set()
        return QUOTE

    answers = asked(lambda context: Says(first), lambda context: Says(second), saying(QUOTE))
    assert [(one.source, one.state) for one in answers] == [(f"source-{at}", "fresh") for at in range(3)]


def test_several_that_hang_cost_one_deadline_and_keep_nobody_from_answering():
    hold, hanging = threading.Event(), threading.Semaphore(0)

    def hangs(request):
        hanging.release()
        hold.wait(60)

    def answers_last(request):
        # all the others hang already: had they been asked in turn, this one would never be reached before them
        for _ in range(6):
            assert hanging.acquire(timeout=20)
        return QUOTE

    try:
        answers = asked(*[lambda context: Says(hangs)] * 6, lambda context: Says(answers_last), deadline_s=1.0)
    finally:
        hold.set()
    assert [one.error for one in answers[:6]] == [f"kind-{at} of a-stranger: no answer within 1 s" for at in range(6)]
    assert answers[6].state == "fresh", answers[6].error


def test_every_source_is_asked_the_same_once():
    met = []
    asked(*[lambda context: Says(lambda request: met.append((context.name, request)) or QUOTE)] * 3)
    assert sorted(met, key=lambda one: one[0]) == [(f"source-{at}", REQUEST) for at in range(3)]


def test_without_sources_there_are_no_answers():
    assert asked() == []


def test_what_a_source_prints_goes_to_standard_error(capsys):
    asked(lambda context: print("made") or Says(lambda request: print("asked") or QUOTE))
    printed = capsys.readouterr()
    assert (printed.out, printed.err) == ("", "made\nasked\n")


def in_a_round(makers, round_s, deadline_s=30.0, before=(), folder=Path("/"), cache=None) -> list[Answer]:
    settings = Settings(folder, sources=tuple(
        PluginSettings(name, name, deadline_s, 24.0, {}) for name in makers), round_s=round_s)
    return ask_sources(settings, brought(makers), REQUEST, "EUR", cache=cache, before=before)


def test_a_round_ends_at_its_deadline_with_what_has_come():
    hold = threading.Event()
    started = time.monotonic()
    try:
        good, slow, slower = in_a_round(
            {"good": saying(QUOTE), "slow": lambda context: Says(lambda request: hold.wait(60)),
             "slower": lambda context: hold.wait(60)}, round_s=0.5)
    finally:
        hold.set()
    assert time.monotonic() - started < 5
    assert (good.state, good.hung) == ("fresh", False)
    assert [one.hung for one in (slow, slower)] == [True, True]
    assert slow.error == (
        "slow of a-stranger: no answer within 0.5 s; a round of quotes ends after 0.5 s (deadline_s in [quotes])")


def test_a_sources_own_deadline_stays_its_upper_limit():
    hold = threading.Event()
    try:
        [slow] = in_a_round({"slow": lambda context: Says(lambda request: hold.wait(60))}, 30.0, deadline_s=0.3)
    finally:
        hold.set()
    assert (slow.error, slow.hung) == ("slow of a-stranger: no answer within 0.3 s", True)


def test_a_source_is_told_how_long_it_has_so_that_it_can_give_what_it_kept():
    def make(context):
        return Says(lambda request: change(QUOTE, kept=f"nothing new within {context.deadline_s:g} s"))

    assert in_a_round({"far": make}, 2.0)[0].quote.kept == "nothing new within 2 s"
    assert in_a_round({"far": make}, 2.0, deadline_s=1.0)[0].quote.kept == "nothing new within 1 s"
    assert in_a_round({"far": make}, None, deadline_s=3.0)[0].quote.kept == "nothing new within 3 s"


def test_one_that_hung_is_not_waited_for_again_in_a_later_round_and_the_others_are_asked_anew():
    hold, met = threading.Event(), []

    def make(context):
        def answer(request):
            met.append(context.name)
            return hold.wait(60) if context.name == "slow" else QUOTE
        return Says(answer)

    def breaks(context):
        met.append("broken")
        raise OSError("no line")

    makers = {"slow": make, "good": make, "broken": breaks}
    try:
        first = in_a_round(makers, 0.4)
        started = time.monotonic()
        second = in_a_round(makers, 0.4, before=msgspec.json.decode(msgspec.json.encode(first), type=list[Answer]))
        assert time.monotonic() - started < 0.4
    finally:
        hold.set()
    assert sorted(met) == ["broken", "broken", "good", "good", "slow"]
    assert second == first
    assert [one.hung for one in first] == [True, False, False]


def test_an_answer_frozen_before_it_could_tell_that_a_source_hung_is_still_read():
    frozen = b'[{"source":"far","does":["quote"],"state":"failed","quote":null,"age_s":null,"error":"gone"}]'
    assert msgspec.json.decode(frozen, type=list[Answer])[0].hung is False


def test_the_one_that_took_longest_the_last_time_is_asked_first(tmp_path):
    met = []

    def make(context):
        met.append(context.name)
        return Says(lambda request: QUOTE)

    names = ("quick", "slow", "new", "middling")
    took = {"quick": 20, "slow": 900, "middling": 400}
    settings = Settings(tmp_path, sources=tuple(PluginSettings(name, name, 5, 24, {}) for name in names))
    for one in settings.sources:
        if one.name in took:
            note_health(folder_of(tmp_path, settings, one), Health(),
                        Asked(REQUEST.now, took[one.name], REQUEST.now), 0.0)
    # one after the other, so that their order shows: a source begins only when the one before is done
    class InTurn(Plugins):
        def source(self, name):
            while len(met) < started[0]:
                time.sleep(0.001)
            started[0] += 1
            return super().source(name)

    started = [0]
    plugins = brought(dict.fromkeys(names, make))
    answers = ask_sources(settings, InTurn(plugins.rows, plugins.sources, {}), REQUEST, "EUR", cache=tmp_path)
    assert met == ["slow", "middling", "quick", "new"]
    assert [one.source for one in answers] == list(names)
