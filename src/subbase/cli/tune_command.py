"""``subbase tune``: how the control is set for the equipment and the house."""

from __future__ import annotations

import datetime
import math
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from subbase.cli.shell import (
    bad_input_refused,
    catalogue_option,
    file_argument,
    json_option,
    plan_or_leave,
    print_json,
    refuse_writing,
    say,
)
from subbase.files import write_whole
from subbase.words import _

if TYPE_CHECKING:
    from subbase.comfort.setting_records import Facts

PRICES = ("electricity", "fuel", "efficiency")
_positive = click.FloatRange(min=0.0, min_open=True)


def _three(_context: click.Context, option: click.Parameter, value: str | None) -> tuple[float, float, float] | None:
    """Return three numbers above zero, at 17, 35 and 47 °F."""
    if value is None:
        return None
    try:
        found = [float(part) for part in value.split(",")]
    except ValueError:
        found = []
    if len(found) != 3 or not all(0.0 < number < 1e7 for number in found):
        message = _("{value!r} must be three numbers above zero, at 17, 35 and 47 °F: 22000,31000,36000.").format(
            value=value
        )
        raise click.BadParameter(message, param=option)
    return found[0], found[1], found[2]


def _ask_all(context: click.Context, _option: click.Parameter, value: bool) -> None:
    if not value or context.resilient_parsing:
        return
    from subbase.cli.tune_text import questions_text

    say(questions_text())
    context.exit()


@click.command()
@file_argument
@click.option("--heat-loss", type=_positive, metavar="BTU/H", help="The house's heat loss at --design.")
@click.option(
    "--design", type=click.FloatRange(-80, 59), metavar="F", help="Outdoor design temperature of --heat-loss."
)
@click.option(
    "--capacity", callback=_three, metavar="AT17,AT35,AT47", help="The outdoor unit's heat at 17, 35 and 47 °F [Btu/h]."
)
@click.option("--power", callback=_three, metavar="AT17,AT35,AT47", help="What it draws there [W].")
@click.option("--electricity", type=_positive, metavar="PRICE", help="Price of a kWh, for the change to a second fuel.")
@click.option("--fuel", type=_positive, metavar="PRICE", help="Price of a therm (100,000 Btu) of the second fuel.")
@click.option(
    "--efficiency", type=click.FloatRange(0, 1, min_open=True), metavar="SHARE", help="Of the burner, such as 0.95."
)
@click.option(
    "--know",
    multiple=True,
    metavar="KEY=VALUE",
    help="What is known of house, people, equipment and prices; --questions lists the keys. With 'area' the year is run.",
)
@click.option(
    "--questions",
    is_flag=True,
    is_eager=True,
    expose_value=False,
    callback=_ask_all,
    help="List what --know takes, and leave.",
)
@click.option(
    "--weather", type=click.Path(path_type=Path), metavar="EPW", help="A year of weather; a made-up one when left out."
)
@click.option(
    "--log",
    type=click.Path(path_type=Path),
    metavar="CSV",
    help="Indoor and outdoor temperature and run time, 5 minutes to 1 hour apart: tells loss and time constants.",
)
@click.option("--units", type=click.Choice(["us", "si"]), help="Of --know and of the text; the survey's when left out.")
@click.option(
    "--out", type=click.Path(path_type=Path), metavar="DIR", help="Write text, data, PDF, charts and calendars there."
)
@click.option("--date", type=click.DateTime(["%Y-%m-%d"]), help="First day of the calendars; today when left out.")
@json_option
@catalogue_option
def tune(file: Path, folders: tuple[Path, ...], *, as_json: bool, **known: Any) -> None:
    """Say how the control is set for its equipment and its house.

    Stages, changeover, fan, cycle rates and times follow from FILE. Lockouts, the
    change to a second fuel and the schedule need the house: give what is known of
    it with --know (a floor area is enough to begin with) and --weather; what is
    not known is asked for, with a safe value until then. With --log, what the
    house did tells what it is.

    \b
    Exit codes: 0 settings are told, 2 the input cannot be read, 3 the plan stops,
    4 the plan has an open question.

    \b
    Example:  subbase tune examples/12-heat-pump-with-strips.yaml --out out
              subbase tune examples/12-heat-pump-with-strips.yaml --know area=1900 --know built=1985
              subbase tune examples/12-heat-pump-with-strips.yaml --heat-loss 36000 --design 5 --capacity 22000,31000,36000
    """
    out, date = known.pop("out"), known.pop("date")
    asked = {name: known.pop(name) for name in ("know", "weather", "log", "units")}
    facts = _facts(known)
    made = plan_or_leave(file, folders, as_json=as_json)
    from subbase.cli.tune_text import calendars, tune_text
    from subbase.cli.tune_work import work_out
    from subbase.papers.data_tune import TunedShape, TuneShape
    from subbase.papers.tune_pages import settings_pdf

    with bad_input_refused(as_json=as_json):
        worked = work_out(made, facts, asked)
    units = worked.units
    controls = [TunedShape.of(item.tuning, item.found, item.learnt) for item in worked.done]
    shape, text = TuneShape.filled(made, controls=controls), tune_text(made.survey.name, worked.done, units)
    if out is not None:
        day = date.date() if date is not None else datetime.datetime.now(tz=datetime.UTC).date()
        files = {"tune.txt": f"{text}\n"} | calendars(made.survey.name, worked.done, day, units)
        raw = {name: content.encode() for name, content in files.items()} | {"tune.json": shape.as_file()}
        raw["settings.pdf"] = settings_pdf(made, [(item.tuning, item.found) for item in worked.done], date=day)
        try:
            out.mkdir(parents=True, exist_ok=True)
            for name, content in raw.items():
                write_whole(out / name, content)
        except OSError as error:
            refuse_writing(out, error, as_json=as_json, what="The settings")
    if as_json:
        print_json(shape.plain())
    else:
        say(text)
        if out is not None:
            say("\n" + _("Settings, charts and calendars are in {out}.").format(out=out))


def _facts(known: dict[str, Any]) -> Facts:
    """Return what is known in SI, or leave with a sentence on what must come together."""
    for name, value in known.items():
        if isinstance(value, float) and not math.isfinite(value):
            option = name.replace("_", "-")
            raise click.UsageError(_("--{option} is {value}; it must be a number.").format(option=option, value=value))
    _together(known, ("heat_loss", "design"))
    _together(known, PRICES)
    if known["power"] and not known["capacity"]:
        raise click.UsageError(_("--power needs --capacity: both stand on the outdoor unit's data sheet."))
    if known["fuel"] and not known["power"]:
        raise click.UsageError(_("Prices need --capacity and --power: they are weighed against the heat pump's COP."))
    from subbase.comfort.balance import load_line
    from subbase.comfort.equipment import W_PER_BTU_H, HeatPumpRating
    from subbase.comfort.setting_records import NO_HEAT_ABOVE_F, Facts

    load = rating = None
    if known["heat_loss"]:
        no_heat_c = (NO_HEAT_ABOVE_F - 32.0) / 1.8
        load = load_line(known["heat_loss"] * W_PER_BTU_H, (known["design"] - 32.0) / 1.8, no_heat_c)
    if known["capacity"]:
        heat = [value * W_PER_BTU_H for value in known["capacity"]]
        # Power is only looked at beside prices, and cooling not at all.
        power = known["power"] or (0.0, 0.0, 0.0)
        rating = HeatPumpRating(heat[0], heat[1], heat[2], power[0], power[1], power[2], 0.0, 0.0)
    return Facts(load, rating, known["electricity"], known["fuel"], known["efficiency"])


def _together(known: dict[str, Any], names: tuple[str, ...]) -> None:
    given = [name for name in names if known[name] is not None]
    if given and len(given) < len(names):
        options = ", ".join(f"--{name.replace('_', '-')}" for name in names)
        raise click.UsageError(_("{options} belong together; give all of them or none.").format(options=options))
