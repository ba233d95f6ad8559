"""The command line: every command by its name, and one place that turns an error into an exit code."""

from __future__ import annotations

import errno
import os
import sys
import traceback
from typing import Annotated, NoReturn

import typer

from boilerfront.jobs.commands.acceptance import acceptance
from boilerfront.jobs.commands.calibrate import calibrate
from boilerfront.jobs.commands.compare import compare
from boilerfront.jobs.commands.draft import draft
from boilerfront.jobs.commands.explain import explain
from boilerfront.jobs.commands.export import export
from boilerfront.jobs.commands.inspect import inspect
from boilerfront.jobs.commands.pack import pack
from boilerfront.jobs.commands.page import page
from boilerfront.jobs.commands.pick import pick
from boilerfront.jobs.commands.query import query
from boilerfront.jobs.commands.reprice import reprice
from boilerfront.jobs.commands.resume import resume
from boilerfront.jobs.commands.start import start
from boilerfront.jobs.commands.status import status
from boilerfront.jobs.commands.stop import stop
from boilerfront.jobs.commands.trace import trace
from boilerfront.shared.errors import BoilerfrontError, InputError, StoppedEarlyError

DEBUG = "--debug"

app = typer.Typer(
    name="boilerfront",
    help="Sweeps of the hot-water side of domestic espresso machines: draft, inspect, start, query.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    context_settings={"help_option_names": ["-h", "--help"]},
)
for _command in (
    *(draft, inspect, start, resume, stop, status),
    *(query, explain, trace, pick, pack, page, compare, reprice, calibrate, acceptance, export),
):
    app.command()(_command)


@app.callback()
def common(
    debug: Annotated[bool, typer.Option(DEBUG, help="Show the whole trace of an error.")] = False,
) -> None:
    """Sweeps of the hot-water side of domestic espresso machines."""


def main() -> NoReturn:
    """Run the command line and exit with a code: 0 done, 1 our fault, 2 wrong input, 3 stopped early."""
    try:
        try:
            app()
        finally:
            sys.stdout.flush()  # a disk that refuses is told below, not by the interpreter's end
        sys.exit(0)
    except BrokenPipeError:
        _end_quietly()
    except SystemExit as end:
        # typer makes exit 1 of a closed pipe, which is no fault of ours.
        if isinstance(end.__context__, BrokenPipeError):
            _end_quietly()
        raise
    except KeyboardInterrupt:
        _say("stopped")
        sys.exit(StoppedEarlyError.exit_code)
    except BoilerfrontError as error:
        _show_trace_if_wanted()
        _say(_text(error))
        sys.exit(error.exit_code)
    except OSError as error:
        # Without a file's name: what was printed, and whoever reads standard output did not get all of it.
        if error.filename is not None or error.errno not in (errno.ENOSPC, errno.EDQUOT, errno.EIO):
            _end_with_our_own_fault(error)
        _say(f"cannot write to standard output: {error.strerror}")
        _drop_output()
        sys.exit(StoppedEarlyError.exit_code)
    except Exception as error:  # the border of the process: what nobody foresaw is our own fault
        _end_with_our_own_fault(error)


def _end_with_our_own_fault(error: Exception) -> NoReturn:
    _show_trace_if_wanted()
    where = traceback.extract_tb(error.__traceback__)[-1]
    _say(f"our own fault: {type(error).__name__}: {error} ({where.filename}:{where.lineno})")
    _say(f"{DEBUG} shows the whole trace; the story of a run is in the run.log of its folder")
    sys.exit(1)


def _end_quietly() -> NoReturn:
    """End where whoever read our output has had enough: nothing is to be flushed into the closed pipe."""
    _drop_output()
    sys.exit(0)


def _drop_output() -> None:
    os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def _text(error: BoilerfrontError) -> str:
    faults = error.faults if isinstance(error, InputError) else ()
    heading = f"{len(faults)} faults, nothing was changed:\n" if len(faults) > 1 else ""
    return heading + str(error)


def _show_trace_if_wanted() -> None:
    if DEBUG in sys.argv:
        traceback.print_exc()


def _say(text: str) -> None:
    print(text, file=sys.stderr)


if __name__ == "__main__":
    main()
