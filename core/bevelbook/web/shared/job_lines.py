"""What is to be done before the next time out, as a line of a page."""

from __future__ import annotations

from markupsafe import Markup

from bevelbook.display.begun import begun
from bevelbook.reports.before_next_time_out import Job
from bevelbook.web.shared.links import Linker


def job_line(links: Linker, job: Job, *, may_write: bool = False, in_short: bool = False) -> Markup:
    """What to do, with a link to what it is about, and why; unless ``in_short`` what settles it and how long it takes
    too. ``may_write`` where it is shown to a device that can do it here."""
    match job.subject:
        case "diff":
            name = links.record("diffs", job.row_id, job.name)
        case "idea":
            name = links.record("ideas", job.row_id, job.name)
        case "runs without call":
            name = links.to("calls", job.name)
        case "rejected rows" if may_write:
            name = links.to("enter/rejected", job.name)
        case "rejected rows":
            name = links.rows("note_rejects", job.name, status="rejected", closed_by__isnull=1)
    what = Markup("{}").format(begun(job.what))
    return what.format(name) + Markup('<span class="quiet">{}</span>').format(
        job.after_in_short if in_short else job.after
    )
