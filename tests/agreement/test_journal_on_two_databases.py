"""The journal does the same on SQLite and on PostgreSQL; a real server is started for it."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from queue import SimpleQueue

import pytest

from subbase.errors import InputError
from subbase.journal import Entry, Kept, Refused, fold, read_entry
from subbase.journal import accounts as who
from subbase.journal.backup import backup, copy_journal
from subbase.journal.bodies import NoteMade, PhotoAdded, ReadingTaken, StepDone, Undone, Unrecognised
from subbase.journal.bundle import export_job, import_bundle, read_bundle
from subbase.journal.check import check_integrity
from subbase.journal.database import run
from subbase.journal.store import MOST_PAGE, Journal, open_journal
from subbase.journal.trouble import JobExists, JournalTooNew, JournalTrouble, NoSuchJob
from tests.agreement.postgres_server import Server, postgres_server
from tests.journal_entries import HOUSE, edit, entry, key, photo

PASSWORD = "seven dry conductors"


@pytest.fixture(scope="module")
def server() -> Iterator[Server]:
    """One server for all tests of this file."""
    with postgres_server() as running:
        yield running


@pytest.fixture(params=["sqlite", "postgresql"])
def new_place(request: pytest.FixtureRequest, tmp_path: Path) -> Callable[[], str]:
    """Where an empty journal can be made, each time another."""
    if request.param == "sqlite":
        names = iter(range(100))
        return lambda: str(tmp_path / f"journal-{next(names)}.sqlite")
    running: Server = request.getfixturevalue("server")
    return running.new_database


@pytest.fixture
def journal(new_place: Callable[[], str]) -> Iterator[Journal]:
    """An empty journal."""
    with open_journal(new_place()) as opened:
        yield opened


def _notes(first: int, count: int) -> list[Entry]:
    return [entry(number, NoteMade(text=f"note {number}")) for number in range(first, first + count)]


def _bytes_in(folder: Path) -> bytes:
    return b"".join(path.read_bytes() for path in folder.iterdir())


def test_events_come_back_in_order_without_holes(journal: Journal) -> None:
    """What was appended is read back whole, numbered from 1 in the order in which it was kept."""
    job = journal.create_job("House", actor="Ann", device="desk")
    journal.append(job, _notes(10, 3))
    journal.append(job, [entry(1, edit(HOUSE), actor="Bo", device="phone", seen=4)])
    events = journal.events(job)
    assert [event.sequence for event in events] == [1, 2, 3, 4, 5]
    assert events[0].actor == "Ann"
    assert dict(events[4]) | {"received_at": None} == {
        **dict(entry(1, edit(HOUSE), actor="Bo", device="phone", seen=4)), "job": job, "sequence": 5, "received_at": None,
    }  # fmt: skip
    assert journal.events(job, after=3, limit=1) == (events[3],)


def test_sent_twice_is_kept_once(journal: Journal) -> None:
    """The same entry again, in one sending or in two, adds nothing and gets the same number."""
    job = journal.create_job("House")
    first, again = journal.append(job, [*_notes(1, 1), *_notes(1, 1)])
    (later,) = journal.append(job, _notes(1, 1))
    assert first == Kept(key(1), 2)
    assert again == later == Kept(key(1), 2, already=True)
    assert journal.job(job).events == 2


def test_a_key_used_for_something_else_is_refused_alone(journal: Journal) -> None:
    """The same key with other content is refused, and holds up no other entry."""
    job = journal.create_job("House")
    journal.append(job, _notes(1, 1))
    refused, kept = journal.append(job, [entry(1, NoteMade(text="other")), entry(2, NoteMade(text="next"))])
    assert isinstance(refused, Refused)
    assert "key of its own" in refused.reason
    assert kept == Kept(key(2), 3)


def test_the_same_key_in_another_job_is_another_entry(journal: Journal) -> None:
    """Keys are looked up within a job only, so nobody learns from a refusal what another job holds."""
    one, other = journal.create_job("One"), journal.create_job("Other")
    assert journal.append(one, _notes(1, 1)) == journal.append(other, _notes(1, 1)) == (Kept(key(1), 2),)


def test_many_writers_leave_no_hole_and_readers_see_none(journal: Journal) -> None:
    """Eight threads write to one job while one reads on: every acknowledged event is there, in one unbroken row."""
    job = journal.create_job("House")
    seen: list[int] = [1]
    written: SimpleQueue[bool] = SimpleQueue()

    def read_on() -> None:
        more = True
        while more:
            more = written.get()
            seen.extend(event.sequence for event in journal.events(job, after=seen[-1]))

    def write(part: int) -> list[str]:
        keys = []
        for at in range(12):
            results = journal.append(job, _notes(part * 1000 + at * 2, 2))
            keys += [result.key for result in results if isinstance(result, Kept)]
            written.put(True)
        return keys

    with ThreadPoolExecutor(9) as pool:
        reader = pool.submit(read_on)
        acknowledged = [name for names in pool.map(write, range(1, 9)) for name in names]
        written.put(False)
        reader.result()
    events = journal.events(job)
    assert [event.sequence for event in events] == list(range(1, 8 * 24 + 2)) == seen
    assert {event.key for event in events[1:]} == set(acknowledged)
    assert check_integrity(journal).sound


def test_two_journals_on_one_database_share_it(new_place: Callable[[], str]) -> None:
    """Two processes' worth of connections write to the same job without losing or doubling anything."""
    place = new_place()
    with open_journal(place) as one, open_journal(place) as other:
        job = one.create_job("House")
        with ThreadPoolExecutor(2) as pool:
            list(pool.map(lambda j: [j.append(job, _notes(at, 5)) for at in range(0, 50, 5)], (one, other)))
        assert one.events(job) == other.events(job)
        assert other.job(job).events == 51


def test_two_servers_may_start_at_once(new_place: Callable[[], str]) -> None:
    """Of several that open an empty database at the same moment, one prepares it and the others find it ready."""
    place = new_place()
    with ThreadPoolExecutor(4) as pool:
        opened = list(pool.map(open_journal, [place] * 4))
    try:
        job = opened[0].create_job("House")
        assert opened[3].job(job).name == "House"
    finally:
        for one in opened:
            one.close()


def test_state_is_the_fold_of_the_events(journal: Journal) -> None:
    """The state of a job is what the fold makes of its events, before and after more of them come."""
    job = journal.create_job("House")
    journal.append(job, [entry(1, edit(HOUSE)), entry(2, StepDone(step="s1")), entry(3, Undone(target=key(2)))])
    assert journal.state(job) == journal.state(job) == fold(journal.events(job))
    journal.append(job, [entry(4, ReadingTaken(between=("hall.R", "hall.C"), unit="V", value=26.4))])
    state = journal.state(job)
    assert state == fold(journal.events(job))
    assert state.survey.text == HOUSE
    assert not state.steps
    assert len(state.readings) == 1


def test_a_job_made_twice_is_one_job(journal: Journal) -> None:
    """A phone that makes a job under its own id and is not sure may make it again."""
    assert journal.create_job("House", job=key(7)) == journal.create_job("Other name", job=key(7)) == key(7)
    assert journal.job(key(7)).name == "House"
    assert journal.job(key(7)).events == 1


@pytest.mark.parametrize(
    "job", ["", "nobody-knows-it", "../../etc/passwd", "x" * 5000, "nul\x00nul-nul", "A'; DROP TABLE jobs"]
)
def test_a_job_that_is_not_there_is_said_to_be_missing(journal: Journal, job: str) -> None:
    """Every way to ask for a job that does not exist ends in the same plain answer."""
    for ask in (journal.state, journal.events, journal.job, journal.forget_job, lambda j: journal.append(j, [])):
        with pytest.raises(NoSuchJob, match="There is no job"):
            ask(job)


def test_names_that_are_none_are_refused(journal: Journal) -> None:
    """An empty name, or one with control characters, makes no job."""
    for name in ("", "  ", "two\nlines", "nul\x00", "x" * 201):
        with pytest.raises(InputError):
            journal.create_job(name)
    with pytest.raises(JournalTrouble, match="UUID"):
        journal.create_job("House", job="../x")
    assert journal.jobs().total == 0


def test_jobs_are_found_by_words_and_paged(journal: Journal) -> None:
    """Words are found in any case and in any script; signs that SQL gives a meaning have none; pages do not overlap."""
    made = [journal.create_job(name) for name in ("Lilac 3", "LILAC 50%", "ÄRE street", "Plain_one", "lilac plain")]
    assert {line.name for line in journal.jobs(search="lilac").jobs} == {"Lilac 3", "LILAC 50%", "lilac plain"}
    assert [line.name for line in journal.jobs(search="PLAIN lilac").jobs] == ["lilac plain"]
    assert [line.name for line in journal.jobs(search="äre").jobs] == ["ÄRE street"]
    assert [line.name for line in journal.jobs(search="%").jobs] == ["LILAC 50%"]
    assert [line.name for line in journal.jobs(search="_").jobs] == ["Plain_one"]
    assert journal.jobs(search="!").total == journal.jobs(search="'").total == 0
    paged = [line.id for page in (1, 2, 3, 4) for line in journal.jobs(page=page, per_page=2).jobs]
    assert paged == made[::-1]
    journal.append(made[0], _notes(1, 1))
    assert journal.jobs().jobs[0].id == made[0]
    assert journal.jobs(page=-3, per_page=10**9).per_page == MOST_PAGE


def test_events_of_a_later_version_are_kept(journal: Journal) -> None:
    """A kind that is not known here is kept with all it said, shown, and counted for nothing."""
    job = journal.create_job("House")
    later = read_entry(
        {"key": key(1), "made_at": "2026-01-01T00:00:00Z", "body": {"kind": "smelled", "of": ["oil", 2.5]}}
    )
    journal.append(job, [later])
    body = journal.state(job).unrecognised[0].body
    assert body.model_dump() == {"kind": "smelled", "of": ["oil", 2.5]}
    assert isinstance(journal.events(job)[1].body, Unrecognised)


def test_a_photo_is_given_only_to_its_own_job(journal: Journal) -> None:
    """A photo's hash opens it in the job that has it, and in no other."""
    one, other = journal.create_job("One"), journal.create_job("Other")
    picture = photo("red")
    assert journal.put_photo(one, picture) == journal.put_photo(one, picture) == picture.hash
    found = journal.photo(one, picture.hash)
    assert found is not None
    assert found.data == picture.data
    small = journal.photo(one, picture.hash, preview=True)
    assert small is not None
    assert small.data == picture.preview
    assert journal.photo(other, picture.hash) is None
    assert journal.photo_hashes(one) == {picture.hash}
    assert not journal.photo_hashes(other)
    with pytest.raises(NoSuchJob):
        journal.put_photo("no-such-job", picture)


def test_a_forgotten_job_takes_its_own_photos_along(journal: Journal) -> None:
    """Nothing of a forgotten job is left, and what another job also has stays there."""
    one, other = journal.create_job("One"), journal.create_job("Other")
    shared, own = photo("red"), photo("blue")
    for job, picture in ((one, shared), (one, own), (other, shared)):
        journal.put_photo(job, picture)
    journal.append(one, _notes(1, 2))
    journal.state(one)
    journal.forget_job(one)
    with pytest.raises(NoSuchJob):
        journal.state(one)
    assert journal.photo_hashes(other) == {shared.hash}
    found = check_integrity(journal)
    assert (found.jobs, found.events, found.photos, found.damage) == (1, 1, 1, ())


def test_what_was_erased_is_not_in_the_files_either(tmp_path: Path) -> None:
    """Neither the SQLite file nor its log holds a word of a forgotten job, or a stretch of its photo, while the app runs on."""
    with open_journal(tmp_path / "jobs.db") as journal:
        other, job, picture = journal.create_job("Other"), journal.create_job("Lilac, to be forgotten"), photo("red")
        journal.append(job, [entry(1, NoteMade(text="the key hangs behind the shed"))])
        journal.put_photo(job, picture)
        traces = (b"to be forgotten", b"behind the shed", picture.data[200:260])
        assert all(trace in _bytes_in(tmp_path) for trace in traces)
        journal.forget_job(job)
        assert not any(trace in _bytes_in(tmp_path) for trace in traces)
        assert journal.job(other).name == "Other"


def test_a_job_moves_between_databases_and_comes_out_the_same(journal: Journal, tmp_path: Path) -> None:
    """Exported here, imported into a new SQLite journal and exported there, a job file has the same bytes."""
    job, picture = journal.create_job("House ✓"), photo("green")
    journal.put_photo(job, picture)
    shown = PhotoAdded(photo=picture.hash, size=len(picture.data), width=picture.width, height=picture.height)
    journal.append(job, [entry(1, edit(HOUSE)), entry(2, shown), *_notes(3, 3)])
    data = export_job(journal, job)
    with open_journal(tmp_path / "other.sqlite") as other:
        done = import_bundle(other, read_bundle(data))
        assert (done.new_job, done.events, done.photos) == (True, 6, 1)
        assert export_job(other, job) == data == export_job(journal, job)
        assert other.state(job) == journal.state(job)
        assert check_integrity(other).sound
        other.append(job, _notes(20, 2))
        more = export_job(other, job)
    with pytest.raises(JobExists, match="without 2 of the file's events"):
        import_bundle(journal, read_bundle(more))
    assert import_bundle(journal, read_bundle(more), add=True).events == 2
    assert import_bundle(journal, read_bundle(more)).events == 0
    assert journal.job(job).events == 8


def test_import_refuses_another_job_under_the_same_id(journal: Journal, tmp_path: Path) -> None:
    """A file whose events contradict those that are here is not taken, and nothing of it is kept."""
    job = journal.create_job("House", job=key(9))
    journal.append(job, _notes(1, 1))
    with open_journal(tmp_path / "other.sqlite") as other:
        other.create_job("House", job=key(9))
        other.append(key(9), [*_notes(5, 1), entry(1, NoteMade(text="something else"))])
        bundle = read_bundle(export_job(other, key(9)))
    with pytest.raises(JobExists, match="not the same job"):
        import_bundle(journal, bundle, add=True)
    assert journal.job(job).events == 2


def test_damage_is_found_and_named(journal: Journal) -> None:
    """A changed body, a lost event, a lost end and a changed photo are each found; a photo on its way is no damage."""
    picture = photo("red")
    jobs = [journal.create_job(name) for name in ("changed", "lost", "short", "sound")]
    for job in jobs:
        journal.append(job, _notes(1, 3))
    journal.put_photo(jobs[3], picture)
    named = PhotoAdded(photo="0" * 64, size=1, width=1, height=1)
    journal.append(jobs[3], [entry(9, named)])
    assert check_integrity(journal).sound
    with journal.database.write() as connection:
        run(connection, "UPDATE events SET body = :b WHERE job = :j AND sequence = 3", b=b'{"kind":"x"}', j=jobs[0])
        run(connection, "DELETE FROM events WHERE job = :j AND sequence = 2", j=jobs[1])
        run(connection, "DELETE FROM events WHERE job = :j AND sequence = 4", j=jobs[2])
        run(connection, "UPDATE photos SET bytes = :b", b=picture.data[:-1])
    found = check_integrity(journal)
    told = " ".join(found.damage)
    assert f"'changed' ({jobs[0]}): event 3 (note_made) is not as it was written" in told
    assert f"'lost' ({jobs[1]}): events 2 to 2 are missing" in told
    assert f"'short' ({jobs[2]}): it ends at event 3, and should end at 4" in told
    assert f"Photo {picture.hash[:12]} is not as it was written" in told
    assert jobs[3] not in told
    assert found.missing_photos == (f"Job {jobs[3]}: the photo of event 5 has not arrived.",)


def test_backup_while_running_and_restore(journal: Journal, new_place: Callable[[], str], tmp_path: Path) -> None:
    """A backup taken under writes is whole, and goes back into an empty journal of the same kind of database."""
    job = journal.create_job("House")
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    who.give_job(journal, job, ann.id)
    who.record(journal, "Ann", "opened the job", job=job)
    journal.put_photo(job, photo())
    stop = threading.Event()

    def write_on() -> None:
        number = 1000
        while not stop.is_set():
            number += 1
            journal.append(job, _notes(number, 1))

    with ThreadPoolExecutor(1) as pool:
        writing = pool.submit(write_on)
        backup(journal, tmp_path / "copy.sqlite")
        stop.set()
        writing.result()
    assert [path.name for path in tmp_path.iterdir() if "copy" in path.name] == ["copy.sqlite"]
    with open_journal(tmp_path / "copy.sqlite") as copy, open_journal(new_place()) as target:
        assert check_integrity(copy).sound
        events = copy.events(job)
        assert events == journal.events(job)[: len(events)]
        copy_journal(copy, target)
        assert target.events(job) == events
        assert who.may_see(target, ann, job)
        who.record(target, "Bo", "came later")
        assert [seen.who for seen in who.recorded(target)] == ["Bo", "Ann"]
        with pytest.raises(JobExists, match="not empty"):
            copy_journal(copy, target)


def test_a_journal_of_a_later_version_is_left_alone(new_place: Callable[[], str]) -> None:
    """What a later version has written is not opened, and the sentence says why."""
    place = new_place()
    with open_journal(place) as opened, opened.database.write() as connection:
        run(connection, "INSERT INTO journal_format VALUES (99, 'later')")
    with pytest.raises(JournalTooNew, match="format 99"):
        open_journal(place)


def test_received_times_never_go_back(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """When the server's clock jumps back, events still go on from the last number, and none seems older than one before."""
    job = journal.create_job("House")
    journal.append(job, _notes(1, 1))
    monkeypatch.setattr("subbase.journal.job_rows.now_text", lambda: "1999-01-01T00:00:00.000000+00:00")
    journal.append(job, _notes(2, 1))
    events = journal.events(job)
    assert [event.key for event in events[1:]] == [key(1), key(2)]
    assert events[2].received_at >= events[1].received_at
    assert journal.jobs().jobs[0].changed_at >= events[1].received_at


def test_passwords_open_only_their_own_open_account(journal: Journal) -> None:
    """The right password opens an account; a wrong one, another name or a closed account does not."""
    ann = who.add_account(journal, " Ann ", "installer", PASSWORD)
    assert who.check_password(journal, "Ann", PASSWORD) == ann
    assert who.check_password(journal, "Ann", PASSWORD + " ") is None
    assert who.check_password(journal, "Bo\x00", "\ud800") is None
    for name, role, password in (
        ("Ann", "office", PASSWORD),
        ("Bo", "boss", PASSWORD),
        ("Bo", "office", "short"),
        ("", "office", PASSWORD),
    ):
        with pytest.raises(InputError):
            who.add_account(journal, name, role, password)  # type: ignore[arg-type]
    assert who.accounts(journal) == (ann,)
    with journal.database.read() as connection:
        stored = run(connection, "SELECT password_hash FROM accounts").scalar_one()
    assert stored.startswith("$argon2id$")
    who.set_active(journal, ann.id, False)
    assert who.check_password(journal, "Ann", PASSWORD) is None


def test_sessions_end_when_they_should(journal: Journal, monkeypatch: pytest.MonkeyPatch) -> None:
    """A session's token works until it is ended, its password changes, its account closes, or its time is over."""
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    tokens = [who.start_session(journal, ann) for _ in range(3)]
    sessions = [who.session_of(journal, token) for token in tokens]
    assert all(session is not None and session.account == ann for session in sessions)
    assert len({session.csrf for session in sessions if session}) == len(set(tokens)) == 3
    who.end_session(journal, tokens[0])
    assert who.session_of(journal, tokens[0]) is None
    assert who.session_of(journal, tokens[1]) is not None
    assert who.session_of(journal, "made up") is None
    who.set_password(journal, ann.id, PASSWORD + " more")
    assert who.session_of(journal, tokens[1]) is None
    token = who.start_session(journal, ann)
    who.set_active(journal, ann.id, False)
    assert who.session_of(journal, token) is None
    who.set_active(journal, ann.id, True)
    monkeypatch.setattr(who, "SESSION_LASTS", -who.SESSION_LASTS)
    assert who.session_of(journal, who.start_session(journal, ann)) is None
    monkeypatch.undo()
    monkeypatch.setattr(who, "SESSION_IDLE", -who.SESSION_IDLE)
    assert who.session_of(journal, who.start_session(journal, ann)) is None


def test_tokens_are_not_in_the_database(journal: Journal) -> None:
    """Neither a session's nor a link's token can be read out of what is stored."""
    job = journal.create_job("House")
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    tokens = [who.start_session(journal, ann), who.make_share(journal, job, "Ann")]
    with journal.database.read() as connection:
        stored = str([run(connection, f"SELECT * FROM {table}").all() for table in ("sessions", "shares", "accounts")])
    assert not [token for token in tokens if token in stored]
    assert PASSWORD not in stored


def test_jobs_are_seen_by_those_who_were_given_them(journal: Journal) -> None:
    """An installer sees the jobs given to them, the office all, a closed account none."""
    one, other = journal.create_job("One"), journal.create_job("Other")
    ann = who.add_account(journal, "Ann", "installer", PASSWORD)
    bo = who.add_account(journal, "Bo", "office", PASSWORD)
    who.give_job(journal, one, ann.id)
    who.give_job(journal, one, ann.id)
    assert [who.may_see(journal, ann, job) for job in (one, other)] == [True, False]
    assert [who.may_see(journal, bo, job) for job in (one, other)] == [True, True]
    assert [line.id for line in journal.jobs(account=ann.id).jobs] == [one]
    assert journal.jobs(account=ann.id, search="other").total == 0
    who.take_job(journal, one, ann.id)
    assert not who.may_see(journal, ann, one)


def test_a_link_opens_one_job_until_it_is_taken_back(journal: Journal) -> None:
    """A link shows its job until somebody ends it or its time is over."""
    job = journal.create_job("House")
    token = who.make_share(journal, job, "Ann")
    share = who.share_of(journal, token)
    assert share is not None
    assert share.job == job
    assert who.shares(journal, job) == (share,)
    who.end_share(journal, "another-job", share.id)
    assert who.share_of(journal, token) == share
    who.end_share(journal, job, share.id)
    assert who.share_of(journal, token) is None
    with pytest.raises(NoSuchJob):
        who.make_share(journal, "no-such-job", "Ann")


def test_who_saw_what_is_written_down(journal: Journal) -> None:
    """The record gives the newest line first, of one job or of all."""
    who.record(journal, "Ann", "opened", job="job-0001", address="10.0.0.7")
    who.record(journal, "Bo", "looked at the list")
    assert [seen.what for seen in who.recorded(journal)] == ["looked at the list", "opened"]
    assert [(seen.who, seen.address) for seen in who.recorded(journal, job="job-0001")] == [("Ann", "10.0.0.7")]
