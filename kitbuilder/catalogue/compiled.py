"""Compiles a catalogue's content to the bytes of an edition's file."""

import sqlite3

import msgspec

from kitbuilder.catalogue.content import Content
from kitbuilder.catalogue.parts import FORMAT, FactsPart, HeadingPart, RequirementPart
from kitbuilder.model.catalogue import Item, Waste


def compile_content(content: Content) -> bytes:
    """The bytes of the edition file of some content."""
    from kitbuilder.kinds import acceptable

    connection = sqlite3.connect(":memory:")
    connection.execute(f"PRAGMA user_version = {FORMAT}")
    connection.execute("CREATE TABLE part (key TEXT PRIMARY KEY, value BLOB NOT NULL) WITHOUT ROWID")
    own, shared = content.fits.by_place()
    jobs = tuple((job.name, job.title, job.goal) for job in content.jobs.values())
    heading = HeadingPart(
        content.name, content.currency,
        {"facts": len(content.facts), "job types": len(content.jobs), "roles": len(content.roles),
         "items": len(content.items), "fits": len(content.fits)},
    )
    further = {"exchange": content.exchanges, "hazards": content.hazards, "selling": content.selling,
               "waste": content.wastes, "ports": any(one.ports for one in content.items.values()),
               "cure": any("cure" in one.properties for one in content.items.values())}
    wastes: dict[str, list[Waste]] = {}
    for waste in content.wastes:
        key = f"waste-of-job/{waste.job}" if waste.job else f"waste-of-role/{waste.role}"
        wastes.setdefault(key, []).append(waste)
    encode = msgspec.msgpack.Encoder().encode
    insert = "INSERT INTO part VALUES (?, ?)"
    connection.execute(insert, ("heading", encode(heading)))
    connection.execute(insert, ("jobs", encode(jobs)))
    connection.execute(insert, ("facts", encode(FactsPart(content.facts, content.joints, content.tables))))
    connection.execute(insert, ("names/finding", encode(list(content.findings))))
    connection.execute(insert, ("names/supersession", encode(list(content.supersessions))))
    connection.executemany(insert, ((f"finding/{one.name}", encode(one)) for one in content.findings.values()))
    connection.executemany(insert, (
        (f"supersession/{old}", encode(one)) for old, one in content.supersessions.items()))
    # the fits are encoded already
    connection.executemany(insert, (
        (f"job/{job.name}", encode({"job": job, "fits": own.pop(job.name, [])})) for job in content.jobs.values()))
    connection.executemany(insert, (
        (f"role/{role.name}", encode({"role": role, "fits": shared.get(role.name, [])}))
        for role in content.roles.values()))
    of_kind: dict[str, list[Item]] = {}
    for item in content.items.values():
        of_kind.setdefault(item.kind, []).append(item)
    connection.executemany(insert, (
        (f"requirement/{one.name}", encode(RequirementPart(one, acceptable(one, of_kind.get(one.kind, ())))))
        for one in content.requirements.values()))
    connection.executemany(insert, ((f"item/{item.number}", encode(item)) for item in content.items.values()))
    connection.executemany(insert, ((f"caution/{one.name}", encode(one)) for one in content.cautions.values()))
    connection.execute(insert, ("more", encode([name for name, held in further.items() if held])))
    connection.executemany(insert, ((f"exchange/{one.item}", encode(one)) for one in content.exchanges.values()))
    connection.executemany(insert, ((f"hazard/{one.item}", encode(one)) for one in content.hazards.values()))
    connection.executemany(insert, ((f"selling/{one.item}", encode(one)) for one in content.selling.values()))
    connection.executemany(insert, ((key, encode(rows)) for key, rows in wastes.items()))
    if content.hazards or content.wastes:
        connection.execute(insert, ("codes", encode(_words_of_codes(content))))
    if content.vins:
        connection.execute(insert, ("vins", encode(content.vins)))
    if content.supersessions.together:
        connection.execute(insert, ("replacements", encode(content.supersessions.together)))
    if content.plates:
        connection.execute(insert, ("plates", encode(content.plates)))
    connection.commit()
    data = connection.serialize()
    connection.close()
    return data


def _words_of_codes(content: Content) -> dict[str, str]:
    """Kept with the edition, so that a kit needn't load all that is known of codes."""
    from kitbuilder.kinds.hazards import PICTOGRAMS, statement_text
    from kitbuilder.kinds.waste import title

    hazards = content.hazards.values()
    return {
        **{waste.code: title(waste.code) for waste in content.wastes},
        **{code: PICTOGRAMS[code] for one in hazards for code in one.pictograms},
        **{code: statement_text(code) for one in hazards for code in one.statements}}
