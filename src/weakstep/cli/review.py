"""`weakstep review` and `weakstep demo`: the whole job."""

from __future__ import annotations

import argparse
import shlex
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep.cli.numbers import number
from weakstep.cli.shared import CLEAN, Commands, add_log, command, read

if TYPE_CHECKING:
    from weakstep.reviewing import Review


def add_demo(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the demo."""
    demo = command(
        commands,
        "demo",
        "write the demo semester and make its report",
        "weakstep demo my-first-look",
    )
    demo.add_argument(
        "folder",
        metavar="DIR",
        nargs="?",
        default="weakstep-demo",
        help="where to write it (default: %(default)s)",
    )
    demo.set_defaults(run=_demo)


def add(commands: Commands[argparse.ArgumentParser]) -> None:
    """Add the command."""
    review = command(
        commands,
        "review",
        "the whole job: report.html, findings.json, tables as CSV, rows set aside",
        "weakstep review logs/ -o spring-report",
    )
    add_log(review)
    review.add_argument(
        "-o", "--out", metavar="DIR", required=True, help="folder for the report; made if missing"
    )
    review.add_argument(
        "--seed", type=int, default=0, help="seed of the permutations (default: %(default)s)"
    )
    review.add_argument(
        "--permutations",
        type=number(int, "a whole number of at least 99", lambda value: value >= 99),
        default=1999,
        metavar="N",
        help="permutations behind each p-value, at least 99 (default: %(default)s)",
    )
    review.add_argument("--title", metavar="TEXT", help="heading of the page")
    review.add_argument(
        "--static", action="store_true", help="a light page for e-mail: no zooming, shorter lists"
    )
    review.add_argument(
        "--figures", choices=["svg", "png"], help="write each figure as a file of its own, too"
    )
    review.add_argument(
        "--changes",
        metavar="FILE",
        help="what the lab changed, and when (default: changes.csv or changes.toml beside the log)",
    )
    review.set_defaults(run=_review)


def _demo(options: argparse.Namespace) -> int:
    from weakstep.cli import parser
    from weakstep.demo import copy_demo_logs

    folder = Path(options.folder)
    logs = copy_demo_logs(folder)
    _make_report(parser().parse_args(["review", f"--out={folder / 'report'}", "--", str(logs)]))
    return CLEAN


def _review(options: argparse.Namespace) -> int:
    _make_report(options)
    return CLEAN


def _words(options: argparse.Namespace) -> list[str]:
    """Return the command line that makes a report again, as a shell would split it."""
    words = ["weakstep", "review", *options.log, "-o", options.out, "--seed", str(options.seed)]
    if options.permutations != 1999:
        words += ["--permutations", str(options.permutations)]
    if options.process:
        words += ["-p", options.process]
    if options.mapping:
        words += ["--mapping", options.mapping]
    if options.title:
        words += ["--title", options.title]
    if options.changes:
        words += ["--changes", options.changes]
    if options.static:
        words.append("--static")
    if options.figures:
        words += ["--figures", options.figures]
    return words


def _make_report(options: argparse.Namespace) -> None:
    from datetime import UTC, datetime

    from rich.console import Console

    from weakstep.report.pictures import check_kind
    from weakstep.report.write import check_folder, write_report
    from weakstep.reviewing import review
    from weakstep.semesters.listing import changes_beside, read_changes

    folder = Path(options.out)
    check_folder(folder)
    check_kind(options.figures)
    console = Console(stderr=True)
    with console.status("reading the log") as status:

        def tell(phrase: str) -> None:
            console.print(f"  {phrase}", style="dim", highlight=False)
            status.update(phrase)

        tell("reading the log")
        log = read(options.log, options.process, options.mapping)
        listed = options.changes or changes_beside(options.log)
        result = review(
            log,
            seed=options.seed,
            permutations=options.permutations,
            made_at=datetime.now(UTC).isoformat(timespec="seconds"),
            command=shlex.join(_words(options)),
            changes=read_changes(listed, log.process) if listed else (),
            progress=tell,
        )
        tell("writing the page")
        page = write_report(
            result,
            folder,
            title=options.title,
            static=options.static,
            figures=options.figures,
        )
    _print_verdict(result, page)


def _print_verdict(result: Review, page: Path) -> None:
    log = result.log
    set_aside = len(log.set_aside)
    if set_aside or log.problems:
        told = sum(problem.severity != "note" for problem in log.problems)
        print(
            f"{log.rows_read} rows read, {set_aside} set aside, {told} "
            f"{'problem' if told == 1 else 'problems'} listed on the page."
        )
    print(result.failures.verdict.sentence)
    print(f"The page: {page.resolve()}")
