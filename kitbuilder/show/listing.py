"""The smaller answers as text: job types and facts, editions, sources, plug-ins."""

from kitbuilder.model.listing import Compiled, JobsListed, PluginsListed, SourcesListed
from kitbuilder.show.kit import ago
from kitbuilder.show.paper import Paper, counted, listed


def jobs_text(answer: JobsListed, paper: Paper) -> str:
    """Job types, then facts with their values and groups."""
    lines = [paper.heading(f"{answer.catalogue}: {counted(len(answer.jobs), 'job type')}")]
    wide = max((len(job.name) for job in answer.jobs), default=0) + 4
    for job in answer.jobs:
        lines += paper.wrap(job.title, wide, f"  {job.name}")
    lines += ["", paper.heading(f"{counted(len(answer.facts), 'fact')} to tell with --fact NAME=VALUE")]
    for fact in answer.facts:
        lines += paper.wrap(f"{fact.name} (of the {fact.of}): {', '.join(fact.values)}", 4, "  -")
        for name, cells in fact.groups.items():
            lines += paper.wrap(f"{name}: {listed(cells)}", 8, "      ")
    return "\n".join(lines) + "\n"


def compiled_text(answer: Compiled, paper: Paper) -> str:
    """Where an edition lies and what it holds."""
    holds = ", ".join(f"{number:,} {what}" for what, number in answer.holds.items())
    lines = paper.wrap(f"{answer.catalogue}: {holds}.")
    lines += paper.wrap(f"Edition {answer.edition}")
    where = f"It lies in {answer.path} ({answer.size:,} bytes)." if answer.path else "It is in memory only."
    lines += paper.wrap(where)
    return "\n".join(lines) + "\n"


def sources_text(answer: SourcesListed, paper: Paper) -> str:
    """Each source with how it answers."""
    if not answer.sources:
        return "\n".join(paper.wrap("The settings name no stock source. Add [sources.NAME] to kitbuilder.toml.")) + "\n"
    lines = []
    for one in answer.sources:
        age = "" if one.age_s is None else f", told {ago(one.age_s)}"
        what = f"{one.state}{age}" if one.error is None else f"failed: {one.error}"
        does = f", can {listed(one.does, 'and')}" if one.does else ""
        lines += _named(one.source, f"({one.plugin}{does}): {what}", paper)
    return "\n".join(lines) + "\n"


def plugins_text(answer: PluginsListed, paper: Paper) -> str:
    """Each plug-in with what it brings, or why it didn't load."""
    if not answer.plugins:
        return "No plug-in is installed.\n"
    lines = []
    for one in answer.plugins:
        what = f"failed: {one.error}" if one.error else f"brings {listed(one.brings, 'and') or 'nothing'}"
        lines += _named(one.name, f"({one.distribution} {one.version}): {what}", paper)
    return "\n".join(lines) + "\n"


def _named(name: str, what: str, paper: Paper) -> list[str]:
    """A paragraph that begins with a name, which is made bold only once it is wrapped: bold takes no room."""
    first, *more = paper.wrap(f"{name} {what}", 2)
    return [first.replace(name, paper.heading(name), 1), *more]
