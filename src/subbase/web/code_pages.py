"""Setting up, and turning off, the code that is asked for at sign-in after the password."""

from __future__ import annotations

import base64
from dataclasses import replace

from fastapi import APIRouter, Request, Response

from subbase.journal.accounts import Account
from subbase.journal.second_factor import begin_codes, device_address, key_to_set_up, turn_codes_off, turn_codes_on
from subbase.journal.store import Journal
from subbase.papers.landing_code import code_svgs
from subbase.web.account_pages import account_answer, password_refused
from subbase.web.asking import AuditHere, CallerHere, OfficeHere, PersonHere
from subbase.web.sign_in import Code, Password
from subbase.words import _

router = APIRouter()


@router.post("/account/codes")
def begin(request: Request, office: OfficeHere, person: PersonHere, current: Password) -> Response:
    """Show a new key for a device, as a QR symbol and as letters; nothing is asked for until the device showed a code."""
    refused = password_refused(request, office, person, current)
    if refused is not None:
        return refused
    begin_codes(office.journal, person.id)
    return account_answer(request, office.journal, setting_up=_to_set_up(office.journal, person))


@router.post("/account/codes/on")
def turn_on(
    request: Request, office: OfficeHere, caller: CallerHere, audit: AuditHere, person: PersonHere, code: Code
) -> Response:
    """Ask for codes from now on, when the device shows the right one; the spare codes are shown this once."""
    spare = turn_codes_on(office.journal, person.id, code)
    if not spare:
        said = _("This is not the code of now. Is the device's clock right? Try the next one.")
        to_set_up = _to_set_up(office.journal, person)
        return account_answer(request, office.journal, status=422, said=said, setting_up=to_set_up)
    audit.did(caller, "turned codes on")
    request.state.person = replace(person, codes=True)
    return account_answer(request, office.journal, spare=spare)


@router.post("/account/codes/off")
def turn_off(
    request: Request, office: OfficeHere, caller: CallerHere, audit: AuditHere, person: PersonHere, current: Password
) -> Response:
    """Ask for no code any more."""
    refused = password_refused(request, office, person, current)
    if refused is not None:
        return refused
    turn_codes_off(office.journal, person.id)
    audit.did(caller, "turned codes off")
    request.state.person = replace(person, codes=False)
    return account_answer(request, office.journal)


def _to_set_up(journal: Journal, person: Account) -> dict[str, str] | None:
    """Return the key in groups of four and its QR symbol as an address of data; None when there is nothing to set up."""
    key = key_to_set_up(journal, person.id)
    if not key:
        return None
    ((svg, _side),) = code_svgs([device_address(key, person.name)])
    symbol = "data:image/svg+xml;base64," + base64.b64encode(svg.encode()).decode()
    return {"key": " ".join(key[at : at + 4] for at in range(0, len(key), 4)), "symbol": symbol}
