"""Faults of jobs/*.toml: stages, roles, cautions, includes."""

import pytest

from tests.catalogue.good_files import Case, changed, check, content_of, faults_of

J = "jobs/unit.toml"
AT = "jobs.unit-replace"
DRAIN = '{ job = "drain", stages = { "let off" = "strip" } },'

CASES = [
    Case("no title", (J, 'title = "Drain"\n', ""), (J, 15, "jobs.drain.title", ""), "a text"),
    Case("a goal that is a number", (J, 'goal = "a working unit"', "goal = 1"), (J, 3, f"{AT}.goal", "1"), "a text"),
    Case("no stages", (J, 'stages = [{ name = "let off", minutes = 10 }]\n', ""),
         (J, 15, "jobs.drain.stages", ""), "at least one stage"),
    Case("an empty list of stages", (J, 'stages = [{ name = "let off", minutes = 10 }]', "stages = []"),
         (J, 17, "jobs.drain.stages", "[]"), "at least one stage"),
    Case("stages that are no list", (J, 'stages = [{ name = "let off", minutes = 10 }]', 'stages = "let off"'),
         (J, 17, "jobs.drain.stages", "let off"), "a list"),
    Case("a stage that is a text", (J, '    { name = "change", minutes = 120 },', '    "change",'),
         (J, 7, f"{AT}.stages", "change"), "{ name"),
    Case("a stage without a name", (J, '    { name = "change", minutes = 120 },', "    { minutes = 120 },"),
         (J, 7, f"{AT}.stages.name", ""), "a text"),
    Case("a stage without minutes", (J, '{ name = "change", minutes = 120 }', '{ name = "change" }'),
         (J, 7, f"{AT}.stages.minutes", ""), "whole minutes"),
    *(Case(f"minutes {text}", (J, "minutes = 120", f"minutes = {text}"),
           (J, 7, f"{AT}.stages.minutes", text.strip('"')), "whole minutes")
      for text in ("-1", "1.5", "true", '"120"', "99999999999999999999")),
    Case("a stage twice", (J, '    { name = "change", minutes = 120 },',
                           '    { name = "change", minutes = 120 },\n    { name = "strip", minutes = 1 },'),
         (J, 8, f"{AT}.stages.name", "strip"), "each stage once"),
    Case("an unknown key of a stage", (J, "minutes = 120", "minuts = 120"),
         (J, 7, f"{AT}.stages.minuts", "minuts"), "'minutes'"),
    Case("an unknown role", (J, 'unit = "change"', 'unti = "change"'),
         (J, 9, f"{AT}.roles.unti", "unti"), "did you mean 'unit'"),
    Case("an unknown role in a table of its own", (J, 'oil = "let off"', '\noli = "let off"'),
         (J, 21, "jobs.drain.roles.oli", "oli"), "did you mean 'oil'"),
    Case("a role at an unknown stage", (J, 'unit = "change"', 'unit = "changes"'),
         (J, 9, f"{AT}.roles.unit", "changes"), "a stage of unit-replace", "did you mean 'change'"),
    Case("a role at a stage of another job", (J, 'oil = "fill"', 'oil = "strip"'),
         (J, 25, "jobs.refill.roles.oil", "strip"), "fill"),
    Case("roles that are a list", (J, 'roles = { oil = "fill" }', 'roles = ["oil"]'),
         (J, 25, "jobs.refill.roles", "[oil]"), "a table"),
    Case("a stage that is a number", (J, 'oil = "fill"', "oil = 1"), (J, 25, "jobs.refill.roles.oil", "1"), "a text"),
    Case("an unknown caution", (J, '["stored-pressure"]', '["stored-presure"]'),
         (J, 4, f"{AT}.cautions", "stored-presure"), "did you mean 'stored-pressure'"),
    Case("a caution that is no text", (J, '["stored-pressure"]', "[1]"), (J, 4, f"{AT}.cautions", "1"), "a text"),
    Case("an unknown key", (J, "goal =", "gaol ="), (J, 3, f"{AT}.gaol", "gaol"), "did you mean 'goal'"),
    Case("an unknown table", (J, "[jobs.refill]", "[roles.x]\n[jobs.refill]"), (J, 22, "roles", "roles"), "jobs"),
    Case("a job that is no table", (J, "[jobs.unit-replace]", 'jobs.x = 1\n[jobs.unit-replace]'),
         (J, 1, "jobs.x", "1"), "a table"),
    Case("an include of an unknown job", (J, '{ job = "drain"', '{ job = "drian"'),
         (J, 11, f"{AT}.includes.job", "drian"), "did you mean 'drain'"),
    Case("an include without a job", (J, '{ job = "refill", ', "{ "), (J, 12, f"{AT}.includes.job", ""), "a text"),
    Case("an include that gives no stages", (J, ', stages = { "let off" = "strip" }', ""),
         (J, 11, f"{AT}.includes.stages", ""), "let off"),
    Case("an include that is a text", (J, DRAIN, '"drain",'), (J, 11, f"{AT}.includes", "drain"), "{ job"),
    Case("includes that are no list", (J, 'roles = { oil = "fill" }', 'roles = { oil = "fill" }\nincludes = "drain"'),
         (J, 26, "jobs.refill.includes", "drain"), "a list"),
    Case("an include without a stage of the job in it", (J, 'stages = { "let off" = "strip" }', "stages = {}"),
         (J, 11, f"{AT}.includes.stages", ""), "let off", "a stage of unit-replace"),
    Case("an include with an unknown stage of the job in it", (J, '"let off" = "strip"', '"let of" = "strip"'),
         (J, 11, f"{AT}.includes.stages.let of", "let of"), "a stage of drain", "did you mean 'let off'"),
    Case("an include onto an unknown stage", (J, '"let off" = "strip"', '"let off" = "stripp"'),
         (J, 11, f"{AT}.includes.stages.let off", "stripp"), "a stage of unit-replace", "did you mean 'strip'"),
    Case("an include on an unknown fact", (J, 'place = "workshop"', 'plaice = "workshop"'),
         (J, 12, f"{AT}.includes.when.plaice", "plaice"), "did you mean 'place'"),
    Case("an include on an unknown value", (J, 'place = "workshop"', 'place = "worksop"'),
         (J, 12, f"{AT}.includes.when.place", "worksop"), "'workshop'"),
    Case("an include on a number", (J, 'place = "workshop"', "wheelbase = 4500"),
         (J, 12, f"{AT}.includes.when.wheelbase", "4500"), "a text"),
    Case("an unknown key of an include", (J, "when =", "wen ="),
         (J, 12, f"{AT}.includes.wen", "wen"), "did you mean 'when'"),
    Case("a job inside itself", (J, '{ job = "drain", stages = { "let off" = "strip" } }',
                                 '{ job = "unit-replace", stages = { strip = "strip", change = "change" } }'),
         (J, 10, f"{AT}.includes", "unit-replace, refill"), "inside themselves", "unit-replace"),
    Case("jobs inside each other", (J, 'roles = { oil = "fill" }',
                                    'roles = { oil = "fill" }\nincludes = [{ job = "unit-replace", '
                                    'stages = { strip = "fill", change = "fill" } }]'),
         (J, 10, f"{AT}.includes", "drain, refill"), "unit-replace, refill"),
]


@pytest.mark.parametrize("case", CASES, ids=repr)
def test_a_fault_of_a_job_is_told_once_and_where_it_stands(case):
    check(case)


def test_a_job_in_two_files_is_told_with_where_it_is_first():
    files = changed()
    files["jobs/zz.toml"] = '\n[jobs.drain]\ntitle = "Again"\nstages = [{ name = "x", minutes = 1 }]\n'
    [fault] = faults_of(files)
    assert (fault.file, fault.row, fault.column, fault.read) == ("jobs/zz.toml", 2, "jobs.drain", "drain")
    assert "jobs/unit.toml, line 15" in fault.expected


def test_an_include_may_name_a_job_of_a_later_file():
    files = changed((J, 'job = "drain"', 'job = "later"'))
    files["jobs/zz.toml"] = '[jobs.later]\ntitle = "Later"\nstages = [{ name = "let off", minutes = 0 }]\n'
    assert content_of(files).jobs["unit-replace"].includes[0].job == "later"


def test_includes_may_be_written_as_tables_of_their_own():
    files = changed()
    files[J] += """
[[jobs.refill.includes]]
job = "drain"
[jobs.refill.includes.stages]
"let off" = "fil"

[[jobs.refill.includes]]
job = "dran"
"""
    assert [(one.row, one.column, one.read) for one in faults_of(files)] == [
        (30, "jobs.refill.includes.stages.let off", "fil"), (33, "jobs.refill.includes.job", "dran")]


def test_a_job_that_is_there_twice_is_not_blamed_for_what_only_the_second_lists():
    files = changed()
    again = '[jobs.drain]\ntitle = "x"\nstages = [{ name = "x", minutes = 1 }]\nroles = { wipes = "x" }\n'
    files["jobs/zz.toml"] = again
    files["fits/more.csv"] = "job,role,item\ndrain,wipes,nothing\n"
    assert [(one.file, one.row) for one in faults_of(files)] == [("jobs/zz.toml", 1)]
