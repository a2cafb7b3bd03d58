"""Every sentence of the pocket's own page, by name: the page is static, so a build looks them all up in every language."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from subbase.web.pocket.pattern import pattern
from subbase.web.work_words import LICENCE_WORDS, SEASON_WORDS
from subbase.words import _, language, mark

WORDS = {
    "title": mark("Pocket"),
    "lead": mark("Plans, proves and keeps a job on this phone, without a server and without a signal."),
    # Fetching, and what works without.
    "fetching": mark("Being fetched for use without a signal: {done} of {all} MB. Stay on this page until it is done."),
    "fetch_size": mark("The first visit fetches {all} MB; after that nothing is fetched until there is a new version."),
    "ready": mark("All of it is on this phone: it works without a signal."),
    "fetch_failed": mark("It could not all be fetched. What is here works as long as there is a signal; open the page again to go on."),
    "waking": mark("Python is starting; that takes some seconds."),
    "awake": mark("Ready."),
    "no_wake": mark("Python does not start in this browser: {why}. A newer browser may help; the survey's text can still be saved below."),
    "newer": mark("A new version is here in full."),
    "use_newer": mark("Use it now"),
    "plain_title": mark("This address is not secure: it works only while it can be reached"),
    "plain": mark(
        "The address begins with http, not https, and is not this device itself. Browsers then keep no pages: planning, proof, "
        "steps and readings work now, and what you enter is kept on this phone, but without a signal this page does not open. "
        "Put the folder on a host with TLS, and open it from there once. Save the entries as a file before you leave."
    ),
    "no_keeper": mark(
        "This browser keeps no pages here (a private window, perhaps): it works as long as the host can be reached."
    ),
    "no_storage": mark("This browser keeps nothing here: what is entered is lost when the page is closed. Save the entries before."),
    "not_safe": mark("The browser may throw away what it keeps when room gets short. Save the entries as a file now and then."),
    # Jobs.
    "jobs": mark("Jobs on this phone"),
    "no_jobs": mark("No job is on this phone yet."),
    "begin": mark("Begin a job"),
    "survey_text": mark("The survey"),
    "survey_hint": mark("YAML or JSON, as the survey reference has it. Paste it, open a file, or fill in the pattern."),
    "open_file": mark("Open a survey file"),
    "use_pattern": mark("Fill in the pattern"),
    "begin_now": mark("Begin and plan"),
    "all_jobs": mark("All jobs"),
    "forget": mark("Delete this job from this phone"),
    "forget_sure": mark("Delete this job with its {count} entries from this phone? What was not handed to the office is lost."),
    # Parts of a job.
    "parts": mark("Parts of the job"),
    "survey": mark("Survey"),
    "plan": mark("Plan"),
    "work": mark("Work"),
    "check": mark("Check"),
    "hand_over": mark("Hand over"),
    "keep_text": mark("Keep and plan again"),
    "nothing_new": mark("Nothing was changed."),
    "faults": mark("To be put right first"),
    "line": mark("Line {line}."),
    "planning": mark("Planning and proving, on this phone ..."),
    "working": mark("Building every wrong landing, and the steps ..."),
    "judging": mark("Judging ..."),
    "took": mark("Worked out on this phone in {seconds} s."),
    "no_survey": mark("The survey cannot be read yet; there is no plan."),
    "no_plan": mark("There is no plan to work by yet. Nothing is to be moved before there is one."),
    "proved": mark("Every call was solved on the circuit and holds; the nearest limit is {share} % away: {at}."),
    "answer_first": mark("Nothing is to be moved before it is answered; the plan depends on it."),
    "how": mark("How to find out: {how}"),
    "in_survey": mark("In the survey: {field}"),
    "agree": mark("It would agree if one of these were so:"),
    "against": mark("Reading against survey"),
    "not_matter": mark("Not known, and it does not matter"),
    "what_to_do": mark("What to do for {control}"),
    "set_control": mark("Set {control}"),
    "maps": mark("Wiring as found and as left"),
    "ladder": mark("Ladder diagram as left"),
    "tables": mark("Proof, readings, every way looked at"),
    "cautions": mark("Cautions"),
    "table": mark("Table"),
    # Work.
    "met": mark("{met} of {all} steps met"),
    "left_behind": mark("{count} earlier results belong to another wiring and count for nothing now."),
    "day": mark("The day of the work"),
    "day_hint": mark("The calls to be tried follow from the weather; what needs a licence is marked."),
    "season": mark("Weather"),
    "not_known": mark("not known"),
    "outdoor": mark("Outdoor temperature, {degrees}"),
    "licences": mark("Licences of whoever works"),
    "keep": mark("Keep"),
    "all_met": mark("Every step is met"),
    "must_read": mark("It must read"),
    "lower": mark("Lower: {meaning}."),
    "higher": mark("Higher: {meaning}."),
    "otherwise": mark("If it is not so:"),
    "source": mark("Source: {source}"),
    "for_whom": mark("For a {who}."),
    "waits_for": mark("It waits for:"),
    "not_met": mark("Not met: {value} {why}"),
    "take_back": mark("Take it back"),
    "lock_out": mark("Off, and lock out again"),
    "who": mark("Name of who did it"),
    "display": mark("The display shows, in {unit}"),
    "enter": mark("Enter"),
    "so": mark("It is so"),
    "done": mark("Done"),
    "not_so": mark("Not so"),
    "not_so_or_skip": mark("Not so, or leave it out"),
    "reason": mark("What is seen instead, or why it is left out"),
    "skip": mark("Leave it out, with this reason"),
    "next_step": mark("To the next step"),
    "all_steps": mark("All {count} steps"),
    # Check.
    "power_off": mark("Power off now"),
    "stays_off": mark("It stays off until the cause is found. Lock out, and prove dead before you touch anything."),
    "passed": mark("{passed} of {all} checks pass"),
    "excluded": mark("{excluded} of {told} wrong landings that do harm are ruled out by the readings so far."),
    "taken_before": mark("{count} readings were taken before wires were touched again; take them anew."),
    "at_site": mark("at {site}; must read {must}"),
    "explained": mark("It would be explained by:"),
    "possible": mark("Still possible, worst first"),
    "untold": mark("No reading tells these: look, and try by hand"),
    "more": mark("and {count} more"),
    "not_here": mark("The search for a fault, what is seen in the calls, comfort and the printed packet need the office's copy."),
    # Hand over.
    "your_name": mark("Your name"),
    "your_name_hint": mark("goes with every entry"),
    "waiting": mark("{count} entries are on this phone only; the office has not got them."),
    "none_waiting": mark("Every entry was handed to the office."),
    "send": mark("Send to the office"),
    "send_hint": mark("Works where this page and the office's app have the same address, and you are signed in there."),
    "sending": mark("Sending ..."),
    "sent": mark("The office has taken {fresh} entries; {here} were there already."),
    "refused": mark("Not taken: {reason}"),
    "sign_in": mark("Sign in to the office's app first, then send again."),
    "to_sign_in": mark("To the app"),
    "no_office": mark("The office cannot be reached from here. Save the entries as a file instead."),
    "save": mark("Save the entries as a file"),
    "save_hint": mark("The office takes the file in at the bottom of its list of jobs, and begins the job from it if need be."),
    "save_survey": mark("Save the survey as a file"),
    "note": mark("A note for the journal"),
    "add_note": mark("Add the note"),
    "to": mark("Handed over to"),
    "record_handover": mark("Record that it was handed over"),
    "handed_to": mark("Handed over to {to}."),
    "history": mark("History"),
    "undo": mark("Take back"),
    "undone": mark("taken back"),
    "end": mark("Local code and the licence rules of the place decide. When in doubt, stop and ask a licensed person."),
    "licences_file": mark("Whose work is in this page"),
}  # fmt: skip
KIND_WORDS = {
    "named": mark("Job named"), "survey_edited": mark("Survey changed"), "step_done": mark("Step told"),
    "step_reopened": mark("Step taken back"), "reading_taken": mark("Reading taken"), "note_made": mark("Note"),
    "setting_made": mark("Day of the work told"), "handed_over": mark("Handed over"), "undone": mark("Taken back"),
}  # fmt: skip


def all_words(code: str) -> dict[str, str]:
    """Return name -> sentence in one language; kinds of entries, seasons and licences under ``kind``, ``season``, ``licence``."""
    groups: dict[str, Mapping[Any, str]] = {"kind": KIND_WORDS, "season": SEASON_WORDS, "licence": LICENCE_WORDS}
    with language(code):
        found = {name: _(text) for name, text in WORDS.items()} | {"pattern": pattern()}
        for group, words in groups.items():
            found |= {f"{group} {name}": _(text) for name, text in words.items()}
    return found


__all__ = ["KIND_WORDS", "WORDS", "all_words"]
