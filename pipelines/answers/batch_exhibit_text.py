"""The evidence on a batch as text for the terminal, and as tables."""

from __future__ import annotations

from textwrap import fill

import pandas as pd

from pipelines.answers.batch_exhibit_record import BatchExhibit, Refused
from pipelines.answers.batch_verdict_text import batches_table
from pipelines.answers.table import frame_csv
from pipelines.answers.text import WIDTH
from pipelines.wording import batch_exhibit as wording
from pipelines.wording.verdict import counted, level_words, log_words


def exhibit_text(answer: BatchExhibit) -> str:
    """Return what was found, and what a pack of it holds."""
    blocks = [f"{answer.question} · {log_words(answer.log_start, answer.log_end)} · {level_words(answer.level)} intervals"]
    blocks += [fill(f"Note: {warning}", WIDTH) for warning in answer.warnings]
    blocks.append(fill(answer.sentence, WIDTH))
    blocks += [f"{wording.TITLES[name]}:\n{fill(said, WIDTH)}" for name, said in found(answer).items()]
    rows = counted(len(answer.rows), "row")
    blocks.append(fill(f"It rests on {counted(len(answer.files), 'file')} as loaded; {rows} of them are about the batch.", WIDTH))
    blocks.append("--out FILE.zip writes the evidence pack:\n" + "\n".join(
        f"  {name:<17} {said}" for name, said in wording.MEMBERS.items()
    ))  # fmt: skip
    return "\n\n".join(blocks)


def found(answer: BatchExhibit) -> dict[str, str]:
    """Return name → what that answer says, in the order of `TITLES`; of the watch what it says of this batch."""
    said = {
        name: f"{one.what} {one.remedy}" if isinstance(one, Refused) else one.sentence for name, one in answer.answers.items()
    }
    verdict = answer.answers["verdict"]
    supplier = next(one.supplier for one in verdict.batches if one.batch == answer.case.batch)
    said["verdict"] = " ".join([verdict.sentence, *(one.sentence for one in verdict.suppliers.rows if one.supplier == supplier)])
    alarm = answer.answers["alarm"]
    if not isinstance(alarm, Refused):
        said["alarm"] = next((one.sentence for one in alarm.batches if one.batch == answer.case.batch), alarm.sentence)
    return {name: said[name] for name in wording.TITLES}


def compared_table(answer: BatchExhibit) -> pd.DataFrame:
    """Return failures observed and expected, one row a batch; no ratios that borrow from the supplier: they are for ranks."""
    table = batches_table(answer.answers["verdict"])
    return table.drop(columns=["shrunk_ratio", "shrunk_ratio_low", "shrunk_ratio_high"])


def exhibit_csv(answer: BatchExhibit) -> str:
    """Return the rows of the log as CSV; text that a spreadsheet would run as a formula gets an apostrophe before it."""
    return frame_csv(answer.rows)
