"""What each command does with its arguments: reads, calls, and says how it ended."""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, NamedTuple

from jointstats.errors import InputError

if TYPE_CHECKING:
    from argparse import Namespace

    import pandas as pd

    from jointstats.borehole.site import Site
    from jointstats.poles.result import PolesAnalysis
    from jointstats.recipe.recipe import Recipe
    from jointstats.sets.result import SiteAnalysis

#: How a command ends that did all it was asked, and one that could do it for some sites only.
DONE, SOME_FAILED = 0, 3


class Said(NamedTuple):
    """What a command has to say when all is written, and how it ended."""

    text: str
    status: int = DONE


def _read(arguments: Namespace) -> Site:
    from jointstats.tables.read import read_site

    site = read_site(arguments.site, mapping=arguments.mapping, max_mb=arguments.max_mb)
    return replace(site, sources=(*site.sources, *_given_files(arguments)))


def _given_files(arguments: Namespace) -> list[Path]:
    """The files that were given beside the site, to be kept as they are."""
    given = (getattr(arguments, name, None) for name in ("mapping", "pairs", "analysis", "resume"))
    return [Path(one) for one in given if one is not None]


def _inputs(arguments: Namespace) -> list[str | Path]:
    sites = arguments.site if isinstance(arguments.site, list) else [arguments.site]
    return [*sites, *_given_files(arguments)]


def _paired(arguments: Namespace) -> Site:
    """The site, its core oriented by the edited pairs where these are given."""
    site = _read(arguments)
    if arguments.pairs is None:
        return site
    from jointstats.pairs.site_match import match_site, read_pairs

    return match_site(site, pairs=read_pairs(arguments.pairs)).oriented_site()


#: Options of a fit, with the names of the arguments that they are.
_OPTIONS = {
    "sets": "n_sets",
    "blind_angle": "blind_angle_deg",
    "confidence": "confidence",
    "include": "include",
    "domains": "domains",
    "random_state": "random_state",
}


def _options(arguments: Namespace, *but: str) -> dict[str, Any]:
    """The options that were given, but for some."""
    given = {name: getattr(arguments, key, None) for key, name in _OPTIONS.items() if key not in but}
    return {name: value for name, value in given.items() if value is not None}


def _analysed(site: Site, arguments: Namespace) -> SiteAnalysis:
    from jointstats.sets.analysis import analyse

    return analyse(site, _recipe(arguments, arguments.site))


def _recipe(arguments: Namespace, *sites: str) -> Recipe:
    """Options go before the decisions in a file, and those before the defaults."""
    from jointstats.recipe.recipe import Recipe, read_recipe
    from jointstats.schema import DECISIONS
    from jointstats.tables.found import file_in

    own = {site: file_in(Path(site), DECISIONS) for site in sites if Path(site).is_dir()}
    file = arguments.analysis
    if len(sites) == 1:
        file = file or own.get(sites[0])
    for site in (one for one, beside in own.items() if beside is not None and file is None):
        print(
            f"{site}: {DECISIONS} is not heeded where several sites are compared; give --analysis",
            file=sys.stderr,
        )
    recipe = Recipe() if file is None else read_recipe(file)
    return replace(recipe, **_options(arguments))


def _check_output(arguments: Namespace) -> None:
    """Refuse, before anything is done, an output that can't be or is the input."""
    from jointstats.tables.output import output_folder

    if arguments.output is not None:
        output_folder(arguments.output, (), _inputs(arguments))


def _poles(arguments: Namespace) -> PolesAnalysis | None:
    """What a table of poles holds; None where SITE is no CSV file."""
    from jointstats.poles.table import SUFFIXES

    path = Path(arguments.site)
    if not (path.is_file() and path.suffix.lower() in SUFFIXES):
        if arguments.weights is not None:
            raise InputError("--weights is for a table of poles; leave it out for a site")
        return None
    from jointstats.poles.analysis import analyse_poles
    from jointstats.poles.table import read_poles

    if arguments.blind_angle is not None:
        raise InputError(f"{path.name} is a table of poles, and has no holes: leave out --blind-angle")
    for name in ("include", "domains", "analysis", "pairs", "mapping"):
        if getattr(arguments, name, None) is not None:
            raise InputError(f"--{name} is for a site, and {path.name} is a table of poles: leave it out")
    return analyse_poles(
        read_poles(path, hand=arguments.hand, max_mb=arguments.max_mb),
        arguments.weights,
        **_options(arguments, "blind_angle", "include", "domains"),
    )


def _poles_text(poles: PolesAnalysis, arguments: Namespace) -> str:
    from jointstats.poles.record import poles_json
    from jointstats.report.terminal import poles_text
    from jointstats.sets.record import sets_csv

    if arguments.json or arguments.csv:
        return (poles_json(poles) if arguments.json else sets_csv(poles)).rstrip("\n")
    return poles_text(poles, bold=sys.stdout.isatty())


def report(arguments: Namespace) -> Said:
    from tqdm import tqdm

    from jointstats.words import counted

    _check_output(arguments)
    poles = _poles(arguments)
    if poles is not None:
        from jointstats.report.page import write_report

        page = write_report(poles, arguments.output, since=arguments.since)
        found = counted(len(poles.sets), "set")
        return Said(f"{found} from {poles.counts.total} poles; report in {page}")

    # On a terminal only, and only where the whole takes more than two seconds.
    with tqdm(total=3, delay=2, disable=None, leave=False, bar_format="{desc} {bar} {n}/3") as bar:
        bar.set_description("reading the tables")
        site = _paired(arguments)
        bar.update()
        bar.set_description("fitting the sets")
        result = _analysed(site, arguments)
        bar.update()
        bar.set_description("drawing the report")
        from jointstats.report.page import write_report

        page = write_report(result, arguments.output, since=arguments.since)
        bar.update()
    found = counted(len(result.sets), "set")
    return Said(f"{found} from {result.counts.total} fractures; report in {page}")


def log(arguments: Namespace) -> Said:
    _check_output(arguments)
    site = _paired(arguments)
    site.hole(arguments.hole)
    from jointstats.report.log_sheet import write_log

    page = write_log(_analysed(site, arguments), arguments.hole, arguments.output)
    return Said(f"log of {arguments.hole} in {page}")


def check(arguments: Namespace) -> Said:
    if arguments.suggest is not None:
        from jointstats.tables.suggest import write_suggestion

        if arguments.mapping is not None:
            raise InputError("--suggest drafts a new mapping: leave out --mapping")
        return Said(write_suggestion(arguments.site, arguments.suggest, arguments.max_mb))
    site = _read(arguments)
    holes, fractures = len(site.holes), len(site.fractures)
    notes = [f"note: {note}" for note in site.notes]
    unread = [f"unread: {one}" for one in site.unread]
    return Said("\n".join([f"no faults: {holes} holes, {fractures} fractures", *notes, *unread]))


def new(arguments: Namespace) -> Said:
    from jointstats.tables.template import write_template

    path = write_template(arguments.site, arguments.units)
    return Said(f"tables to fill in: {path}; delete the worked rows, and what you do not need")


def columns(arguments: Namespace) -> Said:
    from jointstats.tables.template import columns_text

    return Said(columns_text(arguments.table))


def sets(arguments: Namespace) -> Said:
    poles = _poles(arguments)
    if poles is not None:
        return Said(_poles_text(poles, arguments))
    result = _analysed(_paired(arguments), arguments)
    if arguments.json:
        from jointstats.sets.record import sets_json

        return Said(sets_json(result).rstrip("\n"))
    if arguments.csv:
        from jointstats.sets.record import sets_csv

        return Said(sets_csv(result).rstrip("\n"))
    from jointstats.report.terminal import sets_text

    return Said(sets_text(result, bold=sys.stdout.isatty()))


def _csv(table: pd.DataFrame) -> str:
    from jointstats.tables.csv_text import csv_of

    return csv_of(table).rstrip("\n")


def orient(arguments: Namespace) -> Said:
    from jointstats.borehole.fractures import Fractures
    from jointstats.borehole.ledger import applied, corrections_of, ledger_of
    from jointstats.borehole.orient import orient_fractures
    from jointstats.tables.csv_text import csv_of
    from jointstats.tables.output import output_file, write_file
    from jointstats.tables.units import with_feet

    path = output_file(arguments.output, _inputs(arguments))
    place = None
    if arguments.ledger is not None:
        place = output_file(arguments.ledger, _inputs(arguments))
        if place.absolute() == path.absolute():
            raise InputError(f"--ledger and --output are both {path}; give two files")
    site = _read(arguments)
    table = orient_fractures(site)
    write_file(path, csv_of(with_feet(table, site.settings.depth_unit)))
    said = f"{len(Fractures(table).oriented)} of {len(table)} fractures oriented; written to {path}"
    if place is not None:
        write_file(place, csv_of(with_feet(ledger_of(site), site.settings.depth_unit)))
        said += "".join(f"\n{one}" for one in [*applied(corrections_of(site)), f"ledger in {place}"])
    return Said(said)


def compare(arguments: Namespace) -> Said:
    _check_output(arguments)
    if len(arguments.site) > 1:
        return _compare_many(arguments)
    from jointstats.compare.holes import compare_holes
    from jointstats.tables.read import read_site

    cuts: dict[str, list[float]] = {}
    for hole, depth in arguments.cut:
        cuts.setdefault(hole, []).append(depth)
    found = compare_holes(
        read_site(arguments.site[0], mapping=arguments.mapping, max_mb=arguments.max_mb),
        _recipe(arguments, *arguments.site),
        cuts_m=cuts,
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
    return Said("\n\n".join(said))


def _compare_many(arguments: Namespace) -> Said:
    from jointstats.compare.many import analyse_many

    for name in ("cut", "mapping"):
        if getattr(arguments, name):
            raise InputError(f"--{name} is for one site; leave it out, or give the site alone")
    found = analyse_many(
        arguments.site,
        _recipe(arguments, *arguments.site),
        n_jobs=arguments.jobs,
        resume=arguments.resume,
        max_mb=arguments.max_mb,
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

        texts = {"sets_of_sites.csv": sets, "sites.csv": _csv(found.items) + "\n"}
        write_folder(output_folder(arguments.output, texts, _inputs(arguments)), texts)
    return Said(sets.rstrip("\n"), SOME_FAILED if failed else DONE)


def match(arguments: Namespace) -> Said:
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
    return Said("\n\n".join(said))
