"""`kitbuilder jobs`: job types and facts of the catalogue."""

import typer

from kitbuilder.cli.common import (
    CatalogueOption,
    JsonOption,
    QuietOption,
    opened,
    paper,
    settings_here,
    warn,
    write,
    write_json,
)
from kitbuilder.model.listing import FactListed, JobListed, JobsListed
from kitbuilder.show.listing import jobs_text

app = typer.Typer(rich_markup_mode=None)


@app.command(epilog="Example: kitbuilder jobs --catalogue our-catalogue")
def jobs(catalogue: CatalogueOption = None, json: JsonOption = False, quiet: QuietOption = False) -> None:
    """List the job types, and the facts that can be told of a vehicle or a job."""
    edition = opened(settings_here(), catalogue)
    facts = tuple(
        FactListed(
            fact.name, fact.of, tuple(fact.cells(fact.everything)),
            {name: tuple(fact.cells(values)) for name, values in fact.groups.items()}, fact.question, fact.where)
        for fact in edition.facts)
    heading = edition.heading
    warnings = (edition.warning,) if edition.warning else ()
    listed = tuple(JobListed(*job) for job in heading.jobs)
    answer = JobsListed("kitbuilder.jobs/1", warnings, heading.name, edition.name, listed, facts)
    warn(warnings)
    if json:
        write_json(answer)
    else:
        write(jobs_text(answer, paper()))
