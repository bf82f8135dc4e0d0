"""The commands put together, and the one place where the command line puts errors into words.

Exit codes: 0 all is done, 3 a plan with something unplaced, 2 input that cannot be taken, 1 a fault of
nestplan's own, 130 stopped by the user with nothing to keep. Each command lives in the module of its job.
"""

from __future__ import annotations

import gc
import importlib
import inspect
import os
import sys
from typing import Any

import typer
import typer.main
import typer.models

from nestplan import __version__
from nestplan.cli.option_words import with_options
from nestplan.cli.plain_values import read_plain_values
from nestplan.cli.terminal import harmless, say
from nestplan.errors import Cancelled, InputError, NestplanError, RuleError

__all__ = ["COMMAND_MODULES", "build_app", "main", "multiply_in_one_thread"]

_OBJECTS_BETWEEN_SEARCHES = 10_000
"""New objects after which Python looks for garbage; 700 unless told."""

_THREADS_OF_PRODUCTS = ("OPENBLAS_NUM_THREADS", "MKL_NUM_THREADS")
"""What tells the libraries below NumPy and SciPy how many threads share one product of matrices."""

COMMAND_MODULES = (
    "nestplan.cli.plan_commands",
    "nestplan.cli.trace_commands",
    "nestplan.cli.retrace_commands",
    "nestplan.cli.drawing_commands",
    "nestplan.cli.lacing_commands",
    "nestplan.cli.size_commands",
    "nestplan.cli.rack_commands",
    "nestplan.cli.estimate_commands",
    "nestplan.cli.sheet_commands",
    "nestplan.cli.desk_command",
)
"""Modules that add commands, in the order of the job; each has `register(app)`."""


def build_app() -> typer.Typer:
    """The whole command line as one Typer app."""
    app = typer.Typer(
        name="nestplan",
        help="Plan how to cut panels, straps and lace from irregular hides, before the knife touches leather.",
        no_args_is_help=True,
        add_completion=False,
        pretty_exceptions_enable=False,
        rich_markup_mode=None,
    )

    @app.callback(invoke_without_command=True)
    def entry(
        version: bool = typer.Option(False, "--version", help="Print the version and leave.", is_eager=True),
    ) -> None:
        if version:
            say(f"nestplan {__version__}")
            raise typer.Exit

    for name in COMMAND_MODULES:
        importlib.import_module(name).register(app)
    for each in (app, *(group.typer_instance for group in app.registered_groups)):
        if each is not None:
            _name_values(each)
    return app


def _name_values(app: typer.Typer) -> None:
    """Say FILE, NUMBER, TEXT in the help of every command where the library would say the type in the code."""
    for command in app.registered_commands:
        for name, parameter in inspect.signature(command.callback or main).parameters.items():
            told, kind = parameter.default, str(parameter.annotation)
            if not isinstance(told, typer.models.ParameterInfo) or told.metavar is not None:
                continue
            if isinstance(told, typer.models.ArgumentInfo):
                told.metavar = name.removesuffix("s" if kind.startswith("list") else "").upper()
            elif "Path" in kind:
                told.metavar = "FOLDER" if str(told.help).startswith("Folder") else "FILE"
            elif "bool" not in kind:
                told.metavar = "NUMBER" if "int" in kind or "float" in kind else "TEXT"


def _leave_out_types(command: Any) -> None:
    """Keep `<list[Path]>` and the like from the help of arguments, here and in the commands below."""
    for parameter in command.params:
        if parameter.param_type_name == "argument":
            parameter.display_type_rich = lambda ctx: None
    for each in getattr(command, "commands", {}).values():
        _leave_out_types(each)


def multiply_in_one_thread() -> None:
    """Have products of matrices done by one thread each, unless the user's environment says otherwise.

    Ours are small and many: threads that share one mostly wait for each other, which took two fifths of the processor's
    time of a trace. It must be said before NumPy is loaded.
    """
    for name in _THREADS_OF_PRODUCTS:
        os.environ.setdefault(name, "1")


def main() -> None:
    """Run the command line and leave with its exit code."""
    multiply_in_one_thread()
    # The imports make many objects that stay; looking through them again and again takes a tenth of a short run.
    gc.set_threshold(_OBJECTS_BETWEEN_SEARCHES)
    try:
        command = typer.main.get_command(build_app())
        _leave_out_types(command)
        read_plain_values(command)
        # Not left to the library to end with: what it says of words typed is made harmless first.
        code = command(standalone_mode=False)
        sys.exit(code if isinstance(code, int) else 0)
    except (InputError, RuleError) as error:
        leave(error, 2)
    except Cancelled as error:
        leave(error, 130)
    except NestplanError as error:
        leave(error, 1)
    except KeyboardInterrupt:
        say("Stopped.", err=True)
        sys.exit(130)
    except Exception as error:
        if os.environ.get("NESTPLAN_TRACEBACK"):
            raise
        _leave_if_told(error)
        say(
            f"nestplan met a fault of its own ({type(error).__name__}: {error}). "
            "Please report it; with NESTPLAN_TRACEBACK=1 in the environment it shows where.",
            err=True,
        )
        sys.exit(1)
    finally:
        # What ends now need not be searched for garbage: with the engine loaded that takes half a second.
        gc.freeze()


def _leave_if_told(error: Any) -> None:
    """Leave with the library's words about a line wrongly typed, or the system's about a file; else do nothing."""
    if isinstance(error, OSError) and error.filename:
        leave(_about_a_file(error), 2)
    # Versions of the library have the class in other places.
    if hasattr(error, "format_message") and hasattr(error, "show"):
        error.message = harmless(str(error.message), lines=True)
        error.show()
        sys.exit(error.exit_code)


def _about_a_file(error: OSError) -> InputError:
    """What the system says of a file before a reader came to it: its name is too long, or it may not be looked at."""
    file = os.fsdecode(error.filename) if isinstance(error.filename, str | bytes) else str(error.filename)
    return InputError(
        f"The system does not allow it: {error.strerror}.",
        file=file,
        mend="Check the name, the folder and your rights.",
    )


def leave(error: NestplanError, code: int) -> None:
    """Tell the error in one paragraph on standard error, with the options that mend it, and leave with `code`."""
    error.mend = with_options(error.mend)
    say(f"nestplan: {error}", err=True)
    sys.exit(code)
