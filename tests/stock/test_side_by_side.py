"""Sources are asked at once: the slowest costs no more than itself."""

import threading

from tests.stock.asking import QUOTE, REQUEST, Says, asked, saying


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
