"""The smaller answers as text: job types and facts, editions, sources, plug-ins."""

from kitbuilder.calendar.ago import ago
from kitbuilder.model.listing import Compiled, JobsListed, PluginsListed, SourceListed, SourcesListed
from kitbuilder.show.paper import Paper, counted, listed

#: An answer that took less isn't worth a word.
_LONG_MS = 3000


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
        kept = f": {one.kept}" if one.kept else ""
        what = f"{one.state}{age}{kept}" if one.error is None else f"failed: {one.error}"
        does = f", can {listed(one.does, 'and')}" if one.does else ""
        lines += _named(one.source, f"({one.plugin}{does}): {what}{_health(one)}", paper)
    return "\n".join(lines) + "\n"


def _health(one: SourceListed) -> str:
    """How long the answer took, or since when there has been none; and how it went lately."""
    lately = f"failed {one.failed_lately} of the last {one.lately} times" if 0 < one.failed_lately < one.lately else ""
    if one.error is None:
        took = f", after {_seconds(one.took_ms)}" if (one.took_ms or 0) >= _LONG_MS else ""
        slowest = one.slowest_ms or 0
        at_worst = f"took {_seconds(slowest)} at worst" if slowest >= _LONG_MS > (one.took_ms or 0) else ""
        more = " and ".join(text for text in (lately, at_worst) if text)
        return took + (f". It {more}" if more else "")
    # why one rests tells how often it failed
    failed = f"failed {one.failures} times in a row" if one.failures > 1 and one.rests_until is None else ""
    stop = "" if one.error.endswith((".", "?", "!")) else "."
    known = f"{stop} It has {failed}" if failed else ""
    if one.answered_ago_s is not None:
        since = f", and has {failed} since" if failed else ""
        known = f"{stop} It last answered {ago(one.answered_ago_s)}{since}"
    if lately and one.failed_lately > one.failures:
        known += f"{'; it' if known else f'{stop} It'} {lately}"
    return known


def _seconds(took_ms: int | None) -> str:
    return f"{(took_ms or 0) / 1000:.1f} s"


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
