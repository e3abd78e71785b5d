"""The command line: parses, calls, prints."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple, NoReturn

from jointstats import __version__
from jointstats.console import open_streams, say, stoppable
from jointstats.errors import InputError, SiteError

if TYPE_CHECKING:
    import pandas as pd

    from jointstats.borehole.site import Site
    from jointstats.sets.result import SiteAnalysis

__all__ = ["main"]

_DONE, _WRONG_INPUT, _SOME_FAILED, _STOPPED = 0, 2, 3, 130


class _Said(NamedTuple):
    """What a command has to say when all is written, and how it ended."""

    text: str
    status: int = _DONE


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
        help="directory, workbook (.xlsx) or AGS4 file that holds the tables of the site",
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
        default="auto",
        help="number of sets, or auto (the default) to choose it by the data",
    )
    parser.add_argument(
        "--domains",
        choices=("auto", "none"),
        default="auto",
        help="whether to ask if the holes see one rock (default auto)",
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
        default=0.95,
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
        "--random-state", metavar="K", type=int, default=0, help="makes the search repeatable"
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
    commands = parser.add_subparsers(title="commands", dest="command", required=True)
    _add_reports(commands)
    check = commands.add_parser("check", help="list every fault in the tables of a site")
    _with_site(check)
    check.set_defaults(run=_check)
    new = commands.add_parser("new", help="write an empty site to fill in, with worked rows")
    new.add_argument("site", metavar="SITE", help="directory, or workbook (.xlsx), to be made")
    new.add_argument("--units", choices=("m", "ft"), default="m", help="unit of depths")
    new.set_defaults(run=_new)
    columns = commands.add_parser("columns", help="print the tables and columns of a site")
    columns.add_argument("table", metavar="TABLE", nargs="?", help="one table, or site")
    columns.set_defaults(run=_columns)
    sets = commands.add_parser("sets", help="print the table of sets")
    _with_site(sets)
    form = sets.add_mutually_exclusive_group()
    form.add_argument("--json", action="store_true", help="print JSON")
    form.add_argument("--csv", action="store_true", help="print comma-separated values")
    _with_fit(sets)
    sets.set_defaults(run=_sets)
    orient = commands.add_parser("orient", help="write every fracture with its true orientation")
    _with_site(orient)
    orient.add_argument("--output", metavar="FILE.csv", required=True, help="file to write")
    orient.add_argument(
        "--ledger",
        metavar="FILE.csv",
        help="file for what was read of each fracture and what each correction did to it",
    )
    orient.set_defaults(run=_orient)
    _add_comparisons(commands)
    return parser


def _add_reports(commands: argparse._SubParsersAction[_Parser]) -> None:
    report = commands.add_parser("report", help="write the report: a page, and tables beside it")
    _with_site(report)
    report.add_argument("--output", metavar="DIR", required=True, help="directory to write into")
    report.add_argument(
        "--since", metavar="OLD", help="an earlier report: say in the record what changed since"
    )
    _with_fit(report)
    report.set_defaults(run=_report)
    log = commands.add_parser("log", help="write the log sheets of a hole, at a true scale")
    _with_site(log)
    log.add_argument("--hole", metavar="H", required=True, help="name of the hole")
    log.add_argument("--output", metavar="DIR", required=True, help="directory to write into")
    _with_fit(log)
    log.set_defaults(run=_log)


def _add_comparisons(commands: argparse._SubParsersAction[_Parser]) -> None:
    compare = commands.add_parser(
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
    _with_fit(compare)
    compare.set_defaults(run=_compare)
    match = commands.add_parser("match", help="pair the core of each hole with its image")
    _with_site(match)
    match.add_argument("--hole", metavar="H", help="name of the hole; without it, every hole")
    match.add_argument("--pairs", metavar="FILE", help="pairs.csv of an earlier match, as edited")
    match.add_argument("--output", metavar="DIR", help="directory to write pages and tables into")
    match.add_argument(
        "--run-column", metavar="NAME", default="run", help="column that names the run of core"
    )
    match.set_defaults(run=_match)


def _cut(text: str) -> tuple[str, float]:
    hole, _, depth = text.rpartition("=")
    try:
        return hole, float(depth)
    except ValueError:
        raise argparse.ArgumentTypeError(
            f"{text!r} is not a hole and a depth, as in B1=35.5"
        ) from None


def _read(arguments: argparse.Namespace) -> Site:
    from jointstats.tables.read import read_site

    return read_site(arguments.site, max_mb=arguments.max_mb)


def _analysed(site: Site, arguments: argparse.Namespace) -> SiteAnalysis:
    from jointstats.sets.analysis import analyse

    return analyse(
        site,
        arguments.sets,
        blind_angle_deg=arguments.blind_angle,
        confidence=arguments.confidence,
        include=arguments.include,
        domains=arguments.domains,
        random_state=arguments.random_state,
    )


def _check_output(arguments: argparse.Namespace) -> None:
    """Refuse, before anything is done, an output that can't be or is the input."""
    from jointstats.tables.output import output_folder

    sites = arguments.site if isinstance(arguments.site, list) else [arguments.site]
    if arguments.output is not None:
        output_folder(arguments.output, (), sites)


def _report(arguments: argparse.Namespace) -> _Said:
    from tqdm import tqdm

    _check_output(arguments)

    # On a terminal only, and only where the whole takes more than two seconds.
    with tqdm(total=3, delay=2, disable=None, leave=False, bar_format="{desc} {bar} {n}/3") as bar:
        bar.set_description("reading the tables")
        site = _read(arguments)
        bar.update()
        bar.set_description("fitting the sets")
        result = _analysed(site, arguments)
        bar.update()
        bar.set_description("drawing the report")
        from jointstats.report.page import write_report

        page = write_report(result, arguments.output, since=arguments.since)
        bar.update()
    return _Said(f"{len(result.sets)} sets from {result.counts.total} fractures; report in {page}")


def _log(arguments: argparse.Namespace) -> _Said:
    _check_output(arguments)
    site = _read(arguments)
    site.hole(arguments.hole)
    from jointstats.report.log_sheet import write_log

    page = write_log(_analysed(site, arguments), arguments.hole, arguments.output)
    return _Said(f"log of {arguments.hole} in {page}")


def _check(arguments: argparse.Namespace) -> _Said:
    site = _read(arguments)
    holes, fractures = len(site.holes), len(site.fractures)
    notes = [f"note: {note}" for note in site.notes]
    unread = [f"unread: {one}" for one in site.unread]
    return _Said("\n".join([f"no faults: {holes} holes, {fractures} fractures", *notes, *unread]))


def _new(arguments: argparse.Namespace) -> _Said:
    from jointstats.tables.template import write_template

    path = write_template(arguments.site, arguments.units)
    return _Said(f"tables to fill in: {path}; delete the worked rows, and what you do not need")


def _columns(arguments: argparse.Namespace) -> _Said:
    from jointstats.tables.template import columns_text

    return _Said(columns_text(arguments.table))


def _sets(arguments: argparse.Namespace) -> _Said:
    result = _analysed(_read(arguments), arguments)
    if arguments.json:
        from jointstats.sets.record import sets_json

        return _Said(sets_json(result).rstrip("\n"))
    if arguments.csv:
        from jointstats.sets.record import sets_csv

        return _Said(sets_csv(result).rstrip("\n"))
    from jointstats.report.terminal import sets_text

    return _Said(sets_text(result, bold=sys.stdout.isatty()))


def _csv(table: pd.DataFrame) -> str:
    from jointstats.tables.csv_text import csv_of

    return csv_of(table).rstrip("\n")


def _orient(arguments: argparse.Namespace) -> _Said:
    from jointstats.borehole.fractures import Fractures
    from jointstats.borehole.ledger import applied, ledger_of
    from jointstats.borehole.orient import orient_fractures
    from jointstats.tables.csv_text import csv_of
    from jointstats.tables.output import output_file, write_file

    path = output_file(arguments.output, [arguments.site])
    place = None
    if arguments.ledger is not None:
        place = output_file(arguments.ledger, [arguments.site])
        if place.absolute() == path.absolute():
            raise InputError(f"--ledger and --output are both {path}; give two files")
    site = _read(arguments)
    table = orient_fractures(site)
    write_file(path, csv_of(table))
    said = f"{len(Fractures(table).oriented)} of {len(table)} fractures oriented; written to {path}"
    if place is not None:
        write_file(place, csv_of(ledger_of(site)))
        said += "".join(f"\n{one}" for one in [*applied(site), f"ledger in {place}"])
    return _Said(said)


def _compare(arguments: argparse.Namespace) -> _Said:
    _check_output(arguments)
    if len(arguments.site) > 1:
        return _compare_many(arguments)
    from jointstats.compare.holes import compare_holes
    from jointstats.tables.read import read_site

    cuts: dict[str, list[float]] = {}
    for hole, depth in arguments.cut:
        cuts.setdefault(hole, []).append(depth)
    found = compare_holes(
        read_site(arguments.site[0]),
        arguments.sets,
        cuts_m=cuts,
        blind_angle_deg=arguments.blind_angle,
        confidence=arguments.confidence,
        include=arguments.include,
        random_state=arguments.random_state,
    )
    columns = ["set", "part", "pvalue", "pvalue_holm", "holes"]
    parts = found.parts[columns].round(3).to_string(index=False)
    from jointstats.report.comparison import cautions_of_comparison, domains_sentences
    from jointstats.report.terminal import cautions_text

    said = [" ".join(domains_sentences(found)), parts, found.matrix().round(3).to_string()]
    said.append("\n".join(cautions_text(cautions_of_comparison(found))))
    if arguments.output is not None:
        from jointstats.report.comparison import write_comparison

        said.append(f"comparison in {write_comparison(found, arguments.output)}")
    return _Said("\n\n".join(said))


def _compare_many(arguments: argparse.Namespace) -> _Said:
    from jointstats.compare.many import analyse_many

    if arguments.cut:
        raise InputError("--cut is for one site; leave it out, or give the site alone")
    found = analyse_many(
        arguments.site,
        arguments.sets,
        n_jobs=arguments.jobs,
        resume=arguments.resume,
        blind_angle_deg=arguments.blind_angle,
        confidence=arguments.confidence,
        include=arguments.include,
        random_state=arguments.random_state,
    )
    failed = found.failed.to_dict("records")
    for row in failed:
        for line in row["message"].splitlines():
            print(f"{row['item']}: {line}", file=sys.stderr)
    if len(failed) == len(found.items):
        raise InputError("none of the sites could be analysed")
    from jointstats.report.comparison import noticed_csv

    sets = noticed_csv(found.to_frame())
    if arguments.output is not None:
        from jointstats.tables.output import output_folder, write_folder

        texts = {"sets.csv": sets, "items.csv": _csv(found.items) + "\n"}
        write_folder(output_folder(arguments.output, texts, arguments.site), texts)
    return _Said(sets.rstrip("\n"), _SOME_FAILED if failed else _DONE)


def _match(arguments: argparse.Namespace) -> _Said:
    from jointstats.pairs.site_match import match_site, read_pairs
    from jointstats.report.terminal import cautions_text, match_text

    _check_output(arguments)
    site = _read(arguments)
    if arguments.hole is not None:
        site = replace(site, holes=(site.hole(arguments.hole),))
    pairs = None if arguments.pairs is None else read_pairs(arguments.pairs)
    found = match_site(site, pairs=pairs, run_column=arguments.run_column)
    told = "\n".join(cautions_text(("the match", note) for note in found.notes))
    said = [*(match_text(one) for one in found.matches), told]
    if arguments.output is not None:
        from jointstats.report.match import write_site_match

        said.append(f"match in {write_site_match(found, arguments.output)}")
    return _Said("\n\n".join(said))


def main(argv: Sequence[str] | None = None) -> int:
    """Run the command line.

    Parameters
    ----------
    argv : sequence of str or None
        Arguments; None takes those of the process.

    Returns
    -------
    int
        0 done; 2 the input or the arguments are wrong (one line a fault on standard error); 3 of
        several sites some failed, and the rest is written; 130 stopped by the user.

    Examples
    --------
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
