"""Drafts a job type from rows of past jobs and holds it against the catalogue."""

from collections.abc import Iterator, Mapping, Sequence

import msgspec

from kitbuilder.bringing_in.bring_in import catalogue_faults
from kitbuilder.bringing_in.draft import Draft, draft_job
from kitbuilder.bringing_in.draft_files import draft_files
from kitbuilder.bringing_in.past import past_jobs
from kitbuilder.catalogue.content import Content, read_content
from kitbuilder.errors import WrongUse
from kitbuilder.model.bringing_in import Drafted, RowFault, RowRead


def drafted(job: str, title: str, of: str, rows: Sequence[RowRead], faults: Sequence[RowFault],
            files: Mapping[str, bytes]) -> Drafted:
    """The draft of a job type, as files that load together with the catalogue's. Nothing is written here. `of` is what
    the rows call the job, where they name jobs.

    With faults in the rows there is no draft: what a row would have said might change it. Raises LoadError if the
    catalogue itself doesn't load, WrongUse if it has the job type.
    """
    content = read_content("", files)
    if job in content.jobs:
        raise WrongUse(f"The catalogue has a job type {job!r}; give the draft another name.")
    past = past_jobs(rows, of, content.facts, content.items)
    wrong = tuple(sorted((*faults, *past.faults)))
    if wrong or not past.jobs:
        return Drafted("kitbuilder.draft/1", (), job, len(past.jobs), past.lines, (), (), (), (), wrong, (), {}, False)
    taken = frozenset((*content.roles, *content.findings))
    draft = draft_job(job, past.jobs, content.facts, content.items, taken)
    draft = msgspec.structs.replace(draft, questions=(*draft.questions, *_there_already(draft, content)))
    texts = draft_files(job, title, draft, files, len(past.jobs))
    broken = tuple(map(str, catalogue_faults({**files, **texts})))
    return Drafted("kitbuilder.draft/1", (), job, len(past.jobs), past.lines, draft.roles, draft.findings, draft.fits,
                   draft.questions, (), broken, {path: data.decode() for path, data in texts.items()}, False)


def _there_already(draft: Draft, content: Content) -> Iterator[str]:
    """Asks of the drafted roles that do what one role of the catalogue does already."""
    filled: dict[str, set[str]] = {}
    for _, fit in content.fits:
        if fit.item is not None and not fit.nothing:
            filled.setdefault(fit.item, set()).add(fit.role)
    same = []
    for role in draft.roles:
        items = [fit.item for fit in draft.fits if fit.role == role.name and fit.item in content.items]
        shared = set.intersection(*(filled.get(item, set()) for item in items)) if items else set()
        if len(shared) == 1:
            same.append(f"{shared.pop()} (drafted: {role.name})")
    if same:
        yield (f"The catalogue has roles that these items fill already: {', '.join(same)}. List those instead of new "
               "ones?")
