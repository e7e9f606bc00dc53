"""Signs in the photos' files: facts, each with what it can mean innocently and what it cannot show."""

from __future__ import annotations

from itertools import groupby

from evidence.report.blocks import Block, Bullets, Heading, Para, Section
from evidence.report.given import ReportInput
from evidence.review.photo_signs import photos_of

_INTRO = (
    "What this program found in the files of the photos themselves, and by comparing them. Each line is a fact that "
    "anyone can find again in the same files; none says that anything was altered, and a photo without a line here is "
    "not thereby shown to be genuine."
)
_LOOKED_FOR = (
    "the same file or nearly the same picture in another exhibit or another dossier of the workspace, names of programs, "
    "histories of editing, times, sizes and orientation that contradict each other, the small picture inside the file, "
    "compression tables, positions against each other and against the place stated, gaps in the camera's numbers, content "
    "credentials"
)


def signs(given: ReportInput) -> Section:
    """One heading for each kind of sign, its photos below."""
    photos = photos_of(given.dossier, {})
    if not photos:
        return Section("Signs in the files", ())
    if not given.signs:
        count = "the photo" if len(photos) == 1 else f"the {len(photos)} photos"
        text = f"Nothing found in {count}. Looked for: {_LOOKED_FOR}. That none was found does not show that a photo is genuine."
        return Section("Signs in the files", (Para(text),))
    blocks: list[Block] = [Para(_INTRO, tone="small")]
    for title, group in groupby(given.signs, key=lambda s: s.title):
        found = list(group)
        blocks += [
            Heading(title),
            Bullets(tuple(s.sentence for s in found)),
            Para(found[0].innocent, head="Can also mean:", tone="small"),
            Para(found[0].limit, head="Cannot show:", tone="small"),
        ]
    return Section("Signs in the files", tuple(blocks))
