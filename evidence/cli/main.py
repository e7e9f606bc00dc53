"""The command line: ``evidence --workspace DIR COMMAND``. Commands live beside this file, by what they are for.

Nothing heavy is imported here or at the top of those files: ``--help`` and ``--version`` answer at once.
"""

from __future__ import annotations

import atexit
import gc
import os
import sys
from pathlib import Path
from typing import Annotated

import typer

from evidence import __version__
from evidence.cli import (
    aside,
    disclosing,
    entering,
    judging,
    keeping_keys,
    looking,
    losing,
    making,
    minding,
    papers,
    photographs,
    planning,
    proving,
    reach,
    reviewing,
    standing,
    timing,
    verifying,
)
from evidence.cli.comebacks import comebacks_app
from evidence.cli.common import WORKSPACE_VARIABLE, Place, tell_error
from evidence.cli.custody import custody_app
from evidence.cli.recording import record_app
from evidence.cli.traces import waveform_app
from evidence.errors import EvidenceError, ExitCode

app = typer.Typer(
    name="evidence",
    help="Comeback and liability evidence: from prior work orders and undisturbed-state readings to a chain-of-custody PDF.",
    epilog=(
        "Exit codes: 0 done, 1 damage found, 2 refused and nothing recorded, 3 not finished (run it again). "
        "This program gives no legal advice."
    ),
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
)


def _version(asked: bool) -> None:
    if asked:
        typer.echo(f"evidence {__version__}")
        raise typer.Exit


@app.callback()
def _everywhere(
    workspace: Annotated[
        Path | None,
        typer.Option(
            "--workspace", "-w", envvar=WORKSPACE_VARIABLE, help="Folder of the workspace; default: this folder."
        ),
    ] = None,
    _asked: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Say the version and end.")
    ] = False,
) -> None:
    Place.folder = workspace or Path()
    Place.named = workspace is not None


app.command("workspace")(making.workspace)
app.command("intake")(entering.intake)
app.add_typer(record_app, name="record")
app.command("dossiers")(looking.dossiers)
app.command("show")(looking.show)
app.command("entries")(looking.entries)
app.command("photos")(photographs.photos)
app.command("recheck")(looking.recheck)
app.command("clocks")(timing.clocks)
app.command("timeline")(timing.timeline)
app.command("assess")(judging.assess)
app.command("plan")(planning.plan)
app.add_typer(custody_app, name="custody")
app.command("opportunity")(reach.opportunity)
app.command("paper")(papers.paper)
app.command("loss")(losing.loss)
app.command("mistakes")(minding.mistakes)
app.command("talk")(aside.talk)
app.command("lesson")(aside.lesson)
app.command("status")(standing.status)
app.add_typer(standing.place_app, name="place")
app.add_typer(comebacks_app, name="comebacks")
app.add_typer(waveform_app, name="waveform")
app.command("challenge")(reviewing.challenge)
app.command("report")(making.report)
app.command("disclose")(disclosing.disclose)
app.command("verify")(verifying.verify)
app.add_typer(reviewing.review_app, name="review")
app.command("timestamp")(proving.timestamp)
app.add_typer(proving.heads_app, name="heads")
app.add_typer(keeping_keys.keys_app, name="keys")
app.add_typer(judging.rules_app, name="rules")
app.command("schema")(making.schema)
app.command("demo")(making.demo)


_UNFINISHED = "What was acknowledged before is recorded; 'evidence recheck' says where the workspace stands."


def run() -> None:
    """Run the command line; errors that a person can mend become one message and an exit code."""
    gc.set_threshold(20_000)  # a command is short: looking for unreachable objects took a quarter of its time
    atexit.register(gc.freeze)  # at its end as well, where everything goes anyway
    try:
        app(standalone_mode=True)
    except EvidenceError as err:
        tell_error(err)
        sys.exit(int(err.exit_code))
    except BrokenPipeError:  # the reader of a pipe has gone: no error of ours
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        sys.exit(int(ExitCode.REFUSED))
    except OSError as err:  # of a place that no command speaks of itself, such as the folder for temporary files
        place = "" if err.filename is None else os.fsdecode(err.filename)
        tell_error(EvidenceError(f"the system refused it: {err.strerror or err}", item=place, advice=_UNFINISHED))
        sys.exit(int(ExitCode.REFUSED))
    except KeyboardInterrupt:
        typer.echo("evidence: stopped; what was not finished is not recorded", err=True)
        sys.exit(int(ExitCode.UNFINISHED))


if __name__ == "__main__":
    run()
