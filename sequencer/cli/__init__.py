"""The command line: one module per command, loaded when asked for, so that `--help` stays light.

Data goes to stdout, prompts and progress to stderr. Every error is printed without a traceback, with its exit code;
anything else that escapes is a bug and keeps its traceback.
"""

import sys
from importlib import import_module

import click

from sequencer import __version__
from sequencer.errors import MeterjuryError

COMMANDS = {
    "start": "Write a starter plan, models and a bench that run as they are.",
    "check": "Read everything, report all faults, print what a run would do.",
    "run": "Perform a plan.",
    "runs": "List the archived runs.",
    "report": "Render a run as text, json or csv.",
    "limits": "Print what a manual allows at a value, and what follows from it.",
    "compare": "Set manuals side by side: limits, places, gaps.",
    "judge": "Judge readings that were taken elsewhere.",
    "instruments": "List addresses, who answers there, and how a dialect fits.",
    "simulate": "Serve the simulated instruments of a bench.",
}
"""Commands in the order of a first evening, with their help lines; each lives in a module of its name."""

CLOSED_PIPE = 0
INTERRUPTED = 6


class _LazyGroup(click.Group):
    """A group that imports a command's module when the command is asked for."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        """All names, in the order of `COMMANDS`."""
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        """Import the module of a command."""
        if cmd_name not in COMMANDS:
            return None
        command = import_module(f"sequencer.cli.{cmd_name}").command
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        """Print the help lines without importing anything."""
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(cls=_LazyGroup, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="meterjury")
def group() -> None:
    """Hold a table full of multimeters against one reference, and against what their manuals promise.

    \b
    Example:
      meterjury start first-evening
      meterjury run first-evening/bench-set.toml --simulated

    Exit codes: 0 nothing outside its limits; 2 wrong input or usage; 3 a fail or conditional fail; 4 bench or
    instrument; 5 archive; 6 stopped by the operator.
    """


def main() -> None:
    """Entry point of the console command: runs it and turns errors into messages and exit codes."""
    output = sys.stdout
    try:
        code = group.main(standalone_mode=False, prog_name="meterjury")
    except click.exceptions.Exit as error:
        code = error.exit_code
    except click.ClickException as error:
        error.show()
        code = error.exit_code
    except click.Abort:
        click.echo("stopped", err=True)
        code = INTERRUPTED
    except MeterjuryError as error:
        click.echo(str(error), err=True)
        for note in getattr(error, "__notes__", ()):
            click.echo(f"  and {note}", err=True)
        code = error.exit_code
    except SystemExit as error:
        # click wraps the output when its reader has gone, and exits 1; nothing is wrong, the reader has seen enough.
        gone = sys.stdout is not output
        code = CLOSED_PIPE if gone and error.code == 1 else error.code
    sys.exit(code if isinstance(code, int) else 0)
