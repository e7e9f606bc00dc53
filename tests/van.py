"""The demonstration van taken into a workspace: once a run, and copied for every test that writes."""

from pathlib import Path

from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.usecases.intake import Answers, intake_folder

from fakes import quiet
from made_once import copy_of, made_once

NAME = "van-no-start"


def _make(folder):
    make_workspace(folder, recorder="Ida Ansgar", zone="Europe/Dublin")
    with open_desk(folder) as desk:
        intake_folder(desk, open_handed(demo_dossiers()[NAME]), Answers(), quiet)


def van(folder):
    """A workspace of its own in ``folder`` that holds the van."""
    return copy_of(van_to_look_at(), Path(folder) / "shop")


def van_to_look_at():
    """The shared workspace: for tests that write nothing."""
    return made_once("van", _make)
