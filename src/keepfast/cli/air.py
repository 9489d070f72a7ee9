"""``air`` (table, ``decant``, ``spill``, ``limits``): what the work does to the air that people breathe."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import typer

from keepfast.cli.cautions import called_for, show_first_aid
from keepfast.cli.saying import say, show, show_json, wrapped, wrong
from keepfast.words import _

if TYPE_CHECKING:
    import datetime
    from collections.abc import Callable

    from keepfast.plan.air_answer import Air
    from keepfast.plan.camp import Camp
    from keepfast.rules.cautions import Caution

T = TypeVar("T")

_SHELTER = _("Place: open, tarpaulin, tent, tent_one_flap, tent_two_flaps, tent_closed, room or vehicle.")
_SPEED = _("Air speed at the table in m/s, if you know it; 0.06 is still air.")
_VOLUME = _("Volume of the tent or room in m3.")
_CHANGES = _("Air changes an hour, if you know them.")
_OPENING = _("Area of the (smaller) opening in m2.")
_PRESSURE = _("Air pressure in kPa: 101.325 at the sea (taken if left out), about 90 at 1000 m, 70 at 3000 m.")
_CAMP = _("Take place, air, temperature, height, limits and stock from this camp file.")
_LIMIT = _("Whose limits to hold it against (air limits lists them); the strictest is shown in any case.")
_ON = _("The day whose limits hold, such as 2026-04-18; today if left out.")
_CHART = _("Also draw the course of the air: a file ending in .svg or .pdf.")
_JSON = _("Print one JSON object instead of text.")


def register(app: typer.Typer) -> None:
    """Add the commands of the air."""
    group = typer.Typer(
        help=_("What the air at a table will be like: fixing (no subcommand), decanting, a spill, and the limits."),
        invoke_without_command=True,
        rich_markup_mode=None,
    )
    group.callback()(table)
    group.command("decant", help=_("The air of a table at which alcohol is decanted."))(decant)
    group.command("spill", help=_("How long and how far to stay away from a spill."))(spill)
    group.command("limits", help=_("List the limits that are held, with their sources."))(limits)
    app.add_typer(group, name="air")


def _known(path: Path | None) -> Camp:
    """The camp that is stated, or the one of all defaults; what is worth knowing about its file is said."""
    from keepfast.exchange.camp import read_camp

    read = read_camp(path)
    for finding in read.findings:
        say(finding.sentence())
    return read.camp


def _place(
    camp: Camp,
    shelter: str | None,
    air_speed_m_s: float | None,
    volume_m3: float | None,
    air_changes_per_h: float | None,
    opening_m2: float | None,
    pressure_kpa: float | None,
) -> dict[str, Any]:
    """What is known of the place: the options, then the camp. Another place has another size and other air."""
    from keepfast.plan.chapters import place_known

    known = place_known(camp)
    if shelter is not None and shelter != camp.shelter:
        known = {"shelter": shelter, "pressure_kpa": known["pressure_kpa"]}
    stated = {
        "air_speed_m_s": air_speed_m_s,
        "volume_m3": volume_m3,
        "air_changes_per_h": air_changes_per_h,
        "opening_m2": opening_m2,
        "pressure_kpa": pressure_kpa,
    }
    return {**known, **{name: value for name, value in stated.items() if value is not None}}


def table(
    context: typer.Context,
    camp: Path | None = typer.Option(None, "--camp", help=_CAMP),
    tray: list[str] = typer.Option([], "--tray", help=_("A tray in mm, such as 420x297; once for each tray.")),
    trays: int | None = typer.Option(None, "--trays", help=_("How many trays, all of one size (A3 unless --tray).")),
    prick: float = typer.Option(15.0, "--prick", help=_("Minutes of pricking, fixative shut.")),
    fill: float = typer.Option(45.0, "--fill", help=_("Minutes of filling.")),
    pose: float = typer.Option(38.0, "--pose", help=_("Minutes of posing.")),
    cover: float = typer.Option(10.0, "--cover", help=_("Minutes of covering.")),
    clean: float | None = typer.Option(None, "--clean", help=_("Minutes of cleaning up; ten if left out.")),
    formalin: float | None = typer.Option(None, "--formalin", help=_("Working solution: 10 is one part stock in ten.")),
    stock: float | None = typer.Option(None, "--stock", help=_("Formaldehyde in the stock, % by weight.")),
    temperature: float | None = typer.Option(None, "--temperature", help=_("Degrees C at the table.")),
    coolest: float | None = typer.Option(None, "--coolest", help=_("Coolest hour in which it could be done, in C.")),
    shelter: str | None = typer.Option(None, "--shelter", help=_SHELTER),
    air_speed: float | None = typer.Option(None, "--air-speed", help=_SPEED),
    volume: float | None = typer.Option(None, "--volume", help=_VOLUME),
    air_changes: float | None = typer.Option(None, "--air-changes", help=_CHANGES),
    opening: float | None = typer.Option(None, "--opening", help=_OPENING),
    pressure: float | None = typer.Option(None, "--pressure", help=_PRESSURE),
    lids: bool | None = typer.Option(None, "--lids/--no-lids", help=_("Lids on except while hands are inside.")),
    order: str = typer.Option("by_round", "--order", help=_("by_round, tray_by_tray or by_animal.")),
    limit: str | None = typer.Option(None, "--limit", help=_LIMIT),
    on: str | None = typer.Option(None, "--on", help=_ON),
    draws: int = typer.Option(1000, "--draws", help=_("How many draws stand behind every range.")),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws.")),
    limits_file: str = typer.Option("air", "--limits-file", help=_("A file of limits of your own.")),
    shelters_file: str = typer.Option("field", "--shelters-file", help=_("A file of places of your own.")),
    chart: Path | None = typer.Option(None, "--chart", help=_CHART),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """What the air at a table of fixing will be like."""
    if context.invoked_subcommand is not None:
        return
    from keepfast.plan import air
    from keepfast.rules import limits as limits_rules
    from keepfast.rules import shelters as shelters_rules
    from keepfast.science import formalin as formalin_

    known = _known(camp)
    working = known.working_formalin_percent if formalin is None else _working(formalin)
    bottle = known.formalin_stock_percent if stock is None else _bottle(stock)

    def answer() -> Air:
        strength = float(formalin_.formaldehyde_percent_w_v(working, formalin_.percent_w_v(bottle)))
        return air.table_air(
            {"prick": prick, "fill": fill, "pose": pose, "cover": cover, **({} if clean is None else {"clean": clean})},
            _sheets(tray, trays, known),
            percent_w_v=strength,
            temperature_c=known.temperature_c if temperature is None else temperature,
            lids=known.lids if lids is None else lids,
            order=order,  # type: ignore[arg-type]  # refused in table_air when it is none of the three
            coolest_c=coolest,
            jurisdiction=limit or known.jurisdiction,
            on=_day(on),
            draws=_draws(draws),
            seed=_seed(seed),
            limits=limits_rules.load(limits_file),
            shelters=shelters_rules.load(shelters_file),
            **_place(known, shelter, air_speed, volume, air_changes, opening, pressure),
        )

    _finish(_asked(answer), _inputs(known), seed, chart, json)


def _inputs(camp: Camp) -> dict[str, str]:
    return {camp.source_name: camp.sha256} if camp.source_name else {}


def decant(
    minutes: float = typer.Option(30.0, "--minutes", help=_("How long alcohol stands open.")),
    area: float = typer.Option(0.02, "--area", help=_("Open surface in m2; a bowl 16 cm across has 0.02.")),
    camp: Path | None = typer.Option(None, "--camp", help=_CAMP),
    strength: float = typer.Option(70.0, "--strength", help=_("Strength of the alcohol, % by volume.")),
    temperature: float | None = typer.Option(None, "--temperature", help=_("Degrees C at the table.")),
    shelter: str | None = typer.Option(None, "--shelter", help=_SHELTER),
    air_speed: float | None = typer.Option(None, "--air-speed", help=_SPEED),
    volume: float | None = typer.Option(None, "--volume", help=_VOLUME),
    air_changes: float | None = typer.Option(None, "--air-changes", help=_CHANGES),
    opening: float | None = typer.Option(None, "--opening", help=_OPENING),
    pressure: float | None = typer.Option(None, "--pressure", help=_PRESSURE),
    limit: str | None = typer.Option(None, "--limit", help=_LIMIT),
    on: str | None = typer.Option(None, "--on", help=_ON),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws.")),
    chart: Path | None = typer.Option(None, "--chart", help=_CHART),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """The air of a table at which alcohol is decanted."""
    from keepfast.plan import air

    known = _known(camp)

    def answer() -> Air:
        return air.decanting_air(
            minutes,
            area,
            strength_vol=_alcohol(strength),
            temperature_c=known.temperature_c if temperature is None else temperature,
            jurisdiction=limit or known.jurisdiction,
            on=_day(on),
            seed=_seed(seed),
            **_place(known, shelter, air_speed, volume, air_changes, opening, pressure),
        )

    _finish(_asked(answer), _inputs(known), seed, chart, json, called_for(("decant", "first_aid"), "alcohol"))


def spill(
    volume_ml: float = typer.Argument(..., metavar="ML", help=_("What was spilt, in mL.")),
    fluid: str = typer.Option("formalin", "--fluid", help=_("formalin or alcohol.")),
    camp: Path | None = typer.Option(None, "--camp", help=_CAMP),
    formalin: float | None = typer.Option(
        None, "--formalin", help=_("Formalin: 10 is one part stock in ten, 100 the stock.")
    ),
    stock: float | None = typer.Option(None, "--stock", help=_("Formaldehyde in the stock, % by weight.")),
    strength: float = typer.Option(70.0, "--strength", help=_("Alcohol: % by volume.")),
    area: float | None = typer.Option(None, "--area", help=_("Area of the puddle in m2; from its depth if left out.")),
    taken_up: float | None = typer.Option(None, "--taken-up", help=_("Minutes until it is taken up.")),
    temperature: float | None = typer.Option(None, "--temperature", help=_("Degrees C of the floor.")),
    shelter: str | None = typer.Option(None, "--shelter", help=_SHELTER),
    air_speed: float | None = typer.Option(None, "--air-speed", help=_SPEED),
    room: float | None = typer.Option(None, "--volume", help=_VOLUME),
    air_changes: float | None = typer.Option(None, "--air-changes", help=_CHANGES),
    opening: float | None = typer.Option(None, "--opening", help=_OPENING),
    pressure: float | None = typer.Option(None, "--pressure", help=_PRESSURE),
    limit: str | None = typer.Option(None, "--limit", help=_LIMIT),
    on: str | None = typer.Option(None, "--on", help=_ON),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws.")),
    chart: Path | None = typer.Option(None, "--chart", help=_CHART),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """How long and how far to stay away from a spill."""
    from keepfast.exchange.files import origin
    from keepfast.plan import air_spill
    from keepfast.science import formalin as formalin_

    known = _known(camp)
    working = known.working_formalin_percent if formalin is None else _working(formalin)
    bottle = known.formalin_stock_percent if stock is None else _bottle(stock)

    def answer() -> air_spill.Spill:
        if fluid != "formalin":
            wet = _alcohol(strength)
        else:
            wet = float(formalin_.formaldehyde_percent_w_v(working, formalin_.percent_w_v(bottle)))
        return air_spill.spill_air(
            volume_ml,
            fluid=fluid,
            strength=wet,
            temperature_c=known.temperature_c if temperature is None else temperature,
            taken_up_min=taken_up,
            area_m2=area,
            jurisdiction=limit or known.jurisdiction,
            on=_day(on),
            seed=_seed(seed),
            **_place(known, shelter, air_speed, room, air_changes, opening, pressure),
        )

    found = _asked(answer)
    called = called_for(("spill", "first_aid"), fluid)
    data = {**found.as_dict(), "cautions": [c.as_dict() for c in called], "origin": origin(_inputs(known), seed)}
    _write_chart(data, chart, _("After a spill"))
    if json:
        show_json(data)
        return
    show(wrapped(found.line))
    show("")
    show(_("Against each limit"))
    for one in data["away"]:
        show(wrapped(one["words"], "  "))
    show("")
    show(_("What to do"))
    for caution in called:
        if "first_aid" not in caution.steps:
            show(wrapped(_(caution.text), "  "))
    show_first_aid(called)
    _show_rest(found.warnings, found.questions, found.assumptions)


def limits(
    substance: str | None = typer.Option(None, "--substance", help=_("formaldehyde or ethanol; both if left out.")),
    on: str | None = typer.Option(None, "--on", help=_ON),
    limits_file: str = typer.Option("air", "--limits-file", help=_("A file of limits of your own.")),
    json: bool = typer.Option(False, "--json", help=_JSON),
) -> None:
    """List the limits that are held."""
    import datetime

    from keepfast.plan import air_words
    from keepfast.rules import limits as limits_rules

    held = limits_rules.load(limits_file)
    day = _day(on) or datetime.date.today()
    substances = tuple(dict.fromkeys(row.substance for row in held.limits))
    if substance is not None and substance not in substances:
        wrong("--substance", _("no limits are held for this"), ", ".join(substances) + ".", substance)
    rows = [row for name in substances if substance in (None, name) for row in held.of(name, on=day)]
    duties = [duty for duty in held.duties if substance in (None, duty.substance)]
    if json:
        show_json(
            {
                "on": day.isoformat(),
                "rules": held.file.identity,
                "limits": [row.as_dict() for row in rows],
                "duties": [duty.as_dict() for duty in duties],
            }
        )
        return
    show(_("Limits of vapours in air on {day}, file {name} of {date}.").format(day=day, **_named(held.file.identity)))
    for row in rows:
        law = _("law") if row.binding else _("advice")
        also = f" ({row.also})" if row.also else ""
        show("")
        show(
            f"  {row.substance}, {row.body}: {_(row.body_name)}, {row.minutes:g} min:"
            f" {row.value:g} {row.unit}{also}, {law}"
        )
        if row.note:
            show(wrapped(_(row.note), "    "))
        show(wrapped(f"{row.source} ({row.known})", "    "))
    if duties:
        show("")
        show(_("What hangs on a figure besides"))
        for duty in duties:
            show(wrapped(air_words.duty(duty), "  "))


def _asked(answer: Callable[[], T]) -> T:
    """The answer; a number that a model refuses ends in its own one line."""
    try:
        return answer()
    except ValueError as problem:
        name, _gap, rest = str(problem).partition(" ")
        wrong(name, rest or str(problem))


def _named(identity: dict[str, str]) -> dict[str, str]:
    return {"name": identity["name"], "date": identity["date"]}


def _sheets(tray: list[str], trays: int | None, camp: Any) -> list[float]:
    """Areas of the sheets in m2."""
    sizes = []
    for text in tray:
        width, _by, height = text.lower().replace("×", "x").partition("x")
        try:
            sizes.append((float(width), float(height)))
        except ValueError:
            wrong("--tray", _("a tray is width x height in mm"), _("Write it like 420x297."), text)
        if not all(50 <= side <= 3000 for side in sizes[-1]):
            wrong("--tray", _("the sides of a tray are from 50 to 3000 mm"), _("Write them in mm."), text)
    if trays is not None and not 1 <= trays <= 100:
        wrong("--trays", _("1 to 100 trays are possible"), _("Mend the number."), str(trays))
    if not sizes:
        kind = camp.trays[0]
        sizes = [(kind.width_mm, kind.height_mm)] * (2 if trays is None else trays)
    elif trays is not None:
        if len(sizes) > 1:
            wrong("--trays", _("several sizes and a number of trays do not go together"), _("Leave one out."))
        sizes = sizes * trays
    return [width * height / 1e6 for width, height in sizes]


def _day(text: str | None) -> datetime.date | None:
    import datetime

    if text is None:
        return None
    try:
        return datetime.date.fromisoformat(text.strip())
    except ValueError:
        wrong("--on", _("this is no date"), _("Write it like 2026-04-18."), text)


def _working(formalin: float) -> float:
    """Volumes of stock in 100; a fraction would make the air look a hundred times better than it is."""
    if not 0.5 <= formalin <= 100:
        slip = _("This looks like a fraction: write {percent:g}.").format(percent=100 * formalin)
        remedy = slip if 0 < formalin < 0.5 else _("10 is one part stock in ten.")
        wrong("--formalin", _("formalin goes from 0.5 to 100 %"), remedy, f"{formalin:g}")
    return formalin


def _bottle(stock: float) -> float:
    """Formaldehyde in the stock, % by weight: the bottle's own figure, not what was mixed from it."""
    if not 20 <= stock <= 40:
        slip = _("This looks like a fraction: write {percent:g}.").format(percent=100 * stock)
        remedy = slip if 0 < stock <= 0.4 else _("The figure on the bottle is wanted; it is about 37.")
        wrong("--stock", _("a bottle of formalin holds 20 to 40 % formaldehyde"), remedy, f"{stock:g}")
    return stock


def _alcohol(strength: float) -> float:
    """Strength of the alcohol, % vol."""
    if not 1 < strength <= 100:
        slip = _("This looks like a fraction: write {percent:g}.").format(percent=100 * strength)
        remedy = slip if 0 < strength <= 1 else _("The figure on the can is wanted.")
        wrong("--strength", _("a strength goes from 1 to 100 % vol"), remedy, f"{strength:g}")
    return strength


def _draws(draws: int) -> int:
    if not 10 <= draws <= 100_000:
        wrong("--draws", _("10 to 100000 draws are possible"), _("Mend the number."), str(draws))
    return draws


def _seed(seed: int) -> int:
    if seed < 0:
        wrong("--seed", _("a seed is 0 or more"), _("Mend the number."), str(seed))
    return seed


def _finish(
    found: Air,
    inputs: dict[str, str],
    seed: int,
    chart: Path | None,
    json: bool,
    called: tuple[Caution, ...] = (),
) -> None:
    from keepfast.exchange.files import origin
    from keepfast.plan import air_words

    data = {**found.as_dict(), "origin": origin(inputs, seed)}
    if called:
        data["cautions"] = [caution.as_dict() for caution in called]
    _write_chart(data, chart, None)
    if json:
        show_json(data)
        return
    show(wrapped(found.line))
    show("")
    where = {"near": _("at the face"), "far": _("the rest")}
    for exposure in found.exposures:
        span = air_words.span_words(exposure.minutes)
        show(f"  {where[exposure.where]:<12} {span:>6}   {air_words.band(exposure.ppm)}")
        for one in exposure.against:
            show(wrapped(air_words.against(one.word, one.limit), " " * 24))
    if found.helps:
        show("")
        show(_("What helps most, in order (worst 15 min at the face)"))
        for one in (*found.helps, *((found.together,) if found.together else ())):
            show(
                f"  {air_words.figure(one.times_less):>5} "
                + _("times less: {words}, about {band}").format(
                    words=one.words, band=air_words.band(one.near_15_min_ppm)
                )
            )
    if found.duties:
        show("")
        show(_("What the chosen limits ask for besides"))
        for duty in found.duties:
            show(wrapped(air_words.duty(duty), "  "))
    if called:
        show("")
        show(_("Take care"))
        for caution in called:
            if "first_aid" not in caution.steps:
                show(wrapped(_(caution.text), "  "))
        show_first_aid(called)
    _show_rest(found.warnings, found.questions, found.assumptions)


def _show_rest(warnings: tuple[str, ...], questions: tuple[str, ...], assumptions: tuple[str, ...]) -> None:
    for title, lines in (
        (_("To mind"), warnings),
        (_("What would make this firmer"), questions),
        (_("What was taken"), assumptions),
    ):
        if lines:
            show("")
            show(title)
            for line in lines:
                show(wrapped(line, "  "))


def _write_chart(data: dict[str, Any], chart: Path | None, title: str | None) -> None:
    if chart is None:
        return
    from keepfast.exchange.files import write_file
    from keepfast.paper import air_chart

    if chart.suffix.lower() not in (".svg", ".pdf"):
        wrong("--chart", _("the chart is drawn as SVG or PDF"), _("Name a file that ends in .svg or .pdf."), str(chart))
    page = air_chart.draw(data, title=title)
    if chart.suffix.lower() == ".svg":
        from keepfast.paper import svg

        write_file(chart, svg.render(page).encode())
    else:
        from keepfast.paper import pdf

        write_file(chart, pdf.render([page]))
    say(_("The chart is in {file}.").format(file=chart))
