"""The start gate: every way a part can be there, come, or not come; several stages; margins in minutes."""

import itertools
from datetime import timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitbuilder.model.catalogue import Stage
from kitbuilder.workshop.gate import gate, risks_of
from tests.workshop.making import NOW, START, booking, hold, item, line, order, work_kit_of

STAGES = (Stage("fit", 60), Stage("fill", 30), Stage("test", 30))
STARTS = {"fit": START, "fill": START + timedelta(minutes=60), "test": START + timedelta(minutes=90)}
ITEMS = {one.number: one for one in (item("S1", name="Seal"), item("O1", "L", "Oil"), item("O5", "mL", "Oil"))}
MIN = timedelta(minutes=1)


def asked(*lines, holds=(), orders=(), now=NOW, kit=None, **more):
    return gate(
        booking(), kit or work_kit_of(*lines), STAGES, more.pop("starts", STARTS), holds, orders, ITEMS, now, **more
    )


def only(answer):
    (stage,) = answer.stages
    return stage


# what there may be of a line of one piece, and what the stage then is
KINDS = {
    "planned": (hold("seal:S1", "S1"), None, "ready"),
    "picking": (hold("seal:S1", "S1", state="picking"), None, "ready"),
    "picked": (hold("seal:S1", "S1", state="picked"), None, "ready"),
    "issued": (hold("seal:S1", "S1", state="issued"), None, "ready"),
    "released": (hold("seal:S1", "S1", state="released"), None, "short"),
    "of another booking": (hold("seal:S1", "S1", of=13), None, "short"),
    "ordered in time": (None, order("seal:S1", "S1", ready=START - 30 * MIN), "must arrive"),
    "ordered, just in time": (None, order("seal:S1", "S1", ready=START), "must arrive"),
    "ordered, too late": (None, order("seal:S1", "S1", ready=START + MIN), "late"),
    "expected later than its slot": (
        None,
        order("seal:S1", "S1", ready=START - MIN, expected=START + 30 * MIN),
        "late",
    ),
    "expected earlier than its slot": (
        None,
        order("seal:S1", "S1", ready=START + MIN, expected=START - 30 * MIN),
        "must arrive",
    ),
    "proposed in time": (None, order("seal:S1", "S1", state="proposed"), "short"),
    "cancelled": (None, order("seal:S1", "S1", state="cancelled"), "short"),
    "received, and held nowhere": (None, order("seal:S1", "S1", state="received"), "short"),
    "ordered for another booking": (None, order("seal:S1", "S1", of=13), "short"),
    "nothing": (None, None, "short"),
}
WORST = ("short", "late", "must arrive", "ready")
ANSWERS = {"short": "don't start", "late": "don't start", "must arrive": "start, but", "ready": "start"}


@pytest.mark.parametrize("kind", KINDS)
def test_each_way_a_part_can_be_there_or_not(kind):
    held, ordered, wanted = KINDS[kind]
    answer = asked(line("seal:S1"), holds=[held] if held else [], orders=[ordered] if ordered else [])
    assert (only(answer).answer, answer.answer) == (wanted, ANSWERS[wanted])
    assert bool(only(answer).evidence) == (wanted != "short")
    assert len(only(answer).missing) == (wanted == "short")


@pytest.mark.parametrize("pair", list(itertools.product(KINDS, repeat=2)), ids=" + ".join)
def test_the_worst_of_two_stages_decides(pair):
    holds, orders, wanted = [], [], []
    for stage, (number, kind) in zip(("fit", "test"), enumerate(pair, 1), strict=True):
        held, ordered, answer = KINDS[kind]
        need = f"seal:S{number}"
        if held:
            holds.append(hold(need, "S1", number=number, state=held.state, of=held.booking))
        if ordered:
            # as far before or after its stage as in the first one
            ready, expected = (
                (moment and moment + (STARTS[stage] - START)) for moment in (ordered.ready, ordered.expected_at)
            )
            orders.append(
                order(
                    need,
                    "S1",
                    number=number,
                    state=ordered.state,
                    ready=ready,
                    expected=expected,
                    of=ordered.wanted_for[0].booking,
                )
            )
        wanted.append(answer)
    lines = [line("seal:S1", acceptable=("S1",)), line("seal:S2", stage="test", acceptable=("S1",))]
    answer = asked(*lines, holds=holds, orders=orders)
    assert [stage.answer for stage in answer.stages] == wanted
    assert answer.answer == ANSWERS[min(wanted, key=WORST.index)]


PARTS = st.lists(
    st.tuples(st.sampled_from(("hold", "ordered", "proposed")), st.integers(1, 3), st.integers(-90, 90)), max_size=5
)


@given(st.integers(1, 6), PARTS)
def test_parts_add_up(amount, parts):
    """Held first, then ordered, the earliest first; a proposal never; each only as far as it is still wanted."""
    holds, orders = [], []
    for number, (kind, quantity, minutes) in enumerate(parts, 1):
        if kind == "hold":
            holds.append(hold("seal:S1", "S1", quantity * 1000, number))
        else:
            orders.append(order("seal:S1", "S1", quantity * 1000, number, state=kind, ready=START - minutes * MIN))
    answer = only(asked(line("seal:S1", amount * 1000), holds=holds, orders=orders, now=START - 200 * MIN))
    left = amount
    arrivals = []
    for kind, quantity, minutes in sorted(
        parts, key=lambda one: (one[0] != "hold", -one[2] if one[0] != "hold" else 0)
    ):
        if kind != "proposed" and left > 0:
            arrivals += [(kind, min(left, quantity), minutes)]
            left -= quantity
    wanted = (
        "short"
        if left > 0
        else "late"
        if any(kind == "ordered" and minutes < 0 for kind, _, minutes in arrivals)
        else "must arrive"
        if any(kind == "ordered" for kind, _, _ in arrivals)
        else "ready"
    )
    assert answer.answer == wanted
    assert [int(one.amount) for one in answer.evidence] == [quantity for _, quantity, _ in arrivals]
    assert [one.margin_min for one in answer.evidence if one.sureness == "promised"] == [
        minutes for kind, _, minutes in arrivals if kind == "ordered"
    ]
    assert len(answer.missing) == (left > 0)
    if left > 0:
        assert answer.missing[0].startswith(f"{left} each Name of S1 (S1): ")


def test_what_waits_for_a_decision_is_told_once_with_its_cut_off_on_the_sites_clock():
    proposed = order("seal:S1", "S1", 2000, number=7, state="proposed", cut_off=NOW + timedelta(days=100))
    (missing,) = only(asked(line("seal:S1", 5000), holds=[hold("seal:S1", "S1")], orders=[proposed])).missing
    # in June the site's clock is an hour ahead of UTC
    assert missing == (
        "4 each Name of S1 (S1): 2 wait for a decision on order 7 at north-parts before 2026-06-18 16:00, "
        "nothing brings 2"
    )


def test_what_nothing_brings_is_told_so():
    answer = only(asked(line("seal:S1", 2000), line("fuse:F", acceptable=(), name="Fuse")))
    assert answer.missing == (
        "2 each Name of S1 (S1): neither held nor ordered",
        "1 each Fuse: no item of the catalogue will do",
    )


@pytest.mark.parametrize(
    ("seconds", "margin"), [(0, 0), (59, 0), (60, 1), (3600, 60), (-1, -1), (-60, -1), (-61, -2)]
)
def test_margins_are_whole_minutes_never_told_better_than_they_are(seconds, margin):
    answer = only(asked(line("seal:S1"), orders=[order("seal:S1", "S1", ready=START - timedelta(seconds=seconds))]))
    assert [one.margin_min for one in answer.evidence] == [margin]
    assert answer.answer == ("must arrive" if seconds >= 0 else "late")


def test_what_is_there_is_never_too_late():
    later = START + timedelta(hours=3)
    answer = only(asked(line("seal:S1"), holds=[hold("seal:S1", "S1", state="issued")], now=later))
    assert answer.answer == "ready"
    assert [(one.margin_min, one.sureness) for one in answer.evidence] == [(0, "signed for")]


def test_what_was_promised_for_a_moment_that_is_past_counts_from_now():
    overdue = order("seal:S1", "S1", ready=NOW - timedelta(hours=2))
    answer = only(asked(line("seal:S1"), orders=[overdue], now=START - 10 * MIN))
    assert [(one.sureness, one.margin_min) for one in answer.evidence] == [("overdue", 10)]
    assert answer.answer == "must arrive"
    assert only(asked(line("seal:S1"), orders=[overdue], now=START + MIN)).answer == "late"


def test_the_stages_go_by_the_starts_given():
    promised = order("seal:S1", "S1", ready=START + 45 * MIN)
    assert only(asked(line("seal:S1"), orders=[promised])).answer == "late"
    started_later = {name: start + timedelta(hours=1) for name, start in STARTS.items()}
    stage = only(asked(line("seal:S1"), orders=[promised], starts=started_later))
    assert (stage.answer, stage.evidence[0].margin_min) == ("must arrive", 15)
    assert stage.start == (START + timedelta(hours=1)).isoformat()


def test_units_add_up_exactly_over_several_parts():
    oil = line("oil:O1", 10_000, "L", "fill", acceptable=("O1", "O5"))
    parts = [
        hold("oil:O1", "O5", quantity, number, "mL") for number, quantity in enumerate((1_500_400, 2_499_600), 1)
    ]
    there = only(asked(oil, holds=[*parts, hold("oil:O1", "O1", 6000, 3, "L")]))
    assert (there.answer, there.missing) == ("ready", ())
    short = only(asked(oil, holds=[*parts, hold("oil:O1", "O1", 5999, 3, "L")]))
    assert short.missing == ("0.001 L Name of O1 (O1 or O5): neither held nor ordered",)
    # what is there is never told as more
    assert [one.amount for one in there.evidence] == ["1.5", "2.499", "6"]


def test_what_is_counted_otherwise_does_not_count():
    answer = only(asked(line("oil:O1", 1000, "L"), holds=[hold("oil:O1", "O1", 5_000_000, unit="each")]))
    assert answer.answer == "short"


def test_a_hold_that_no_line_is_named_by_any_more_fills_what_it_can_fill_once():
    """A question was answered, and the line has a name of its own now; the part is in the tote under the old one."""
    tote = [hold("&S1", "S1", 1000, state="picked"), hold("?S1", "S1", 1000, 2)]
    lines = (line("seal:S1", 1000), line("ring:S1", 2000, stage="test"))
    answer = asked(*lines, holds=tote)
    assert [stage.answer for stage in answer.stages] == ["ready", "short"]
    assert answer.stages[1].missing == ("1 each Name of S1 (S1): neither held nor ordered",)


def test_what_one_line_needs_no_longer_is_there_for_another():
    lines = (line("seal:S1", 1000), line("ring:S1", 2000, stage="test"))
    answer = asked(*lines, holds=[hold("seal:S1", "S1", 3000)])
    assert [stage.answer for stage in answer.stages] == ["ready", "ready"]
    assert asked(*reversed(lines), holds=[hold("seal:S1", "S1", 2000)]).stages[1].answer == "short"


def test_what_every_answer_takes_must_be_there_though_no_line_is_certain():
    kit = work_kit_of(line("seal:S1", certainty="possible"), extras=(line("&S1", 2000),))
    assert only(asked(kit=kit)).answer == "short"
    assert only(asked(kit=kit, holds=[hold("&S1", "S1", 2000)])).answer == "ready"


def test_lines_on_condition_possible_ones_and_tools_are_no_gate():
    answer = asked(
        line("seal:S1", finding="worn"), line("seal:S2", certainty="possible"), line("tool:T", sort="special tool")
    )
    assert (answer.answer, answer.stages) == ("start", ())


def test_open_questions_are_asked_first_and_problems_forbid_the_start():
    there = {"holds": [hold("seal:S1", "S1")]}
    assert asked(line("seal:S1"), **there).answer == "start"
    assert asked(line("seal:S1"), ask=["Which gearbox?"], **there).answer == "start, but"
    assert asked(line("seal:S1"), ask=["Which gearbox?"]).answer == "don't start"
    assert asked(line("seal:S1"), problems=["Nothing fills it."], **there).answer == "don't start"


def test_risks_tell_the_chance():
    kit = work_kit_of(
        line("clutch:C1", finding="worn", condition="Clutch worn", chance="0.12"),
        line("seal:S1", finding="odd", condition="Odd", chance="0.004"),
        line("seal:S2"),
    )
    assert risks_of(kit) == [
        "Name of C1 (C1), if: Clutch worn (chance 12 %)",
        "Name of S1 (S1), if: Odd (chance under 1 %)",
    ]
