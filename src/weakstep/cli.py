"""The command line: parse, call, print, exit code; no arithmetic."""

from __future__ import annotations

import argparse
import shlex
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from weakstep import __version__
from weakstep.errors import OutputError, WeakstepError

if TYPE_CHECKING:
    from weakstep.reviewing import Review
    from weakstep.runlog.model import RunLog

UNLOGGED = (
    "Were failed chips always logged? What was thrown away without a row is in no figure, "
    "and can turn every finding."
)
CLEAN, PROBLEMS, UNUSABLE = 0, 1, 2

SUMMARY = "Reads a semester of bench run logs and says which step to tighten first."


def main(arguments: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code: 0 fine, 1 problems found, 2 unusable input."""
    options = _parser().parse_args(arguments)
    try:
        code: int = options.run(options)
    except WeakstepError as reason:
        print(f"weakstep: {reason}", file=sys.stderr)
        return UNUSABLE
    except OSError as reason:
        where = f" {reason.filename}" if reason.filename else ""
        print(f"weakstep: cannot use{where}: {reason.strerror}.", file=sys.stderr)
        return UNUSABLE
    except KeyboardInterrupt:
        print("weakstep: stopped on your request; nothing was half written.", file=sys.stderr)
        return 130
    return code


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(prog="weakstep", description=SUMMARY)
    parser.add_argument("--version", action="version", version=f"weakstep {__version__}")
    commands = parser.add_subparsers(title="commands", metavar="COMMAND", required=True)

    demo = _command(
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

    check = _command(
        commands,
        "check",
        "read the log and list every problem with file, line, column and what to do",
        "weakstep check logs/*.csv",
        "Exit code: 0 no problem, 1 problems, 2 the log cannot be used.",
    )
    _add_log(check)
    check.add_argument(
        "--format",
        choices=["text", "csv", "json"],
        default="text",
        help="text to read, or every problem for a program (default: %(default)s)",
    )
    check.add_argument(
        "--save-mapping", metavar="FILE", help="write which header was taken for which column"
    )
    check.add_argument(
        "--write-clean",
        metavar="FILE",
        help="write a corrected copy as CSV; the log itself is never touched",
    )
    check.set_defaults(run=_check)

    review = _command(
        commands,
        "review",
        "the whole job: report.html, findings.json, tables as CSV, rows set aside",
        "weakstep review logs/ -o spring-report",
    )
    _add_log(review)
    review.add_argument(
        "-o", "--out", metavar="DIR", required=True, help="folder for the report; made if missing"
    )
    review.add_argument(
        "--seed", type=int, default=0, help="seed of the permutations (default: %(default)s)"
    )
    review.add_argument(
        "--permutations",
        type=_at_least_99,
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
    review.set_defaults(run=_review)

    sheet = _command(
        commands, "sheet", "write an empty log for the process", "weakstep sheet -o log.csv"
    )
    _add_process(sheet)
    sheet.add_argument(
        "-o", "--out", metavar="FILE", default="log.csv", help="default: %(default)s"
    )
    sheet.set_defaults(run=_sheet)
    return parser


def _command(
    commands: argparse._SubParsersAction[argparse.ArgumentParser],
    name: str,
    what: str,
    example: str,
    more: str = "",
) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=what,
        description=f"{what[0].upper()}{what[1:]}. {more}".strip(),
        epilog=f"Example: {example}",
    )


def _add_log(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "log", metavar="LOG", nargs="+", help="a file, a folder or a pattern such as 'logs/*.csv'"
    )
    _add_process(command)
    command.add_argument(
        "--mapping",
        metavar="FILE",
        help="which header is which column, from 'check --save-mapping'",
    )


def _add_process(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "-p",
        "--process",
        metavar="FILE",
        help="description of the process (default: casting PDMS chips and bonding them to glass)",
    )


def _at_least_99(text: str) -> int:
    if not text.isdecimal() or int(text) < 99:
        message = f"found {text!r}, expected a whole number of at least 99"
        raise argparse.ArgumentTypeError(message)
    return int(text)


def _demo(options: argparse.Namespace) -> int:
    from weakstep.demo import copy_demo_logs

    folder = Path(options.folder)
    logs = copy_demo_logs(folder)
    _make_report(_parser().parse_args(["review", f"--out={folder / 'report'}", "--", str(logs)]))
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

    folder = Path(options.out)
    check_folder(folder)
    check_kind(options.figures)
    console = Console(stderr=True)
    with console.status("reading the log") as status:

        def tell(phrase: str) -> None:
            console.print(f"  {phrase}", style="dim", highlight=False)
            status.update(phrase)

        tell("reading the log")
        log = _read(options.log, options.process, options.mapping)
        result = review(
            log,
            seed=options.seed,
            permutations=options.permutations,
            made_at=datetime.now(UTC).isoformat(timespec="seconds"),
            command=shlex.join(_words(options)),
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


def _check(options: argparse.Namespace) -> int:
    from weakstep.runlog.clean import write_clean
    from weakstep.runlog.listing import check_json, columns_text, problems_csv, problems_text
    from weakstep.runlog.mapping import write_mapping

    log = _read(options.log, options.process, options.mapping)
    if options.save_mapping:
        write_mapping(log, options.save_mapping)
    if options.write_clean:
        _check_is_no_log(options.write_clean, options.log)
        write_clean(log, options.write_clean)
    asked = [problem for problem in log.problems if problem.severity != "note"]
    if options.format == "text":
        print(columns_text(log), problems_text(log), sep="\n\n")
        print(_counts(log.rows_read, len(log.set_aside), len(asked), len(log.care)))
        print(UNLOGGED)
    else:
        print(check_json(log) if options.format == "json" else problems_csv(log), end="")
    return PROBLEMS if asked else CLEAN


def _read(logs: list[str], process_file: str | None, mapping_file: str | None) -> RunLog:
    from weakstep.process.load import load_process
    from weakstep.runlog.mapping import load_mapping
    from weakstep.runlog.read import read_log

    process = load_process(process_file)
    mapping = load_mapping(mapping_file, process) if mapping_file else None
    return read_log(logs, process, mapping=mapping)


def _check_is_no_log(path: str, logs: list[str]) -> None:
    from weakstep.runlog.files import find_files

    if Path(path).resolve() in {file.resolve() for file in find_files(logs)}:
        message = f"{path}: is a file of the log, which is never touched. Name another file."
        raise OutputError(message)


def _counts(rows: int, set_aside: int, problems: int, care: int) -> str:
    return (
        f"\n{rows} rows read, {set_aside} set aside; {problems} "
        f"{'problem' if problems == 1 else 'problems'}; {care} "
        f"{'cell' if care == 1 else 'cells'} read with care."
    )


def _sheet(options: argparse.Namespace) -> int:
    from weakstep.process.load import load_process
    from weakstep.runlog.template import write_sheet

    path = Path(options.out)
    write_sheet(load_process(options.process), path)
    print(f"An empty log is in {path}; fill one row per item.")
    return CLEAN


if __name__ == "__main__":
    sys.exit(main())
