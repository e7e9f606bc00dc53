"""The demonstration van taken into a workspace: once a run, and copied for every test that writes."""

import shutil
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

from evidence.bootstrap import demo_dossiers, make_workspace, open_desk
from evidence.capture.sources import open_handed
from evidence.usecases.intake import Answers, intake_folder

from fakes import quiet

NAME = "van-no-start"


_HELD = TemporaryDirectory(prefix="van-")  # gone with the run


@cache
def _made():
    folder = Path(_HELD.name)
    make_workspace(folder / "shop", recorder="Ida Ansgar", zone="Europe/Dublin")
    with open_desk(folder / "shop") as desk:
        intake_folder(desk, open_handed(demo_dossiers()[NAME]), Answers(), quiet)
    return folder / "shop"


def van(folder):
    """A workspace of its own in ``folder`` that holds the van."""
    return shutil.copytree(_made(), Path(folder) / "shop", symlinks=True)


def van_to_look_at():
    """The shared workspace: for tests that write nothing."""
    return _made()
