"""The command line: prints answers and errors, sets exit codes. Nothing is computed here.

Exit codes: 0 done · 1 a fault in stickfleet itself · 2 the command was mistyped · 3 an input cannot be used ·
4 the warehouse cannot be used · 5 a setting, mapping or filter is wrong · 6 a pack came out otherwise.
"""

from __future__ import annotations

import argparse
import json
import os
import socket
import subprocess
import sys
from collections.abc import Sequence
from contextlib import suppress
from importlib.resources import files
from pathlib import Path

from pipelines import settings as settings_file
from pipelines import warehouse
from pipelines.errors import FleetError, InputError, SettingError
from pipelines.settings import Settings
from pipelines.vocabulary import Clock, Question

SETTINGS_FILE = "settings.toml"
#: The exit code where a pack came out otherwise.
OTHERWISE = 6


def main(words: Sequence[str] | None = None) -> int:
    """Run one command and return its exit code."""
    parser = _parser()
    asked = parser.parse_args(words)
    try:
        return asked.run(asked) or 0
    except FleetError as error:
        print(f"stickfleet: {error.what}\n  {error.remedy}", file=sys.stderr)
        return error.exit_code
    except BrokenPipeError:  # the reader of our output, such as `head`, has had enough
        sys.stdout = None
    return 0


class _Command(argparse.ArgumentParser):
    """A command; `more` tells what its help ends with, and is asked only when help is."""

    more = staticmethod(lambda: "")

    def format_help(self) -> str:
        return "\n".join(filter(None, (super().format_help(), self.more())))


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="stickfleet",
        description="Turns exported job logs of stick repair into answers.",
        epilog="Exit codes: 0 done, 1 a fault in stickfleet, 2 mistyped command, 3 unusable input, 4 unusable warehouse, "
        "5 wrong setting, mapping or filter, 6 a pack that came out otherwise.",
    )
    commands = parser.add_subparsers(required=True, metavar="COMMAND", parser_class=_Command)
    load = _command(commands, "load", _load, "load exports (files or folders) into the warehouse")
    load.add_argument("paths", nargs="+", type=Path, metavar="PATH")
    load.add_argument("--mapping", type=Path, help="TOML file with your own words for columns and codes")
    load.add_argument("--strict", action="store_true", help="load nothing if any line would be set aside")
    check = _command(commands, "check", _check, "say what a load would do; change nothing")
    check.add_argument("paths", nargs="+", type=Path, metavar="PATH")
    check.add_argument("--mapping", type=Path, help="TOML file with your own words for columns and codes")
    _answer_command(commands)
    reproduce = commands.add_parser("reproduce", help="work an evidence pack out anew from the raw files, and compare")
    reproduce.set_defaults(run=_reproduce)
    reproduce.add_argument("pack", type=Path, metavar="FILE.zip", help="as `answer batch-exhibit --out` wrote it")
    reproduce.add_argument("paths", nargs="+", type=Path, metavar="PATH", help="the raw files, or the folders they are in")
    ledger = _command(commands, "ledger", _ledger, "print what each load took in and set aside")
    ledger.add_argument("--set-aside", action="store_true", help="list every line and cell set aside, with the reason")
    listed = _command(commands, "settings", _settings, "list every setting with its value, unit and help")
    listed.add_argument("--format", choices=("text", "json"), default="text")
    dashboard = _command(commands, "dashboard", _dashboard, "open the screens in the browser, on this machine only")
    dashboard.add_argument("--port", type=int, help="default: 8501, or the next free one")
    dashboard.add_argument("--no-browser", action="store_true", help="print the address, open nothing")
    return parser


def _answer_command(commands) -> None:
    answer = _command(commands, "answer", _answer, "answer one question from the loaded log")
    answer.more = _questions
    answer.add_argument("question", choices=[question.value for question in Question])
    answer.add_argument("--by", default="", metavar="A,B", help="split by these columns, such as family,usage_class")
    answer.add_argument("--clock", choices=[clock.value for clock in Clock], help="default: hours, unless refused")
    answer.add_argument("--where", nargs="+", action="extend", default=[], metavar="COLUMN=VALUE",
                        help="keep only these; the same column again adds a value; from_on=/to_on= dates")  # fmt: skip
    answer.add_argument("--case", nargs="+", action="extend", default=[], metavar="NAME=VALUE",
                        help="what a lot, a stick or a programme is, such as mix=Family:20 condition=untested")  # fmt: skip
    answer.add_argument("--level", type=float, help="of the intervals (default 0.95; 0.8 for a bid)")
    answer.add_argument("--brief", action="store_true", help="leave the heavier estimates out: quicker on a large log")
    answer.add_argument("--format", choices=("text", "json", "csv"), default="text")
    answer.add_argument("--sheet", type=Path, metavar="FILE",
                        help="lot-bid, monthly, cleaning-plan: also write a page to print (FILE.html) or a workbook "
                        "(FILE.xlsx); cleaning-plan also a calendar (FILE.ics; one that is there is updated)")  # fmt: skip
    answer.add_argument("--units", type=Path, metavar="FILE",
                        help="clean-or-replace: a file of sticks headed as the job log; gives it back with advice")  # fmt: skip
    answer.add_argument("--out", type=Path, metavar="FILE",
                        help="with --units: write to FILE.csv or FILE.xlsx, not the terminal; batch-containment: also write "
                        "the list of modules so; batch-exhibit: also write the evidence pack, FILE.zip")  # fmt: skip
    answer.add_argument("--mapping", type=Path, help="with --units: TOML file with your own words for columns and codes")


def _questions() -> str:
    from pipelines.answers.case import CASE
    from pipelines.wording.questions import questions_text

    return questions_text(CASE)


def _command(commands, name: str, run, help: str) -> argparse.ArgumentParser:
    command = commands.add_parser(name, help=help, description=help[0].upper() + help[1:] + ".")
    command.set_defaults(run=run)
    command.add_argument("--warehouse", type=Path, default=warehouse.default_path(), metavar="PATH",
                         help="the warehouse folder (default: STICKFLEET_WAREHOUSE, or your data folder)")  # fmt: skip
    command.add_argument("--settings", type=Path, dest="settings_file", metavar="FILE",
                         help=f"settings as TOML (default: {SETTINGS_FILE} in the warehouse folder, if there)")  # fmt: skip
    command.add_argument("--set", nargs="+", action="extend", default=[], metavar="NAME=VALUE",
                         help="change a setting; `stickfleet settings` lists them")  # fmt: skip
    return command


def _chosen(asked: argparse.Namespace) -> Settings:
    default = asked.warehouse / SETTINGS_FILE
    path = asked.settings_file or (default if default.is_file() else None)
    return settings_file.from_words(settings_file.from_file(path), asked.set)


def _load(asked: argparse.Namespace) -> None:
    from pipelines.load import load
    from pipelines.wording.intake import report_text

    report = load(
        asked.paths, warehouse=asked.warehouse, settings=_chosen(asked), mapping=asked.mapping,
        strict=asked.strict, progress=_progress,
    )  # fmt: skip
    print(report_text(report))


def _check(asked: argparse.Namespace) -> int:
    from pipelines.load import check
    from pipelines.wording.intake import report_text

    report = check(asked.paths, mapping=asked.mapping, warehouse=asked.warehouse)
    print(report_text(report))
    return InputError.exit_code if report.refused else 0


def _progress(what: str, share: float | None) -> None:
    """Show how far a long load is, on a terminal only."""
    if sys.stderr.isatty():
        done = "" if share is None else f" {share:.0%}"
        print(f"\r\033[K{what}{done}", end="" if share is None or share < 1 else "\n", file=sys.stderr, flush=True)


def _answer(asked: argparse.Namespace) -> None:
    has_own = asked.question in (Question.BATCH_CONTAINMENT, Question.BATCH_EXHIBIT)
    if asked.units is not None or asked.mapping is not None or (asked.out is not None and not has_own):
        return _advise_units(asked)
    from pipelines.answers import ask
    from pipelines.answers.printed import csv_of, text_of, write_list_of, write_sheet_of

    with warehouse.reading(asked.warehouse) as connection:
        answer = ask(
            asked.question, connection, by=[name for name in asked.by.split(",") if name.strip()], clock=asked.clock,
            where=_filters(asked.where), level=asked.level, settings=_chosen(asked), is_brief=asked.brief,
            case=_case(asked.case),
        )  # fmt: skip
    if asked.sheet is not None:
        write_sheet_of(answer, asked.sheet)
    if asked.out is not None and asked.question == Question.BATCH_EXHIBIT:
        from pipelines.pack.made import write_pack

        print(f"SHA-256 of {asked.out}: {write_pack(answer, asked.out)}", file=sys.stderr)
    elif asked.out is not None:
        write_list_of(answer, asked.out)
    if asked.format == "json":
        print(json.dumps(answer.to_dict(), ensure_ascii=False, allow_nan=False, indent=1))
    elif asked.format == "csv":
        print(csv_of(answer), end="")
    else:
        print(text_of(answer))


def _advise_units(asked: argparse.Namespace) -> None:
    if asked.question != Question.CLEAN_OR_REPLACE or asked.units is None or asked.case:
        raise SettingError("--units goes with clean-or-replace and without --case, --out and --mapping with --units.",
                           "Write stickfleet answer clean-or-replace --units FILE --out FILE.")  # fmt: skip
    from pipelines.answers.bench_file import advise_units, written
    from pipelines.wording.bench import batch_sentence
    from pipelines.wording.cautions import caution_words

    with warehouse.reading(asked.warehouse) as connection:
        advised = advise_units(connection, asked.units, _chosen(asked), mapping_file=asked.mapping, level=asked.level)
    said = batch_sentence(advised.counts, advised.others, advised.not_understood)
    if asked.out is None:
        print(advised.csv(), end="")
        print(f"{said}\n{caution_words()}", file=sys.stderr)
    else:
        written(advised, asked.out, besides=asked.units)
        print(f"{said} Written to {asked.out}.\n{caution_words()}")


def _reproduce(asked: argparse.Namespace) -> int:
    from pipelines.pack.reproduce import reproduce
    from pipelines.pack.text import reproduced_text

    made = reproduce(asked.pack, asked.paths, progress=_progress)
    print(reproduced_text(made))
    return OTHERWISE if made.compared.differences else 0


def _case(words: Sequence[str]) -> dict[str, str]:
    case: dict[str, str] = {}
    for word in words:
        name, equals, value = word.partition("=")
        name = name.strip()
        if not equals:
            raise SettingError(f"'{word}' says nothing of a case.", "Write --case name=value.")
        if name in case:
            raise SettingError(f"--case has {name} twice.", "Give it once.")
        case[name] = value.strip()
    return case


def _filters(words: Sequence[str]) -> dict[str, list[str]]:
    filters: dict[str, list[str]] = {}
    for word in words:
        name, equals, value = word.partition("=")
        if not equals:
            raise SettingError(f"'{word}' is not a filter.", "Write --where column=value.")
        filters.setdefault(name.strip(), []).append(value.strip())
    return filters


def _ledger(asked: argparse.Namespace) -> None:
    from pipelines.load import ledger, set_aside
    from pipelines.wording.intake import ledger_text, set_aside_text

    with warehouse.reading(asked.warehouse) as connection:
        print(set_aside_text(set_aside(connection)) if asked.set_aside else ledger_text(ledger(connection)))


def _settings(asked: argparse.Namespace) -> None:
    from pipelines.wording.settings import settings_text

    chosen = _chosen(asked)
    print(json.dumps(chosen.as_plain(), indent=1) if asked.format == "json" else settings_text(chosen))


def _dashboard(asked: argparse.Namespace) -> None:
    app = files("dashboard").joinpath("app.py")
    port = asked.port or _free_port()
    address = f"http://127.0.0.1:{port}"
    environment = {**os.environ, "STICKFLEET_WAREHOUSE": str(asked.warehouse.resolve())}
    print(f"stickfleet is at {address} (Ctrl-C ends it)", flush=True)
    words = [sys.executable, "-m", "streamlit", "run", str(app), "--server.port", str(port),
             "--server.headless", str(asked.no_browser).lower(), "--server.showEmailPrompt", "false"]  # fmt: skip
    if os.name != "nt":  # in our place, so that a signal reaches it
        os.execve(sys.executable, words, environment)
    with suppress(KeyboardInterrupt):
        subprocess.run(words, env=environment, check=False)


def _free_port(first: int = 8501, tries: int = 50) -> int:
    for port in range(first, first + tries):
        with socket.socket() as one:
            if one.connect_ex(("127.0.0.1", port)) != 0:
                return port
    raise SettingError(f"No port from {first} to {first + tries} is free.", "Name one with --port.")


if __name__ == "__main__":
    raise SystemExit(main())
