"""Bundles for tests: a demonstration dossier taken in and handed over."""

from __future__ import annotations

from pathlib import Path

from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.handing_over import write_bundle
from evidence.review.disclosing import Choice
from evidence.usecases.intake import Answers, intake_folder

from fakes import quiet
from made_once import made_once


def make_bundle(folder: Path, dossier: str = "wet-footwell", **choice: tuple[str, ...]) -> Path:
    """Take a demonstration dossier into a new workspace in ``folder`` and write its bundle there."""
    workspace = folder / "workspace"
    make_workspace(workspace, recorder="Marta Quill", zone="Europe/Dublin")
    with open_desk(workspace) as desk:
        intake_folder(desk, open_handed(demo_dossiers()[dossier]), Answers(), quiet)
        write_bundle(desk, workspace, dossier, Choice(**choice), folder / "bundle.zip", quiet)
    return folder / "bundle.zip"


def whole_bundle() -> Path:
    """The bundle of the wet footwell with nothing withheld: to be read alone. Its workspace lies beside it."""
    return made_once("wet-footwell", make_bundle) / "bundle.zip"
