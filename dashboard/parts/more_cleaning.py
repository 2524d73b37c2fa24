"""What more there is to cleaning success: sentence, picture, table and export of each part."""

from __future__ import annotations

from dashboard.parts import text
from dashboard.parts.detail_grid import detail_grid
from dashboard.parts.filters import Chosen
from dashboard.parts.picture import of_one, picture, told
from pipelines.answers.record import Answer, CleaningGroup
from pipelines.charts.beside import controller_figure, has_rows, pooled_figure, site_figure, standardised_figure, undrawn
from pipelines.wording import cleans
from pipelines.wording.label import label

#: More sentences than this are not read; the table holds them all.
MOST_SENTENCES = 16


def pooled(answer: Answer, chosen: Chosen) -> None:
    """Show what each group shows once it borrows from the others."""
    if not told(answer.groups, "pooled"):
        text.paragraph("There is only one group; split by family, say, and each borrows from the others.")
        return
    text.paragraph(
        "Small groups swing by chance. Judged together, each borrows from the others, the more the less it has itself."
    )
    if has_rows(answer, "pooled"):
        picture(pooled_figure(answer), key="together_figure", alt=f"Groups judged together. {answer.sentence}")
        if undrawn(answer):
            text.quiet(f"The table below holds {undrawn(answer):,} more.")
    detail_grid(answer, "pooled_shares", ("passed_count", "attempt_count", "rank", "same_day_share", "pooled_same_day_share",
                                     "pooled_durable_share", "best_chance", "because"))  # fmt: skip


@of_one(
    "standardised",
    key="all_cleaned_of",
    otherwise="Only split and filtered by what is known of those not cleaned too: not by depth, mechanism or attempt.",
)
def standardised(answer: Answer, group: CleaningGroup, chosen: Chosen) -> None:
    """Show what cleaning would have done had all that were found bad been cleaned."""
    text.paragraph(cleans.standardised_words(group.standardised))
    if has_rows(answer, "standardised"):
        picture(standardised_figure(answer), key="all_cleaned_figure", alt=f"Had all been cleaned. {answer.sentence}")
    detail_grid(answer, "standardised", ("tried_count", "failure_count", "tried_share", "same_day_share", "standardised_share",
                                    "lowest_share", "because"))  # fmt: skip


def controllers(answer: Answer, chosen: Chosen) -> None:
    """Show whether the attempts on one controller go alike."""
    found = [(label(group.by), said) for group in answer.groups
             if (said := cleans.by_controller_words(group.by_controller, group.same_day.n))]  # fmt: skip
    if len(answer.groups) == 1 and found:
        text.paragraph(found[0][1])
    elif found:
        text.listed(found[:MOST_SENTENCES])
    else:
        text.paragraph("Attempts on one controller go no more alike than others, so the intervals above hold.")
    if has_rows(answer, "by_controller"):
        picture(controller_figure(answer), key="controllers_figure", alt=f"Limits by controller. {answer.sentence}")
    detail_grid(answer, "controllers", ("controller_count", "design_effect", "same_day_share", "because"))


@of_one(
    "by_site",
    key="sites_of",
    otherwise="Split by site the groups are sites; split by something else to see limits that allow for them.",
)
def sites(answer: Answer, group: CleaningGroup, chosen: Chosen) -> None:
    """Show how sure shares are if sites differ."""
    said = cleans.by_site_words(group.by_site)
    text.paragraph(said)
    if has_rows(answer, "by_site"):
        picture(site_figure(answer), key="sites_figure", alt=f"Limits by site. {said}")
    detail_grid(answer, "sites", ("site_count", "design_effect", "same_day_share", "because"))
