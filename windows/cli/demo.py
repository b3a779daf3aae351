"""``dewgap demo``: the shipped demo sites through the main job, with no network."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from windows.cli.options import Json, UnitOption
from windows.errors import OutputError

__all__ = ["demo"]


def demo(
    page: Annotated[
        Path, typer.Option("--page", metavar="FILE", help="Where the page is written.")
    ] = Path("dewgap-demo.html"),
    copy: Annotated[
        bool,
        typer.Option(
            "--copy", help="Copy the demo sites to demo_sites here, for examples, and end."
        ),
    ] = False,
    units: UnitOption = "us",
    as_json: Json = False,
) -> None:
    """Run the main job on three invented sites and write a page to look at.

    Example: dewgap demo
    """
    import shutil

    from windows.cli.printing import line, print_json
    from windows.cli.progress import busy
    from windows.cli.show import show_closing, show_job, show_site
    from windows.demo import demo_folder, demo_jobs
    from windows.reports.as_json import job_dict
    from windows.reports.output import check_place, write_whole
    from windows.reports.page import render

    if copy:
        to = Path("demo_sites").resolve()
        try:
            shutil.copytree(demo_folder(), to)
        except FileExistsError:
            raise OutputError(f"{to}: is there already; delete it to have it anew") from None
        except OSError as fault:
            raise OutputError(
                f"{to}: cannot be written ({fault.strerror}); go to a folder of yours"
            ) from None
        if as_json:
            print_json({"demo_sites": str(to)})
        else:
            line(f"Demo sites: {to}")
        return
    check_place(page)
    with busy("running the main job on the demo sites"):
        jobs = demo_jobs()
    write_whole(page, render(jobs, units))
    if as_json:
        print_json({"jobs": [job_dict(job) for job in jobs], "page": str(page.resolve())})
        return
    shown = None
    for job in jobs:
        if job.site.name != shown:
            show_site(job, units)
            shown = job.site.name
        show_job(job, units)
    show_closing(jobs)
    line(f"Page: {page.resolve()}")
