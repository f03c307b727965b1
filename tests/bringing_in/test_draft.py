"""What a draft makes of what past jobs used, and what it asks."""

from kitbuilder.bringing_in.draft_job import drafted
from kitbuilder.model.bringing_in import Drafted, DraftedFit, RowRead
from tests.catalogue.good_files import GOOD

FILES = {path: text.encode() for path, text in GOOD.items()}
#: What twenty jobs know of their vehicles, in turn.
GENERATIONS = ("Euro III", "Euro V", "Euro VI", "Euro V")


def draft_of(*jobs: dict[str, str], facts: list[dict[str, str]] | None = None,
             files: dict[str, bytes] = FILES) -> Drafted:
    """The draft of jobs that used amounts by item."""
    rows = []
    for number, used in enumerate(jobs):
        known = facts[number] if facts else {"emissions": GENERATIONS[number % 4]}
        rows += [RowRead(len(rows) + 2, {"id": f"J{number:02d}", "item": item, "amount": milli, **known})
                 for item, milli in used.items()]
    return drafted("new-job", "New job", "new-job", rows, (), files)


def fits(answer: Drafted, item: str) -> list[DraftedFit]:
    return [one for one in answer.fits if one.item == item]


def test_what_every_job_used_is_certain() -> None:
    answer = draft_of(*[{"P-1": "2"}] * 20)
    assert [(one.amount, one.unit, one.conditions, one.finding, one.evidence) for one in answer.fits] == [
        ("2", "m", {}, "", "20 of 20 jobs")]
    assert [(one.takes, one.sort) for one in answer.roles] == [("one", "part")]
    assert answer.catalogue == ()


def test_what_nearly_every_job_used_is_certain_and_asked() -> None:
    answer = draft_of(*[{"P-1": "2", "F-1": "1"}] * 30, {"F-1": "1"})
    assert fits(answer, "P-1")[0].conditions == {}
    assert any("not J30" in one and "Forgotten there" in one for one in answer.questions)


def test_what_one_generation_used_hangs_on_it_and_nothing_stands_for_the_others() -> None:
    jobs = [{"F-1": "1", **({"P-1": "1"} if GENERATIONS[number % 4] == "Euro VI" else {})} for number in range(20)]
    answer = draft_of(*jobs)
    assert [one.conditions for one in fits(answer, "P-1")] == [{"emissions": "Euro VI"}]
    assert [(one.conditions, one.evidence) for one in fits(answer, "nothing")] == [
        ({"emissions": "before Euro VI"}, "nothing used in 15 of 15 jobs with emissions before Euro VI")]


def test_a_value_that_no_job_had_is_asked_and_left_out() -> None:
    facts = [{"emissions": ("Euro III", "Euro VI")[number % 2]} for number in range(20)]
    answer = draft_of(*[{"F-1": "1", **({"P-1": "1"} if number % 2 else {})} for number in range(20)], facts=facts)
    assert [one.conditions for one in fits(answer, "nothing")] == [{"emissions": "Euro III"}]
    assert any("No job with emissions Euro V:" in one for one in answer.questions)


def test_what_some_jobs_used_and_no_fact_decides_is_a_finding_with_its_interval() -> None:
    """4 of 20: Wilson's interval is 0.081 to 0.416 (published; see test_chance)."""
    jobs = [{"F-1": "1", **({"P-1": "1"} if number in (0, 5, 10, 15) else {})} for number in range(20)]
    answer = draft_of(*jobs)
    finding = answer.findings[0]
    assert (finding.used, finding.jobs, finding.chance) == (4, 20, "0.2")
    assert (finding.least, finding.most) == ("0.081", "0.416")
    assert [(one.finding, one.evidence) for one in fits(answer, "P-1")] == [(finding.name, "4 of 20 jobs")]
    assert f"[findings.{finding.name}]\ntitle = \"Pipe: needed\"\nchance = 0.2\n" in answer.files["roles.toml"]


def test_a_fluid_whose_amount_varies_is_a_fill_to_a_level() -> None:
    amounts = ("1", "1.5", "1.2", "0.9", "1.4")
    answer = draft_of(*[{"O-1": amounts[number % 5]} for number in range(20)])
    assert fits(answer, "O-1")[0].amount == "1.5"
    assert 'fill = "top-up"' in answer.files["roles.toml"]
    assert "new-job,gear-oil,O-1,1.5,0.9,L,20 of 20 jobs" in answer.files["fits/new-job.csv"]
    assert any("amounts of O-1 differ" in one for one in answer.questions)


def test_an_amount_that_one_job_had_does_not_lose_the_line_for_its_vehicle() -> None:
    facts = [{"emissions": ("Euro III", "Euro V")[number % 2]} for number in range(20)] + [{"emissions": "Euro VI"}]
    jobs = [{"P-1": str(1 + number % 2)} for number in range(20)] + [{"P-1": "5"}]
    answer = draft_of(*jobs, facts=facts)
    assert any("Euro VI" in one.conditions.get("emissions", "Euro VI") for one in fits(answer, "P-1"))


def test_what_came_back_was_not_used() -> None:
    lines = (("P-1", "3"), ("P-1", "-1"), ("F-1", "1"), ("F-1", "-1"))
    rows = [RowRead(at, {"id": "J", "item": item, "amount": milli}) for at, (item, milli) in enumerate(lines, 2)]
    answer = drafted("new-job", "New job", "new-job", rows, (), FILES)
    assert [(one.item, one.amount) for one in answer.fits] == [("P-1", "2")]


def test_amounts_in_other_units_are_the_items() -> None:
    rows = [RowRead(2, {"id": "J", "item": "P-1", "amount": "250", "unit": "mm"})]
    assert drafted("new-job", "t", "new-job", rows, (), FILES).fits[0].amount == "0.25"


def test_rows_that_say_what_cannot_be_are_told_and_nothing_is_drafted() -> None:
    rows = [RowRead(2, {"id": "J", "item": "P-9", "amount": "3"}),
            RowRead(3, {"id": "J", "item": "F-1", "amount": "0.5"}),
            RowRead(4, {"id": "J", "item": "F-1", "amount": "1", "unit": "L"}),
            RowRead(5, {"id": "J", "item": "F-1", "amount": "1", "emissions": "Euro VI"}),
            RowRead(6, {"id": "J", "item": "F-1", "amount": "1", "emissions": "Euro V"})]
    answer = drafted("new-job", "New job", "new-job", rows, (), FILES)
    assert [(one.row, one.column) for one in answer.faults] == [
        (2, "item"), (3, "amount"), (4, "amount"), (6, "emissions")]
    assert "as row 5 says" in answer.faults[3].expected
    assert (answer.fits, answer.files) == ((), {})


def test_the_catalogues_roles_keep_their_lines_and_new_names_are_new() -> None:
    files = {**FILES, "items.csv": FILES["items.csv"] + b"W-1;Wipes;each;;;;;;;;;;\n"}
    answer = draft_of(*[{"W-1": "2"}] * 12, files=files)
    assert answer.files["roles.toml"].startswith(GOOD["roles.toml"].rstrip())
    assert [one.name for one in answer.roles] == ["new-job-wipes"]
    assert answer.catalogue == ()


def test_items_called_alike_share_a_place_only_if_no_job_used_both() -> None:
    files = {**FILES, "items.csv": FILES["items.csv"] + b"P-2;Pipe;m;;;;;;;;;;\n"}
    together = draft_of(*[{"P-1": "1", "P-2": "1"}] * 12, files=files)
    assert [one.item for one in together.fits] == ["P-1", "P-2"]
    assert len(together.roles) == 2
    apart = draft_of(*[{"P-2" if GENERATIONS[at % 4] == "Euro VI" else "P-1": "1"} for at in range(20)], files=files)
    assert [(one.item, one.conditions) for one in apart.fits] == [
        ("P-1", {"emissions": "before Euro VI"}), ("P-2", {"emissions": "Euro VI"})]
    assert len(apart.roles) == 1


def test_the_same_rows_in_another_order_make_the_same_draft() -> None:
    jobs = [{"F-1": "1", **({"P-1": "1"} if number % 3 else {})} for number in range(20)]
    lines = [(number, item) for number, used in enumerate(jobs) for item in used]
    rows = [RowRead(at, {"id": f"J{number:02d}", "item": item, "amount": "1", "emissions": GENERATIONS[number % 4]})
            for at, (number, item) in enumerate(lines, 2)]
    one = drafted("new-job", "t", "new-job", rows, (), FILES)
    other = drafted("new-job", "t", "new-job", rows[::-1], (), FILES)
    assert one == other


def test_a_few_jobs_are_said_to_be_few() -> None:
    answer = draft_of({"P-1": "1"})
    assert answer.questions[0].startswith("There is only 1 past job")
