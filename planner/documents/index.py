"""The list of a folder of documents, as plain text."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from planner.documents.folder import Folder
from planner.documents.shown import standing_words
from planner.documents.texts import say
from planner.schedule.model import Schedule
from planner.study.model import Study


def index_text(study: Study, schedule: Schedule, folder: Folder, names: Sequence[str]) -> str:
    """What lies in the folder, by kind and by name, and what was left alone or moved."""
    parts = [say("folder.readme_title", study=study.name)]
    if study.demo:
        parts.append(say("common.demo"))
    parts += [say("folder.readme_head", plan=standing_words(study, schedule)), ""]
    parts += [say("folder.readme_kinds"), *_kinds(names), ""]
    if folder.beside:
        lines = [say("folder.readme_line", name=old, new=new) for old, new in sorted(folder.beside.items())]
        parts += [say("folder.readme_changed"), *lines, ""]
    if folder.retired:
        where = say("folder.replaced")
        parts += [say("folder.readme_retired", folder=where), *folder.retired, ""]
    if folder.kept:
        parts += [say("folder.readme_kept"), *folder.kept, ""]
    parts += [say("folder.readme_files"), *sorted(names), ""]
    return "\n".join(parts)


def _kinds(names: Sequence[str]) -> list[str]:
    found = Counter(name.split("_")[0].split(".")[0].split(" (")[0] for name in names)
    return [
        say("folder.readme_kind", count=count, what=say(f"folder.kinds.{kind}"))
        for kind, count in sorted(found.items())
    ]
