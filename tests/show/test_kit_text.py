"""A kit in words: what a person at the counter reads."""

from typing import Any

import msgspec
import pytest

from kitbuilder.calendar.ago import ago
from kitbuilder.kit.why import RowTested, Why
from kitbuilder.kit.why import Tested as OneCondition
from kitbuilder.model.catalogue import Stage
from kitbuilder.model.kit import (
    Kit,
    KnownFact,
    Line,
    NotNeeded,
    Problem,
    Question,
    Reason,
    RowPlace,
    StockAnswer,
)
from kitbuilder.model.listing import Compiled, PluginListed, PluginsListed, SourceListed, SourcesListed
from kitbuilder.proof.check import Check, JobProblem
from kitbuilder.proof.job import Caught, Remark
from kitbuilder.show.check import check_text
from kitbuilder.show.kit import chance_words, kit_text
from kitbuilder.show.listing import compiled_text, plugins_text, sources_text
from kitbuilder.show.paper import Paper
from kitbuilder.show.when import cells_words, when_words
from kitbuilder.show.why import why_text

GROUPS = {"emissions": {("Euro V", "EEV"): "Euro V level"}}
FACTS = (
    KnownFact("gearbox", ("light", "heavy"), "open"),
    KnownFact("emissions", ("Euro V", "EEV", "Euro VI"), "inferred"),
    KnownFact("place", ("workshop",), "told"),
)
LINE = Line(
    "fit",
    "clamp",
    "Exhaust clamp",
    "EX-1",
    None,
    "Exhaust clamp, gas-tight",
    "2",
    "each",
    "part",
    "certain",
    (),
    (),
    None,
    "1",
    ("EX-1",),
    (),
)
KIT = Kit("kitbuilder.kit/1", (), "exhaust", "e" * 64, "f" * 64, True, FACTS, (LINE,), (), (), (), ())


def line(**changes: Any) -> Line:
    return msgspec.structs.replace(LINE, **changes)


def text(*lines: Line, width: int = 80, **changes: Any) -> str:
    """The text of a kit with these lines."""
    kit = msgspec.structs.replace(KIT, **{"lines": lines or (LINE,), **changes})
    return kit_text(
        kit, "Renew the exhaust joint", (Stage("fit", 30),), GROUPS, {"cracked": "Pipe cracked"}, Paper(width)
    )


def flat(said: str) -> str:
    return " ".join(said.split())


def stock(**changes: Any) -> StockAnswer:
    fresh = StockAnswer("shelf", "EX-1", "5", "2020-01-01T08:00:00+00:00", "9.50", "1", "EUR", "fresh", 0, None)
    return msgspec.structs.replace(fresh, **changes)


def test_a_line_has_its_columns() -> None:
    assert "\nFIT (30 min)\n  2 each    EX-1         Exhaust clamp, gas-tight                  part\n" in text()


def test_a_requirement_says_what_to_take() -> None:
    said = flat(text(line(item=None, requirement="oil", acceptable=("L-1", "L-2"))))
    assert "2 each see below Exhaust clamp, gas-tight part take L-1 or L-2" in said
    assert "no item of the catalogue will do" in flat(text(line(item=None, requirement="oil", acceptable=())))


def test_conditions_and_possibilities_are_said_below_the_line() -> None:
    said = flat(
        text(
            line(
                finding="cracked",
                chance="0.0855",
                certainty="possible",
                hangs_on=("emissions",),
                when=({"emissions": ("Euro V", "EEV")},),
            ),
            complete=False,
        )
    )
    assert "on condition: Pipe cracked (chance 9 %)" in said
    assert "only if emissions is Euro V level" in said
    assert "NOT COMPLETE YET: 0 lines certain, 1 hanging on 1 fact not known." in said


@pytest.mark.parametrize("width", [60, 80, 100])
def test_long_numbers_and_names_stay_within_the_width(width: int) -> None:
    long = line(item="N" * 30, amount="12345.678", unit="each", name="A very long name of a part " * 4)
    said = text(long, line(item="N" * 15), width=width)
    assert [one for one in said.splitlines() if len(one) > width] == []
    assert "12345.678 each" in said
    assert flat("A very long name of a part " * 2).split()[0] in said


def test_whole_stock_answers() -> None:
    said = flat(
        text(
            line(
                stock=(
                    stock(),
                    stock(source="far", ready="2040-03-14T13:30:00+00:00", price="96.00", per="100"),
                    stock(source="old", state="stale", age_s=200_000, price=None, per=None, currency=None),
                    stock(source="endless", quantity=None, price=None),
                ),
                short="0",
            )
        )
    )
    assert "shelf: 5 from Wed 1 Jan 08:00, 9.50 EUR each" in said
    assert "far: 5 from Wed 14 Mar 13:30, 96.00 EUR per 100" in said
    assert "old: 5 from Wed 1 Jan 08:00; STALE, told 55 h ago" in said
    assert "endless: as much as wanted" in said
    assert "SHORT" not in said


def test_measured_stock_names_its_unit() -> None:
    said = flat(text(line(unit="L", stock=(stock(quantity="0.5", price="3.00", per="20"),), short="1.5")))
    assert "shelf: 0.5 L from Wed 1 Jan 08:00, 3.00 EUR per 20 L" in said
    assert "SHORT by 1.5 L: no source has it" in said
    assert "1 short" in said


def test_a_source_that_failed_is_never_none() -> None:
    gone = stock(
        quantity=None, ready=None, price=None, per=None, currency=None, state="failed", age_s=None, error="no answer"
    )
    said = flat(text(line(stock=(gone,), short=None)))
    assert "shelf: not known, the source failed" in said
    assert "SHORT? not known, as a source failed" in said
    one_row = msgspec.structs.replace(gone, age_s=60, error="prices.csv, line 3: expected a number")
    assert "shelf: not known, prices.csv, line 3: expected a number" in flat(text(line(stock=(one_row,), short=None)))


def test_what_is_not_needed_says_why() -> None:
    because = (Reason("fits/a.csv", 3, "Fused in the cab", ()),)
    certain = NotNeeded("fit", "fuse", "Fuse", "certain", (), (), because)
    possible = NotNeeded("fit", "tap", "Tap", "possible", ("gearbox",), ({"gearbox": ("heavy",)},), ())
    said = flat(text(nothing=(certain, possible)))
    assert "NOTHING NEEDED - Fuse: Fused in the cab - Tap (only if gearbox is heavy)" in said


def test_problems_name_an_example() -> None:
    problem = Problem(
        "gap",
        "clamp",
        None,
        "possible",
        ("emissions",),
        ({"emissions": ("Euro VI",)},),
        {"emissions": "Euro VI"},
        (),
        "Nothing fills Exhaust clamp.",
    )
    said = flat(text(problems=(problem,), complete=False))
    assert "- Possibly: Nothing fills Exhaust clamp. for example: emissions Euro VI" in said
    assert "1 problem." in said


def test_questions_say_what_to_type() -> None:
    listed = Question("emissions", "Which generation?", "On the plate.", tuple(f"Euro {number}" for number in range(8)))
    runs = Question("built", "Which day?", "", ("2010-01-01 to 2012-12-31",))
    said = flat(text(questions=(listed, runs), complete=False))
    assert "1. Which generation? Look: On the plate." in said
    assert "Euro 4, Euro 5 and 2 more" in said
    assert 'Type: --fact emissions="Euro 0"' in said
    assert "Type: --fact built=… (one value, written as 2010-01-01, or a part of the answers)" in said


def test_branches_leave_out_what_any_open_value_will_do_for() -> None:
    either = ("Euro V", "EEV", "Euro VI")
    assert when_words(({"gearbox": ("light",), "emissions": either},), GROUPS, FACTS) == "gearbox is light"
    two = ({"gearbox": ("light",), "emissions": ("Euro VI",)}, {"gearbox": ("heavy",), "emissions": ("Euro V", "EEV")})
    assert when_words(two, GROUPS, FACTS) == (
        "gearbox is light and emissions is Euro VI; or gearbox is heavy and emissions is Euro V level"
    )
    assert when_words(({"emissions": either},), GROUPS, FACTS) == "emissions is Euro V, EEV or Euro VI"


def test_a_group_stands_for_just_its_values() -> None:
    assert cells_words("emissions", ("Euro V", "EEV"), GROUPS) == "Euro V level"
    assert cells_words("emissions", ("Euro V",), GROUPS) == "Euro V"
    assert cells_words("place", ("Euro V", "EEV"), GROUPS) == "Euro V or EEV"


@pytest.mark.parametrize(
    ("chance", "words"),
    [
        ("0", "0 %"),
        ("0.0001", "under 1 %"),
        ("0.01", "1 %"),
        ("0.0855", "9 %"),
        ("0.5", "50 %"),
        ("0.9999", "over 99 %"),
        ("1", "100 %"),
    ],
)
def test_chances_are_per_cent(chance: str, words: str) -> None:
    assert chance_words(chance) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "just now"),
        (59, "just now"),
        (60, "1 min ago"),
        (7199, "119 min ago"),
        (7200, "2 h ago"),
        (259_199, "71 h ago"),
        (259_200, "3 days ago"),
    ],
)
def test_ages_are_in_the_unit_that_says_it(seconds: int, words: str) -> None:
    assert ago(seconds) == words


def row(applies: Any, *holds: Any, **changes: Any) -> RowTested:
    conditions = tuple(OneCondition("gearbox", "light", ("light", "heavy"), "open", one) for one in holds)
    plain = RowTested("fits/a.csv", 7, None, "clamp", "EX-1", None, None, False, (), applies, conditions)
    return msgspec.structs.replace(plain, **changes)


def why(*rows: RowTested, **changes: Any) -> str:
    answer = Why("kitbuilder.why/1", (), "exhaust", "clamp", "e", FACTS, (), (), (), rows)
    return flat(why_text(msgspec.structs.replace(answer, **changes), GROUPS, {"cracked": "Pipe cracked"}, Paper(80)))


@pytest.mark.parametrize(
    ("tested", "said"),
    [
        (
            row("yes"),
            "ROWS THAT COUNT - fits/a.csv line 7: EX-1 for clamp it has no conditions: it counts on every vehicle",
        ),
        (row("yes", "yes"), "gearbox must be light: holds, not known yet"),
        (
            row("no", "no"),
            "ROWS THAT DON'T - fits/a.csv line 7: EX-1 for clamp gearbox must be light: fails, not known yet",
        ),
        (row("no", "yes"), "holds, not known yet never asked: the job fills this role itself"),
        (row("no", "open", "open"), "these can't all be so at once, or the role comes through another job first"),
        (row("open", "yes"), "ROWS THAT MAY COUNT"),
        (row("open", "yes"), "not always asked"),
        (row("open", otherwise=True, item="nothing"), "nothing for clamp, where no other row does"),
        (
            row("yes", note="Common practice", through=("gearbox-out",)),
            'for clamp, through gearbox-out "Common practice"',
        ),
    ],
)
def test_each_row_says_why_it_counts_or_not(tested: RowTested, said: str) -> None:
    assert said in why(tested)


def test_rows_with_a_plain_reason_say_no_more() -> None:
    assert why(row("no", "no", "open")).endswith("open, not known yet")
    assert why(row("yes", "yes")).endswith("holds, not known yet")


def test_why_begins_with_what_came_of_it() -> None:
    assert "It is not in this kit." in why(row("no", "no"))
    possible = line(finding="cracked", chance="0.2", certainty="possible", when=({"gearbox": ("light",)},))
    said = why(row("open", "open"), lines=(possible,))
    assert "- 2 each EX-1 (Exhaust clamp, gas-tight), as Exhaust clamp, at stage fit" in said
    assert "on condition: Pipe cracked (chance 20 %) only if gearbox is light" in said
    nothing = NotNeeded("fit", "clamp", "Exhaust clamp", "possible", (), ({"gearbox": ("heavy",)},), ())
    assert "- Exhaust clamp: nothing is needed, only if gearbox is heavy" in why(nothing=(nothing,))


def test_a_check_tells_problems_by_job_and_then_remarks() -> None:
    problem = JobProblem(
        "clash",
        "clamp",
        None,
        "certain",
        (),
        (),
        {"gearbox": "light"},
        (RowPlace("fits/a.csv", 7),),
        "More than one thing fills Exhaust clamp (clamp) whatever the vehicle: fits/a.csv line 7.",
        job="exhaust",
    )
    check = Check(
        "kitbuilder.check/1", (), "e", 2, (problem,), (Remark("unused item", "Nothing uses the item X.", ()),),
        tuple(Caught(job, "clamp", RowPlace("fits/a.csv", 9), "possible", ("gearbox",), ({"gearbox": ("heavy",)},),
                     "fits/a.csv line 9 (nothing) catches where gearbox is heavy.")
              for job in ("exhaust", "bend", "pipe", "box", "hanger")),
    )
    said = check_text(check, Paper(80))
    assert said.startswith("WHAT EACH OTHERWISE CATCHES\n")
    assert "\n\nexhaust\n  - CLASH: more than one thing fills a role\n" in said
    assert "first vehicle that shows it: gearbox light" in flat(said)
    assert "WHAT EACH OTHERWISE CATCHES - clamp in exhaust, bend, pipe and 2 jobs more: fits/a.csv" in flat(said)
    assert "\n\nREMARKS\n  - Nothing uses the item X.\n\n1 problem in 2 job types; over every vehicle" in said
    none = check_text(Check("kitbuilder.check/1", (), "e", 1, (), (), ()), Paper(80))
    assert none == "No problem in 1 job type, over every vehicle that can exist.\n"


def test_sources_and_plug_ins() -> None:
    sources = SourcesListed(
        "kitbuilder.sources/1",
        (),
        (
            SourceListed("counter", "price-file", ("quote",), "fresh", 1800, None, "", 40, "2026-03-10T15:00:00+00:00",
                         0, "2026-03-10T14:30:00+00:00", 0, None, 1, 0, 40),
            SourceListed("far", "price-file", (), "failed", None, "no answer within 5 s", "", 5000, None, None, None, 2,
                         None, 2, 2, 5000),
            SourceListed("slow", "price-file", (), "stale", 7200, None, "it is being written", 3340,
                         "2026-03-10T15:00:00+00:00", 0, "2026-03-10T13:00:00+00:00", 0, None, 1, 0, 3340),
            SourceListed("gone", "price-file", (), "failed", None, "not there", "", 1,
                         "2026-03-10T13:00:00+00:00", 7200, "2026-03-10T13:00:00+00:00", 3, None, 8, 3, 1),
            SourceListed("moody", "price-file", (), "fresh", 0, None, "", 80, "2026-03-10T15:00:00+00:00", 0,
                         "2026-03-10T15:00:00+00:00", 0, None, 20, 4, 5000),
            SourceListed("worse", "price-file", (), "failed", None, "not there", "", 1, "2026-03-10T13:00:00+00:00",
                         7200, "2026-03-10T13:00:00+00:00", 2, None, 20, 15, 5000),
        ),
    )
    assert sources_text(sources, Paper(80)).splitlines() == [
        "  counter (price-file, can quote): fresh, told 30 min ago",
        "  far (price-file): failed: no answer within 5 s. It has failed 2 times in a row",
        "  slow (price-file): stale, told 2 h ago: it is being written, after 3.3 s",
        "  gone (price-file): failed: not there. It last answered 2 h ago, and has failed",
        "  3 times in a row since",
        "  moody (price-file): fresh, told just now. It failed 4 of the last 20 times and",
        "  took 5.0 s at worst",
        "  worse (price-file): failed: not there. It last answered 2 h ago, and has",
        "  failed 2 times in a row since; it failed 15 of the last 20 times",
    ]
    assert "Add [sources.NAME]" in sources_text(SourcesListed("kitbuilder.sources/1", (), ()), Paper(80))
    plugins = PluginsListed(
        "kitbuilder.plugins/1",
        (),
        (
            PluginListed("a", "kitbuilder", "0.1.0", ("x", "y"), None),
            PluginListed("b", "other", "2", (), "ImportError: c"),
            PluginListed("d", "other", "2", (), None),
        ),
    )
    assert plugins_text(plugins, Paper(80)).splitlines() == [
        "  a (kitbuilder 0.1.0): brings x and y",
        "  b (other 2): failed: ImportError: c",
        "  d (other 2): brings nothing",
    ]
    assert plugins_text(PluginsListed("kitbuilder.plugins/1", (), ()), Paper(80)) == "No plug-in is installed.\n"


def test_an_edition_in_memory_is_said_so() -> None:
    edition = Compiled("kitbuilder.edition/1", (), "Ours", "EUR", "e" * 64, None, None, {"facts": 3, "fits": 12000})
    assert (
        compiled_text(edition, Paper(80)) == f"Ours: 3 facts, 12,000 fits.\nEdition {'e' * 64}\nIt is in memory only.\n"
    )


def test_stock_is_told_in_the_unit_of_the_item_where_the_line_has_another() -> None:
    asked = line(amount="500", unit="mL", stock=(stock(item="L-1", quantity="14", price="19.40"),), short="0",
                 item=None, requirement="oil", acceptable=("L-1",))
    kit = msgspec.structs.replace(KIT, lines=(asked,))
    said = flat(kit_text(kit, "Oil", (Stage("fit", 30),), GROUPS, {}, Paper(), units={"L-1": "L"}))
    assert "500 mL" in said
    assert "14 L" in said
    assert "19.40 EUR per L" in said
