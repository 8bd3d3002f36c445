"""The command line: parse, call, print, exit code. Everything it does can be done from Python.

Exit codes: 0 done, 1 a run failed or was interrupted, 2 a config (or a result file) is wrong.
Libraries that take long to import are imported inside the commands, so that help appears at once.
"""

import sys

import cyclopts

from .commands.batch import batch
from .commands.look import check, names, schema, show
from .commands.parts import parts, sheets
from .commands.printed import page
from .commands.report import report
from .commands.results import bundle, merge, rerun
from .commands.run import run

app = cyclopts.App(
    name="noonhearth",
    help="Choose and justify a solar oven design, from one config file.",
)
for command in (
    run,
    batch,
    check,
    show,
    report,
    page,
    parts,
    sheets,
    names,
    schema,
    rerun,
    merge,
    bundle,
):
    app.command(command)


def main() -> None:
    """Entry of the console script."""
    sys.exit(app())
