"""The command line: parses, calls the command, prints what it says."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from typing import NoReturn

from jointstats import __version__, commands
from jointstats.console import open_streams, say, stoppable
from jointstats.errors import InputError, SiteError

__all__ = ["main"]

_WRONG_INPUT, _STOPPED = 2, 130


class _Parser(argparse.ArgumentParser):
    def error(self, message: str) -> NoReturn:
        """One line on standard error, and exit 2."""
        self.exit(_WRONG_INPUT, f"{self.prog}: {message}; see {self.prog} --help\n")


def _number_of_sets(text: str) -> int | str:
    if text == "auto":
        return text
    try:
        number = int(text)
    except ValueError:
        number = -1
    if not 0 <= number <= 50:
        raise argparse.ArgumentTypeError(f'{text!r} is not "auto" or a whole number from 0 to 50')
    return number


def _between(low: float, high: float, what: str) -> Callable[[str], float]:
    def parse(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low < value < high:
            raise argparse.ArgumentTypeError(f"{text!r} is not {what} between {low:g} and {high:g}")
        return value

    return parse


def _with_site(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "site",
        metavar="SITE",
        help="directory, workbook (.xlsx) or AGS4 file that holds the tables of the site; for "
        "sets and report also a CSV file of poles",
    )
    _with_limit(parser)


def _with_limit(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--mapping",
        metavar="FILE.csv",
        help="what the files, headings and words of others mean, as check --suggest drafts it",
    )
    parser.add_argument(
        "--max-mb",
        metavar="MB",
        type=_between(0, 1e6, "a size"),
        default=200.0,
        help="most megabytes of a table, or of a workbook unpacked (default 200)",
    )


def _with_fit(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--sets",
        metavar="N",
        type=_number_of_sets,
        help="number of sets, or auto (the default) to choose it by the data",
    )
    parser.add_argument(
        "--blind-angle",
        metavar="DEG",
        type=_between(-1e-9, 90, "an angle in degrees"),
        help="angle between hole and plane below which picks are not trusted "
        "(default: that of site.toml, else 10)",
    )
    parser.add_argument(
        "--confidence",
        metavar="P",
        type=_between(0, 1, "a level"),
        help="level of the intervals (default 0.95)",
    )
    parser.add_argument(
        "--include",
        metavar="CLASS,…",
        type=lambda text: [one.strip() for one in text.split(",")],
        help="classes of discontinuity that enter, by their type (default: all that drilling did "
        "not make)",
    )
    parser.add_argument(
        "--random-state", metavar="K", type=int, help="makes the search repeatable (default 0)"
    )


def _with_domains(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--domains",
        choices=("auto", "none"),
        help="whether to ask if the holes see one rock (default auto)",
    )


def _with_recipe(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--analysis",
        metavar="FILE.toml",
        help="decisions of the analyst (default: analysis.toml in the directory of the site); an "
        "option given here goes before",
    )


def _with_poles(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--weights", metavar="COLUMN", help="of a table of poles: how much each counts"
    )
    parser.add_argument(
        "--hand",
        choices=("right", "left"),
        default="right",
        help="of strikes in a table of poles: the side to which the plane dips, looking along the "
        "strike (default right)",
    )


def _with_pairs(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--pairs",
        metavar="FILE.csv",
        help="pairs.csv of a match, as edited: core is oriented by its image before the fit",
    )


def _parser() -> argparse.ArgumentParser:
    parser = _Parser(
        prog="jointstats",
        description="Joint sets from borehole fracture logs, with the sampling of the holes "
        "inside the fit.",
        epilog="Exit status: 0 done; 2 the input or the arguments are wrong; 3 some of several sites "
        "failed, and the rest is written; 1 program error; 130 stopped.",
    )
    parser.add_argument("--version", action="version", version=f"jointstats {__version__}")
    added = parser.add_subparsers(title="commands", dest="command", required=True)
    _add_reports(added)
    _add_tables(added)
    sets = added.add_parser("sets", help="print the table of sets")
    _with_site(sets)
    form = sets.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--csv", action="store_true", help="print comma-separated values")
    _with_fit(sets)
    _with_domains(sets)
    _with_recipe(sets)
    _with_poles(sets)
    _with_pairs(sets)
    sets.set_defaults(run=commands.sets)
    orient = added.add_parser("orient", help="write every fracture with its true orientation")
    _with_site(orient)
    orient.add_argument("--output", metavar="FILE.csv", required=True, help="file to write")
    orient.add_argument(
        "--ledger",
        metavar="FILE.csv",
        help="file for what was read of each fracture and what each correction did to it",
    )
    orient.set_defaults(run=commands.orient)
    _add_comparisons(added)
    return parser


def _add_tables(added: argparse._SubParsersAction[_Parser]) -> None:
    check = added.add_parser("check", help="list every fault in the tables of a site")
    _with_site(check)
    check.add_argument(
        "--suggest",
        metavar="FILE.csv",
        help="draft a mapping of other people's files, headings and words there, to be confirmed",
    )
    check.set_defaults(run=commands.check)
    new = added.add_parser("new", help="write an empty site to fill in, with worked rows")
    new.add_argument("site", metavar="SITE", help="directory, or workbook (.xlsx), to be made")
    new.add_argument("--units", choices=("m", "ft"), default="m", help="unit of depths")
    new.set_defaults(run=commands.new)
    columns = added.add_parser("columns", help="print the tables and columns of a site")
    columns.add_argument("table", metavar="TABLE", nargs="?", help="one table, or site")
    columns.set_defaults(run=commands.columns)


def _add_reports(added: argparse._SubParsersAction[_Parser]) -> None:
    report = added.add_parser("report", help="write the report: a page, and tables beside it")
    _with_site(report)
    report.add_argument("--output", metavar="DIR", required=True, help="directory to write into")
    report.add_argument(
        "--since", metavar="OLD", help="an earlier report: say in the record what changed since"
    )
    _with_fit(report)
    _with_domains(report)
    _with_recipe(report)
    _with_poles(report)
    _with_pairs(report)
    report.set_defaults(run=commands.report)
    log = added.add_parser("log", help="write the log sheets of a hole, at a true scale")
    _with_site(log)
    log.add_argument("--hole", metavar="H", required=True, help="name of the hole")
    log.add_argument("--output", metavar="DIR", required=True, help="directory to write into")
    _with_fit(log)
    _with_pairs(log)
    _with_domains(log)
    _with_recipe(log)
    log.set_defaults(run=commands.log)


def _add_comparisons(added: argparse._SubParsersAction[_Parser]) -> None:
    compare = added.add_parser(
        "compare", help="compare the holes of a site, or analyse many sites side by side"
    )
    compare.add_argument(
        "site",
        metavar="SITE",
        nargs="+",
        help="directory, workbook (.xlsx) or AGS4 file with the tables of a site; of several, each "
        "is analysed by itself",
    )
    compare.add_argument("--output", metavar="DIR", help="directory to write page and tables into")
    compare.add_argument(
        "--cut",
        metavar="HOLE=DEPTH",
        action="append",
        default=[],
        type=_cut,
        help="cut a hole at a depth in metres, and compare the lengths (one site; repeatable)",
    )
    compare.add_argument(
        "--jobs", metavar="N", type=int, help="sites at a time, -1 for all cores (several sites)"
    )
    compare.add_argument(
        "--resume", metavar="FILE", help="keep results there, and go on from them (several sites)"
    )
    _with_limit(compare)
    _with_fit(compare)
    _with_recipe(compare)
    compare.set_defaults(run=commands.compare)
    match = added.add_parser("match", help="pair the core of each hole with its image")
    _with_site(match)
    match.add_argument("--hole", metavar="H", help="name of the hole; without it, every hole")
    match.add_argument("--pairs", metavar="FILE", help="pairs.csv of an earlier match, as edited")
    match.add_argument("--output", metavar="DIR", help="directory to write pages and tables into")
    match.add_argument(
        "--run-column", metavar="NAME", default="run", help="column that names the run of core"
    )
    match.set_defaults(run=commands.match)


def _cut(text: str) -> tuple[str, float]:
    hole, _, depth = text.rpartition("=")
    try:
        return hole, float(depth)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a hole and a depth, as in B1=35.5"
        ) from None


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line on arguments (None: those of the process) and give the exit status.

    0 done; 2 the input or the arguments are wrong (one line a fault on standard error); 3 of several
    sites some failed, and the rest is written; 130 stopped by the user.

    >>> main(["check", "no such site"])
    2
    """
    open_streams()
    try:
        with stoppable():
            return _run(_parser().parse_args(argv))
    except KeyboardInterrupt:
        print("stopped", file=sys.stderr)
        return _STOPPED


def _run(arguments: argparse.Namespace) -> int:
    try:
        said = arguments.run(arguments)
        say(said.text)
    except SiteError as error:
        print(*error.faults, sep="\n", file=sys.stderr)
        if arguments.command == "check" and error.unread:
            say("\n".join(f"unread: {one}" for one in error.unread))
        return _WRONG_INPUT
    except InputError as error:
        print(error, file=sys.stderr)
        return _WRONG_INPUT
    except OSError as error:
        print(f"{error.filename or arguments.site}: {error.strerror or error}", file=sys.stderr)
        return _WRONG_INPUT
    return said.status


if __name__ == "__main__":
    sys.exit(main())
