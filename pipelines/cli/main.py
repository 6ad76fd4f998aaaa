"""The console script: one typer application, and the one place where an error becomes a line and an exit code."""

from __future__ import annotations

import os
import re
import sys
from functools import cache
from importlib import metadata
from io import TextIOWrapper
from traceback import walk_tb
from typing import TYPE_CHECKING, Annotated

import typer
from typer.main import get_command

from pipelines.cli import academy, desk, export, federation, files, flags, licences, player, publish, service, trial
from pipelines.collector import collect_seldom
from pipelines.workspace import keep_to_owner
from schemas.errors import ProgramError, SpeedworthError, UsageError

if TYPE_CHECKING:
    from collections.abc import Callable

_USAGE_FAULT: type[Exception] = typer.BadParameter.__bases__[0]  # what typer raises for any wrong argument


def _exit_codes() -> str:
    found: list[type[SpeedworthError]] = [SpeedworthError]
    for kind in found:
        found += kind.__subclasses__()
    told = sorted((kind.exit_code, (kind.__doc__ or "").splitlines()[0].rstrip(".")) for kind in found)
    return "Exit codes: 0 done; " + "; ".join(f"{code} {text[0].lower()}{text[1:]}" for code, text in told) + "."


app = typer.Typer(
    name="speedworth",
    help="What is the extra club speed worth? From files of shots, sessions and reports to pages for coach, physio and player.",
    epilog=_exit_codes(),
    no_args_is_help=True,
    rich_markup_mode=None,
    pretty_exceptions_enable=False,
    add_completion=False,
)


def _version(wanted: bool) -> None:
    if wanted:
        print(f"speedworth {metadata.version('speedworth')}")
        raise typer.Exit


@app.callback()
def _begin(
    version: Annotated[
        bool, typer.Option("--version", help="Say which version this is, and exit.", callback=_version, is_eager=True)
    ] = False,
) -> None:
    pass


for group in (academy, service, desk, files, flags, trial, player, export, publish, federation, licences):
    group.add_to(app)


_WRITTEN_AS = re.compile(r"does not match the formats? '%Y-%m-%d'")

_STOPPED = 130
"""Exit code of a command that a person stopped."""


@cache
def _command() -> Callable[..., int | None]:
    """The whole tree of commands, read from their signatures once."""
    return get_command(app)


def _one_line(fault: BaseException) -> str:
    return " ".join(str(fault).split())


def _require_text(arguments: list[str]) -> None:
    """Refuse bytes that are no text: neither the warehouse nor a file in UTF-8 could hold or find them."""
    for argument in arguments:
        if any("\ud800" <= sign <= "\udfff" for sign in argument):
            raise UsageError(
                f"{argument!a} holds bytes that are no text here.",
                "Write it in UTF-8; rename a file or folder that is called so.",
            )


def main(arguments: list[str] | None = None) -> int:
    """Run the command line; returns the exit code. Every fault of a user or of the data is one line on standard error."""
    keep_to_owner()
    try:
        _require_text(sys.argv[1:] if arguments is None else arguments)
        code = _command()(
            arguments, prog_name="speedworth", standalone_mode=False
        )  # a command returns nothing, or ends early with a code
    except SpeedworthError as fault:
        print(f"Error: {_one_line(fault)}", file=sys.stderr)
        return fault.exit_code
    except _USAGE_FAULT as fault:
        return _usage(fault, sys.argv[1:] if arguments is None else arguments)
    except OSError as fault:
        print(f"Error: {_one_line(fault)}. Check the disk and the folder's permissions.", file=sys.stderr)
        return SpeedworthError.exit_code
    except (KeyboardInterrupt, typer.Abort) as stop:
        if isinstance(stop.__cause__, EOFError):  # typer takes whatever ends early for a person who goes away
            return _ended_early(stop.__cause__)
        code = _STOPPED
    if code == _STOPPED:
        print("Stopped.", file=sys.stderr)
    return code or 0


def _ended_early(end: EOFError) -> int:
    compiled = next((path for frame, _ in walk_tb(end.__traceback__) if (path := frame.f_locals.get("bytecode_path"))), None)
    if compiled is None:
        print(f"Error: What was being read ended too early ({_one_line(end)}). Try again.", file=sys.stderr)
        return SpeedworthError.exit_code
    print(
        f"Error: A compiled file of the program is cut off: {compiled}. Remove it and try again: it is made anew.",
        file=sys.stderr,
    )
    return ProgramError.exit_code


def _usage(fault: Exception, arguments: list[str]) -> int:
    if "--passphrase" in arguments and "unexpected extra argument" in str(fault):  # and it is not said once more
        print(
            "Error: A passphrase is not written on the command line: others see it there, and the shell keeps it. "
            "Take another one, and give --passphrase alone: it asks.",
            file=sys.stderr,
        )
        return 2
    if type(fault).__name__ == "NoArgsIsHelpError":  # nothing is wrong yet: the help, as it is written
        print(str(fault), file=sys.stderr)
        return 2
    context = getattr(fault, "ctx", None)
    command = context.command_path if context is not None else "speedworth"
    message = " ".join((fault.format_message() if hasattr(fault, "format_message") else str(fault)).split())
    message = _WRITTEN_AS.sub("is no day. Write it as year-month-day: 2026-03-14", message.replace(": Value error, ", ": "))
    stop = "" if message.endswith((".", "?", "!")) else "."
    print(f"Error: {message}{stop} Try `{command} --help`.", file=sys.stderr)
    return 2


def run() -> None:
    """The console script."""
    collect_seldom()
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, TextIOWrapper):
            stream.reconfigure(errors="backslashreplace")  # a terminal without a name's letters is no reason to stop
    try:
        code = main()
        sys.stdout.flush()
    except BrokenPipeError:  # the reader of a pipe has gone: nothing more to say
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        code = 0
    raise SystemExit(code)
