"""The judge is judged: small catalogues whose kits were worked out by hand, in the comments."""

from __future__ import annotations

import hashlib
from fractions import Fraction

import pytest

from tests.brute import kit, scores
from tests.brute_values import canonical, satisfying
from tests.specs import (
    Fact,
    Finding,
    Fit,
    FitFile,
    Include,
    Item,
    Job,
    Requirement,
    Role,
    Spec,
    Statement,
    Table,
)

EMISSIONS = Fact("emissions", values=("III", "IV", "V", "VI"), groups={"old": ("III", "IV")})
AXLES = Fact("axles", first=2, last=5)


def fits(*rows: Fit) -> tuple[FitFile, ...]:
    """One file of fits: the first stands on line 2."""
    return (FitFile("fits/a.csv", rows),)


def one_role(takes: str, *rows: Fit, facts: tuple[Fact, ...] = (EMISSIONS, AXLES)) -> Spec:
    """A catalogue with one job, one role `unit`, and two items counted by the piece."""
    job = Job("change", roles={"unit": "work"})
    return Spec(facts, (job,), (Role("unit", takes),), (Item("A"), Item("B")), fits(*rows))


def piece(item: str, **cells: str) -> Fit:
    """A fit of one piece for the role `unit`."""
    return Fit("unit", item, amount="1", unit="each", when=cells)


def test_what_a_line_hangs_on_and_when() -> None:
    # Of 16 worlds of equal weight A is in six: III {2}, IV {2}, V {2, 3}, VI {2, 5}. That makes three
    # branches, as III and IV are in for the same numbers of axles.
    # The second "old" row is the same fit on another condition: a twin, no clash.
    spec = one_role(
        "any",
        piece("A", emissions="old", axles="2"),
        piece("A", emissions="old", axles="up to 2"),
        piece("A", emissions="V", axles="2 to 3"),
        piece("A", emissions="VI", axles="2 or 5"),
    )
    (line,) = kit(spec, "change")["lines"]
    assert line["certainty"] == "possible"
    assert line["hangs_on"] == ["emissions", "axles"]
    assert line["when"] == [
        {"emissions": ["III", "IV"], "axles": ["2"]},
        {"emissions": ["V"], "axles": ["2 to 3"]},
        {"emissions": ["VI"], "axles": ["2", "5"]},
    ]
    assert line["chance"] == "0.375"  # 6 of 16
    # With two axles it is in whatever the emissions.
    (line,) = kit(spec, "change", [Statement("axles", "2")])["lines"]
    assert (line["certainty"], line["hangs_on"], line["when"], line["chance"]) == ("certain", [], [], "1")


def test_gaps_and_clashes_have_their_first_world_and_rows() -> None:
    # Line 2: A for not VI. Line 3: B for V. So V clashes (no line there), VI is a gap, III and IV have A.
    spec = one_role("one", piece("A", emissions="not VI"), piece("B", emissions="V"))
    made = kit(spec, "change")
    assert [(line["item"], line["when"]) for line in made["lines"]] == [("A", [{"emissions": ["III", "IV"]}])]
    clash, gap = made["problems"]
    assert (clash["kind"], clash["role"], clash["circuit"]) == ("clash", "unit", None)
    assert clash["witness"] == {"emissions": "V", "axles": "2"}
    assert clash["rows"] == [{"file": "fits/a.csv", "row": 2}, {"file": "fits/a.csv", "row": 3}]
    assert (gap["kind"], gap["witness"], gap["rows"]) == ("gap", {"emissions": "VI", "axles": "2"}, [])
    assert made["complete"] is False


def test_otherwise_fills_what_no_other_fit_does_and_nothing_counts_as_one() -> None:
    # Nothing for VI, A for V, otherwise B: so B in III and IV. Complete once V is known.
    rows = (
        Fit("unit", "nothing", when={"emissions": "VI"}),
        piece("A", emissions="V"),
        Fit("unit", "B", amount="2", unit="each", otherwise=True),
    )
    spec = one_role("one", *rows, facts=(EMISSIONS,))
    made = kit(spec, "change")
    assert [(line["item"], line["when"]) for line in made["lines"]] == [
        ("A", [{"emissions": ["V"]}]),
        ("B", [{"emissions": ["III", "IV"]}]),
    ]
    assert [one["when"] for one in made["nothing"]] == [[{"emissions": ["VI"]}]]
    assert made["problems"] == [] and made["complete"] is False
    assert kit(spec, "change", [Statement("emissions", "V")])["complete"] is True


@pytest.mark.parametrize(("takes", "clashes"), [("one", True), ("at most one", True), ("any", False)])
def test_how_many_fits_a_role_takes(takes: str, clashes: bool) -> None:
    made = kit(one_role(takes, piece("A"), piece("B")), "change")
    assert [one["kind"] for one in made["problems"]] == (["clash"] if clashes else [])
    assert [line["item"] for line in made["lines"]] == ([] if clashes else ["A", "B"])


def test_nothing_beside_a_line_clashes_whatever_the_role_takes() -> None:
    made = kit(one_role("any", piece("A"), Fit("unit", "nothing")), "change")
    assert [one["kind"] for one in made["problems"]] == ["clash"]
    assert made["lines"] == made["nothing"] == []


def test_the_first_way_whose_conditions_hold_counts_alone() -> None:
    # `whole` includes `inner` on the road (stage put onto "late") and then `other`, always (onto "early").
    # On the road the role comes from `inner`: its A at "late". In the workshop from `other`: B at "early".
    # Cautions: whole's, inner's, other's; in the workshop inner isn't due.
    place = Fact("place", "job", values=("road", "workshop"))
    inner = Job("inner", ("in",), {"unit": "in"}, cautions=("hot",))
    other = Job("other", ("out",), {"unit": "out"}, cautions=("chocks", "air"))
    includes = (Include("inner", {"in": "late"}, {"place": "road"}), Include("other", {"out": "early"}))
    whole = Job("whole", ("early", "late"), {}, includes, ("air",))
    rows = (
        Fit("unit", "A", amount="1", unit="each", job="inner"),
        Fit("unit", "B", amount="1", unit="each", job="other"),
    )
    spec = Spec((place,), (whole, inner, other), (Role("unit"),), (Item("A"), Item("B")), fits(*rows))
    made = kit(spec, "whole")
    assert [(line["stage"], line["item"], line["when"]) for line in made["lines"]] == [
        ("early", "B", [{"place": ["workshop"]}]),
        ("late", "A", [{"place": ["road"]}]),
    ]
    assert made["problems"] == []
    assert made["cautions"] == ["air", "hot", "chocks"]
    assert kit(spec, "whole", [Statement("place", "workshop")])["cautions"] == ["air", "chocks"]


def test_a_covered_finding_counts_only_where_the_covering_one_does_not_occur() -> None:
    # `cracked` (1/5) covers `worn` (1/10) covers `scored` (1/2). A on worn always; B on cracked for VI (1/4);
    # two A on scored, always. worn: 3/4 x 1/10 + 1/4 x 1/10 x 4/5 = 0.095. cracked: 1/4 x 1/5 = 0.05.
    # scored: 1/2 x 9/10 (worn has a line everywhere) x (3/4 + 1/4 x 4/5 through worn) = 0.4275.
    rows = (
        Fit("unit", "A", amount="1", unit="each", finding="worn"),
        Fit("unit", "B", amount="1", unit="each", finding="cracked", when={"emissions": "VI"}),
        Fit("unit", "A", amount="2", unit="each", finding="scored"),
    )
    spec = one_role("any", *rows, facts=(EMISSIONS,))
    findings = (
        Finding("scored", "0.5"),
        Finding("worn", "0.1", ("scored",)),
        Finding("cracked", "0.2", ("worn",)),
    )
    made = kit(Spec(spec.facts, spec.jobs, spec.roles, spec.items, spec.fits, findings=findings), "change")
    assert {line["finding"]: line["chance"] for line in made["lines"]} == {
        "worn": "0.095",
        "cracked": "0.05",
        "scored": "0.4275",
    }
    assert {line["finding"]: line["certainty"] for line in made["lines"]}["worn"] == "certain"


def test_a_requirement_is_met_by_rank_and_a_circuit_wants_one_oil() -> None:
    # P and T list GX, Q claims it (not enough for `listed`), R is another grade, S is by weight.
    items = (
        Item("P", "L", "", "gear oil", {"grade": "75w90"}, ("GX",)),
        Item("Q", "mL", "2", "gear oil", {"grade": "SAE 75 W-90"}, (), ("GX",)),
        Item("R", "L", "", "gear oil", {"grade": "75W-80"}, ("GX",)),
        Item("S", "kg", "", "gear oil", {"grade": "75w90"}, ("GX",)),
        Item("T", "L", "10", "gear oil", {"grade": "75w90"}, ("GX",)),
    )
    strict = Requirement("strict", "gear oil", {"grade": "75W-90"}, listed=("GX",))
    loose = Requirement("loose", "gear oil", {"grade": "75W-90"}, claimed=("GX",))
    job = Job("fill", roles={"second": "work", "first": "work"})
    roles = (Role("first", circuit="box"), Role("second", circuit="box"))
    rows = (
        Fit("first", requirement="strict", amount="1.0", unit="L"),
        Fit("second", requirement="loose", amount="500", unit="mL", when={"emissions": "VI"}),
        Fit("second", requirement="strict", amount="0.5", unit="L", when={"emissions": "not VI"}),
    )
    spec = Spec((EMISSIONS,), (job,), roles, items, fits(*rows), requirements=(strict, loose))
    assert satisfying(spec, strict, "L") == ["T", "P"]
    assert satisfying(spec, loose, "mL") == ["Q", "T", "P"]
    made = kit(spec, "fill")
    assert [(line["role"], line["requirement"], line["amount"], line["unit"]) for line in made["lines"]] == [
        ("second", "loose", "500", "mL"),
        ("second", "strict", "0.5", "L"),
        ("first", "strict", "1", "L"),
    ]
    (problem,) = made["problems"]
    assert (problem["kind"], problem["role"], problem["circuit"]) == ("circuit", None, "box")
    assert problem["when"] == [{"emissions": ["VI"]}]
    assert [row["row"] for row in problem["rows"]] == [2, 3]
    # In metres nothing satisfies it.
    assert satisfying(spec, strict, "m") == []


def test_nothing_is_no_oil_of_a_circuit_and_items_stand_before_requirements() -> None:
    # `first` has Z and, with VI, the requirement `Any-oil` too: two in one circuit. `second` has nothing.
    items = (Item("Z", "L", "", "gear oil", {"grade": "75W-90"}),)
    job = Job("fill", roles={"first": "work", "second": "work"})
    roles = (Role("first", "any", "box"), Role("second", "any", "box"))
    rows = (
        Fit("first", requirement="Any-oil", amount="1", unit="L", when={"emissions": "VI"}),
        Fit("first", "Z", amount="1", unit="L"),
        Fit("second", "nothing"),
    )
    oil = Requirement("Any-oil", "gear oil", {"grade": "75W-90"})
    spec = Spec((EMISSIONS,), (job,), roles, items, fits(*rows), requirements=(oil,))
    made = kit(spec, "fill")
    assert [line["item"] or line["requirement"] for line in made["lines"]] == ["Z", "Any-oil"]
    assert [(one["kind"], one["when"]) for one in made["problems"]] == [("circuit", [{"emissions": ["VI"]}])]
    assert [one["role"] for one in made["nothing"]] == ["second"]


def test_a_requirement_that_no_item_satisfies_is_unmet() -> None:
    fuse = Requirement("fuse", "blade fuse", {"body": "maxi", "rating": "20"}, {"voltage": "32"})
    medium = Item("M", kind="blade fuse", properties={"body": "medium", "rating": "20", "voltage": "58"})
    maxi = Item("X", kind="blade fuse", properties={"body": "maxi", "rating": "20", "voltage": "58"})
    row = Fit("unit", requirement="fuse", amount="1", unit="each")
    base = one_role("one", row)
    lacking = Spec(base.facts, base.jobs, base.roles, (medium,), base.fits, requirements=(fuse,))
    (problem,) = kit(lacking, "change")["problems"]
    assert (problem["kind"], problem["certainty"], problem["hangs_on"]) == ("unmet", "certain", [])
    having = Spec(base.facts, base.jobs, base.roles, (medium, maxi), base.fits, requirements=(fuse,))
    assert kit(having, "change")["lines"][0]["acceptable"] == ["X"]


def test_questions_stand_by_the_expected_fall_of_doubt() -> None:
    # A if axles are 2 (p = 1/4), B if VI and axles 2 (p = 1/16). p(1-p): 3/16 + 15/256 = 63/256.
    # Axles known: A settled; B at 2 axles is 1/4: 3/16, with chance 1/4 = 12/256; fall 51/256.
    # Emissions known: A as before 48/256; B at VI 1/4: 12/256; fall 3/256.
    spec = one_role("any", piece("A", axles="2"), piece("B", axles="2", emissions="VI"))
    assert scores(spec, "change") == {"emissions": Fraction(3, 256), "axles": Fraction(51, 256)}
    assert kit(spec, "change")["questions"] == [
        {"fact": "axles", "answers": ["2 to 5"]},
        {"fact": "emissions", "answers": ["III", "IV", "V", "VI"]},
    ]


def test_a_question_may_be_worth_asking_though_alone_it_settles_nothing() -> None:
    # A where exactly one of "old" and "up to 3" holds: known alone, either leaves p at 1/2, so both score 0.
    spec = one_role(
        "any", piece("A", emissions="old", axles="from 4"), piece("A", emissions="not old", axles="up to 3")
    )
    assert set(scores(spec, "change").values()) == {Fraction(0)}
    assert [one["fact"] for one in kit(spec, "change")["questions"]] == ["emissions", "axles"]


def test_a_fact_without_a_statement_is_inferred_from_the_tables() -> None:
    table = Table(
        "combinations/a.csv", ("emissions", "axles"), ({"emissions": "VI", "axles": "3 or 5"}, {"axles": "2"})
    )
    base = one_role("one", piece("A"))
    spec = Spec(base.facts, base.jobs, base.roles, base.items, base.fits, (table,))
    # With nothing known axles are 2, 3 or 5. Four is no world: 3 and 5 are no neighbours in the domain.
    assert kit(spec, "change")["facts"][1] == {"fact": "axles", "values": ["2 to 3", "5"], "source": "open"}
    known = kit(spec, "change", [Statement("axles", "from 3")])["facts"]
    assert known == [
        {"fact": "emissions", "values": ["VI"], "source": "inferred"},
        {"fact": "axles", "values": ["3", "5"], "source": "told"},
    ]


def test_the_fingerprint_is_that_of_the_canonical_json() -> None:
    # Names are sorted by UTF-16 units: U+1F69A (D83D DE9A) before U+FF21. Little is escaped.
    assert canonical({"\uff21": 1, "\U0001f69a": ['a"\n\u001f\u007fä/', None]}) == (
        '{"\U0001f69a":["a\\"\\n\\u001f\u007fä/",null],"\uff21":1}'
    )
    made = kit(one_role("one", piece("A")), "change")
    text = (
        '{"format":1,"job":"change","lines":[{"acceptable":["A"],"amount":"1","certainty":"certain","finding":null,'
        '"item":"A","requirement":null,"role":"unit","sort":"part","stage":"work","unit":"each","when":[]}],'
        '"nothing":[],"problems":[]}'
    )
    assert made["fingerprint"] == hashlib.sha256(text.encode()).hexdigest()
