"""The command line: one file per command, and the only place that ends in exit codes."""

import os
import signal
import sys
from io import TextIOWrapper
from types import FrameType
from typing import Annotated, Any, NoReturn

import typer
from typer.core import TyperGroup

import regscan
from regscan.cli.calibrate import calibrate
from regscan.cli.correct import correct
from regscan.cli.demo import demo
from regscan.cli.gate import gate
from regscan.cli.gauge import gauge
from regscan.cli.history import history
from regscan.cli.measure import measure
from regscan.cli.ramp import ramp
from regscan.cli.report import report
from regscan.cli.simulate import simulate
from regscan.cli.teach import teach
from regscan.cli.watch import watch
from regscan.errors import RegscanError

INTERRUPTED = 130  # the shell's own number for a program stopped with Ctrl-C

NOTHING = "nothing was written"


def notes(error: BaseException) -> list[str]:
    """What was said about an error on its way here: what is kept, and how to go on."""
    return getattr(error, "__notes__", [])


class Commands(TyperGroup):
    """The commands; an error regscan raises on purpose ends here, once."""

    def invoke(self, ctx: Any) -> Any:
        """Run a command; a RegscanError becomes its message and its exit code."""
        try:
            return super().invoke(ctx)
        except RegscanError as error:
            typer.echo("\n".join([str(error), *notes(error)]), err=True)
            raise typer.Exit(error.exit_code) from None
        except ImportError as error:
            message = cv2_message(error)
            if message is None:
                raise
            typer.echo(message, err=True)
            raise typer.Exit(RegscanError.exit_code) from None
        except KeyboardInterrupt as stop:
            typer.echo("; ".join(["stopped", *(notes(stop) or [NOTHING])]), err=True)
            raise typer.Exit(INTERRUPTED) from None


def cv2_message(error: ImportError) -> str | None:
    """What to say when an import failed because of cv2; None when it was another module."""
    from regscan.cli.installation import mended_by, speaks_of_cv2

    return mended_by(error) if speaks_of_cv2(error) else None


app = typer.Typer(
    cls=Commands,
    add_completion=False,
    no_args_is_help=True,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    help="Measure colour register on a label press from camera frames. It advises and moves"
    " nothing.",
)
for command in (
    demo,
    measure,
    ramp,
    correct,
    gate,
    report,
    teach,
    calibrate,
    gauge,
    simulate,
    watch,
):
    app.command()(command)
app.add_typer(history, name="history")


def _show_version(wanted: bool) -> None:
    if wanted:
        typer.echo(f"regscan {regscan.__version__}")
        raise typer.Exit


@app.callback()
def options(
    version: Annotated[
        bool,
        typer.Option("--version", callback=_show_version, is_eager=True, help="Say which version."),
    ] = False,
) -> None:
    """Options of regscan itself."""


def _stop(number: int, frame: FrameType | None) -> NoReturn:
    # An ordinary exit, so that a half-written results folder is still cleared away.
    sys.exit(128 + number)


def run() -> NoReturn:
    """Run the command line and leave with its exit code."""
    signal.signal(signal.SIGTERM, _stop)
    if isinstance(sys.stdout, TextIOWrapper):  # names that it cannot show must not end a run
        sys.stdout.reconfigure(errors="backslashreplace")
    try:
        app()
    except SystemExit as end:
        for note in notes(end):
            typer.echo(f"stopped; {note}", err=True)
        _leave_at_once(end)
        raise
    sys.exit()


def _leave_at_once(end: SystemExit) -> None:
    """Skip Python's clearing up, a third of the wait for a mistake in the job file.

    Only where nothing was loaded yet that holds files, threads or processes.
    """
    if "numpy" not in sys.modules and isinstance(end.code, int):
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(end.code)
