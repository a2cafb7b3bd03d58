"""``subbase job``: the jobs of a journal, at the desk."""

from __future__ import annotations

import sys
from pathlib import Path

import click

from subbase.cli.journal_shell import opened_journal
from subbase.cli.shell import (
    bad_input_refused,
    catalogue_option,
    json_option,
    load_catalog_or_leave,
    print_json,
    refuse,
    refuse_writing,
    say,
)
from subbase.errors import Fault, InputError
from subbase.files import read_at_most, write_whole
from subbase.words import _, plural

DAMAGED = 5
"""Exit code of ``subbase job check`` when something is not as it was written."""
journal_option = click.option(
    "--journal", "place", metavar="FILE", envvar="SUBBASE_JOURNAL",
    help="The journal's file, or a PostgreSQL URL; SUBBASE_JOURNAL or your own data folder when left out.",
)  # fmt: skip


@click.group()
def job() -> None:
    """List, export, import, check and back up the jobs of a journal.

    \b
    Example:  subbase job list
    """


@job.command("list")
@click.argument("words", nargs=-1, metavar="[WORDS]...")
@click.option("--page", type=click.IntRange(1), default=1, show_default=True, help="Which fifty jobs.")
@journal_option
@json_option
def list_jobs(words: tuple[str, ...], page: int, place: str | None, as_json: bool) -> None:
    """List jobs, the last changed first; only those with all WORDS in their name, if given.

    \b
    Example:  subbase job list lilac
    """
    with opened_journal(place, as_json=as_json) as journal:
        found = journal.jobs(search=" ".join(words), page=page)
    if as_json:
        jobs = [
            {"id": line.id, "name": line.name, "events": line.events, "changed_at": line.changed_at.isoformat()}
            for line in found.jobs
        ]
        print_json({"format": 1, "total": found.total, "page": found.page, "jobs": jobs})
        return
    for line in found.jobs:
        say(
            f"{line.id}  {line.changed_at:%Y-%m-%d %H:%M} UTC  "
            + plural("{count:>5} event", "{count:>5} events", line.events).format(count=line.events)
            + f"  {line.name}"
        )
    say(_("{count} of {total} jobs.").format(count=len(found.jobs), total=found.total))


@job.command("export")
@click.argument("job_id", metavar="JOB")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@journal_option
@json_option
def export(job_id: str, file: Path, place: str | None, as_json: bool) -> None:
    """Write a whole job (survey, events, photos) to one FILE, with checksums.

    \b
    Example:  subbase job export 4d4c6eb9-2ff3-40b2-8bdd-5f57be94bcb5 lilac.job
    """
    from subbase.journal.bundle import export_job

    with opened_journal(place, as_json=as_json) as journal:
        data = export_job(journal, job_id)
    try:
        write_whole(file, data)
    except OSError as error:
        refuse_writing(file, error, as_json=as_json, what=_("The job"))
    _say(
        _("Written to {file} ({count} bytes).").format(file=file, count=len(data)),
        as_json=as_json,
        file=str(file),
        bytes=len(data),
    )


@job.command("import")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@click.option("--add", is_flag=True, help="If the job is here already: add what it has not.")
@journal_option
@json_option
def import_(file: Path, add: bool, place: str | None, as_json: bool) -> None:
    """Take in a job that was exported to FILE: all of it, or nothing.

    \b
    Example:  subbase job import lilac.job
    """
    from subbase.journal.bundle import MOST_BYTES, import_bundle, read_bundle

    with bad_input_refused(as_json=as_json):
        bundle = read_bundle(read_at_most(file, MOST_BYTES), str(file))
    with opened_journal(place, as_json=as_json, create=True) as journal:
        done = import_bundle(journal, bundle, add=add)
    _say(
        (_("New job '{name}': {events} events and {photos} photos added.") if done.new_job else _("Job '{name}': {events} events and {photos} photos added.")).format(name=done.name, events=done.events, photos=done.photos),
        as_json=as_json, job=done.job, new_job=done.new_job, events=done.events, photos=done.photos,
    )  # fmt: skip


@job.command("erase")
@click.argument("job_id", metavar="JOB")
@click.option("--name", metavar="NAME", help="The job's name, so that no other is meant; asked for when left out.")
@journal_option
@json_option
def erase(job_id: str, name: str | None, place: str | None, as_json: bool) -> None:
    """Erase a job for good, with its photos: for an owner who asks for it. Backups and exported files are not touched.

    \b
    Example:  subbase job erase 4d4c6eb9-2ff3-40b2-8bdd-5f57be94bcb5
    """
    from subbase.journal.erasing import erase_job

    with opened_journal(place, as_json=as_json) as journal:
        found = journal.job(job_id)
        if name is None:
            name = click.prompt(_("The job's name"), err=True)
        erase_job(journal, job_id, name, who="subbase job erase")
    _say(_("The job is erased."), as_json=as_json, job=job_id, events=found.events)


@job.command("papers")
@click.argument("job_id", metavar="JOB")
@click.option("--out", type=click.Path(path_type=Path), metavar="DIR", default=Path("papers"), show_default=True, help="Write them there.")  # fmt: skip
@journal_option
@json_option
@catalogue_option
def papers(job_id: str, out: Path, place: str | None, as_json: bool, folders: tuple[Path, ...]) -> None:
    """Write the papers of a job with all that its journal holds: readings, steps, photos, open points.

    \b
    Example:  subbase job papers 4d4c6eb9-2ff3-40b2-8bdd-5f57be94bcb5 --out out
    """
    catalog = load_catalog_or_leave(folders, as_json=as_json)
    from subbase.papers.write import write_papers
    from subbase.web.jobs import Office
    from subbase.web.stage_hand_over import record_and_work, today

    with opened_journal(place, as_json=as_json) as journal:
        office = Office(journal, catalog)
        view = office.job(job_id)
        plan = office.plan(view)
        if plan is None:
            message = _("The survey of this job cannot be read, so nothing follows from it; mend it first.")
            refuse(InputError((Fault(message),)), as_json=as_json)
        record, steps = record_and_work(view, office)
    try:
        written = write_papers(plan, out, date=today(), record=record, work=steps)
    except OSError as error:
        refuse_writing(out, error, as_json=as_json, what=_("The papers"))
    files = [path.name for path in written]
    _say(_("Papers are in {out}.").format(out=out), as_json=as_json, job=job_id, files=files)


@job.command("check")
@journal_option
@json_option
def check(place: str | None, as_json: bool) -> None:
    """Read everything that the journal holds and compare it with its checksums.

    Exit code 0 when all is as it was written, 5 when not.

    \b
    Example:  subbase job check
    """
    from subbase.journal.check import check_integrity

    if not as_json:
        click.echo(_("Reading every event and every photo ..."), err=True)
    with opened_journal(place, as_json=as_json) as journal:
        found = check_integrity(journal)
    if as_json:
        print_json(
            {
                "format": 1, "sound": found.sound, "jobs": found.jobs, "events": found.events, "photos": found.photos,
                "damage": found.damage, "missing_photos": found.missing_photos,
            }
        )  # fmt: skip
    else:
        for sentence in (*found.damage, *found.missing_photos):
            say(sentence)
        say(
            _("Read: {jobs} jobs, {events} events, {photos} photos.").format(
                jobs=found.jobs, events=found.events, photos=found.photos
            )
        )
        click.echo(
            _("All is as it was written.")
            if found.sound
            else _(
                "The journal is damaged. Stop writing to it, keep a copy of its files, and go back to the last backup."
            )
        )
    sys.exit(0 if found.sound else DAMAGED)


@job.command("backup")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@journal_option
@json_option
def backup(file: Path, place: str | None, as_json: bool) -> None:
    """Copy the whole journal to a new FILE, also while others work on it. The copy is a journal too.

    \b
    Example:  subbase job backup /media/stick/journal-tuesday.sqlite
    """
    from subbase.journal.backup import backup as write_backup

    with opened_journal(place, as_json=as_json) as journal:
        write_backup(journal, file)
    _say(_("Written to {file}.").format(file=file), as_json=as_json, file=str(file))


@job.command("restore")
@click.argument("file", type=click.Path(path_type=Path, dir_okay=False), metavar="FILE")
@journal_option
@json_option
def restore(file: Path, place: str | None, as_json: bool) -> None:
    """Put a backup FILE back into an empty journal: a new file, or an empty PostgreSQL database.

    \b
    Example:  subbase job restore journal-tuesday.sqlite --journal new.sqlite
    """
    from subbase.journal.backup import copy_journal

    with (
        opened_journal(str(file), as_json=as_json) as source,
        opened_journal(place, as_json=as_json, create=True) as target,
    ):
        copy_journal(source, target)
        jobs = target.jobs(per_page=1).total
    _say(_("{jobs} jobs are back.").format(jobs=jobs), as_json=as_json, jobs=jobs)


def _say(sentence: str, *, as_json: bool, **data: object) -> None:
    if as_json:
        print_json({"format": 1, **data})
    else:
        say(sentence)
