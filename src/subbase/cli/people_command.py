"""``subbase people``: who may sign in to the app."""

from __future__ import annotations

import sys
from typing import TYPE_CHECKING

import click

from subbase.cli.journal_shell import opened_journal
from subbase.cli.shell import json_option, print_json, say
from subbase.words import _

if TYPE_CHECKING:
    from subbase.journal.accounts import Account
    from subbase.journal.store import Journal

journal_option = click.option(
    "--journal", "place", metavar="FILE", envvar="SUBBASE_JOURNAL",
    help="The journal's file, or a PostgreSQL URL; SUBBASE_JOURNAL or your own data folder when left out.",
)  # fmt: skip
first_option = click.option(
    "--first",
    is_flag=True,
    help="Make up a password that is good for seven days and has to be changed when it is used.",
)
name_argument = click.argument("name", metavar="NAME")


@click.group()
def people() -> None:
    """Add, list and close the accounts of people who sign in to the app.

    \b
    Example:  subbase people add ann --role office
    """


@people.command("add")
@name_argument
@click.option(
    "--role",
    type=click.Choice(["installer", "office"]),
    default="installer",
    show_default=True,
    help="An installer sees the jobs begun by or given to them; the office sees all, adds people and reads the record.",
)
@first_option
@journal_option
@json_option
def add(name: str, role: str, first: bool, place: str | None, as_json: bool) -> None:
    """Make an account for NAME. The password is asked for, or read from what is piped in: never given as an argument.

    \b
    Example:  subbase people add ann --role office
    """
    from subbase.journal import accounts as who

    password = _password(first)
    with opened_journal(place, as_json=as_json, create=True) as journal:
        made = who.add_account(journal, name, "office" if role == "office" else "installer", password, first=first)
    _say_password(made, password if first else "", as_json=as_json)


@people.command("list")
@journal_option
@json_option
def list_people(place: str | None, as_json: bool) -> None:
    """List the accounts.

    \b
    Example:  subbase people list
    """
    from subbase.journal import accounts as who

    with opened_journal(place, as_json=as_json) as journal:
        found = who.accounts(journal)
    if as_json:
        print_json({"format": 1, "people": [_data(item) for item in found]})
        return
    for item in found:
        state = _("closed") if not item.active else _("first password") if item.first else _("open")
        say(f"{item.name}  {item.role}  {state}" + (f"  {_('code at sign-in')}" if item.codes else ""))
    if not found:
        click.echo(_("There is no account yet. Make the first one with: subbase people add NAME --role office"))


@people.command("reset")
@name_argument
@first_option
@journal_option
@json_option
def reset(name: str, first: bool, place: str | None, as_json: bool) -> None:
    """Set a new password for NAME; every session and token of theirs ends.

    \b
    Example:  subbase people reset ann --first
    """
    from subbase.journal import accounts as who

    password = _password(first)
    with opened_journal(place, as_json=as_json) as journal:
        found = _named(journal, name)
        who.set_password(journal, found.id, password, first=first)
    _say_password(found, password if first else "", as_json=as_json)


@people.command("close")
@name_argument
@click.option("--open-again", is_flag=True, help="Open a closed account again.")
@journal_option
@json_option
def close(name: str, open_again: bool, place: str | None, as_json: bool) -> None:
    """Close the account of NAME: nobody can sign in with it, and every session and token of theirs ends.

    \b
    Example:  subbase people close ann
    """
    from subbase.journal import accounts as who

    with opened_journal(place, as_json=as_json) as journal:
        found = _named(journal, name)
        who.set_active(journal, found.id, open_again)
    if as_json:
        print_json({"format": 1, "name": found.name, "active": open_again})
        return
    said = _("The account of {name} is open again.") if open_again else _("The account of {name} is closed.")
    say(said.format(name=found.name))


@people.command("codes-off")
@name_argument
@journal_option
@json_option
def codes_off(name: str, place: str | None, as_json: bool) -> None:
    """Ask NAME for no code at sign-in any more: the device that shows it is lost.

    \b
    Example:  subbase people codes-off ann
    """
    from subbase.journal.second_factor import turn_codes_off

    with opened_journal(place, as_json=as_json) as journal:
        found = _named(journal, name)
        turn_codes_off(journal, found.id)
    if as_json:
        print_json({"format": 1, "name": found.name, "codes": False})
        return
    say(_("{name} is asked for no code at sign-in any more.").format(name=found.name))


def _password(first: bool) -> str:
    """Return a password: made up, asked for twice, or the first line of what is piped in."""
    from subbase.journal.passwords import first_password

    if first:
        return first_password()
    if sys.stdin.isatty():
        said: str = click.prompt(_("Password"), hide_input=True, confirmation_prompt=True)
        return said
    return sys.stdin.readline(1000).rstrip("\r\n")


def _named(journal: Journal, name: str) -> Account:
    from subbase.errors import Fault, InputError
    from subbase.journal import accounts as who

    found = who.account_named(journal, name)
    if found is None:
        raise InputError((Fault(_("There is no account named '{name}'.").format(name=name)),))
    return found


def _say_password(account: Account, password: str, *, as_json: bool) -> None:
    if as_json:
        print_json({"format": 1, **_data(account), **({"first_password": password} if password else {})})
        return
    say(_("The account of {name} is ready.").format(name=account.name))
    if password:
        say(_("First password, good for seven days: {password}").format(password=password))


def _data(account: Account) -> dict[str, object]:
    return {"name": account.name, "role": account.role, "active": account.active, "codes": account.codes}
