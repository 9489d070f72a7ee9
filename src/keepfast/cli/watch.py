"""``watch`` and ``sun``: trays in progress, and the day's sun, shade and coolest hours."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.race_input import (
    animals_of,
    camp_of,
    is_book,
    moment_of,
    ranged,
    readings_of,
    record_of,
    seeded,
    tell,
)
from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.words import _

if TYPE_CHECKING:
    import datetime
    from collections.abc import Mapping

    from keepfast.book.animals import Animal
    from keepfast.desk.tray_watch import InTrays
    from keepfast.plan.camp import Camp, Reading
    from keepfast.plan.watch import Watch


def register(app: typer.Typer) -> None:
    """Add the commands of the watch."""
    app.command("watch", help=_("Trays in progress: fronts, when they may be left, and whether the spot is too warm."))(
        watch
    )
    app.command("sun", help=_("The sun over the camp: shade through the day, coolest hours, best time to start."))(sun)


def watch(
    list_: Path = typer.Argument(..., metavar="LIST", help=_("The list of the animals in the trays, or a book.")),
    since: list[str] = typer.Option(
        [],
        "--since",
        help=_("When they were covered: TIME for all, FIELD_NUMBER=TIME for one; may be repeated. A book knows it."),
    ),
    camp: Path | None = typer.Option(None, "--camp", help=_("The camp file (TOML).")),
    record: Path | None = typer.Option(None, "--record", help=_("A logger's CSV, unit and zone stated.")),
    reading: list[str] = typer.Option(
        [],
        "--reading",
        help=_("A typed reading TIME=DEGREES, such as 2026-04-18T21:00=24.5, or =76F; may be repeated."),
    ),
    now: str | None = typer.Option(None, "--now", help=_("The moment to look at; the clock's if left out.")),
    shade: float | None = typer.Option(None, "--shade", help=_("How warm the shade is, in °C.")),
    protocol: str | None = typer.Option(None, "--protocol", help=_("A protocol file or folder of your own.")),
    seed: int = typer.Option(1, "--seed", help=_("Seed of the draws behind every band.")),
    json: bool = typer.Option(False, "--json", help=_("Print JSON instead of the summary.")),
) -> None:
    """Look after the trays."""
    from keepfast.exchange.files import origin
    from keepfast.plan.evening import Rules, plan_evening
    from keepfast.plan.watch import watch as look

    if shade is not None:
        ranged("--shade", shade, -5, 50)
    seeded(seed)
    here, findings, inputs = camp_of(camp, None, None)
    animals, starts, held = _in_trays(list_, since, here, inputs)
    if held is not None and camp is None and held.camp:
        here = _camp_of_book(here, held.camp)
    readings = [*(held.readings if held else ()), *here.temperature_record]
    if record is not None:
        logged = record_of(record, here)
        findings += logged.findings
        inputs[logged.name] = logged.sha256
        readings = list(readings_of(logged))
    typed = [_typed(text, here) for text in reading]
    tell(findings)
    when = moment_of("--now", now, here.zone)
    for name, at in starts.items():
        if at > when:
            wrong("--since", _("{name} was covered after the moment to look at").format(name=name), "", at.isoformat())
    _tell_ahead(typed, when)
    evening = plan_evening(animals, here, Rules.load(protocol or here.protocol), start=min(starts.values()))
    plans, trays = evening.animals, evening.table.trays
    if held is not None:
        plans, trays = held.as_they_lie(plans, trays)
    found = look(
        plans,
        camp=here,
        since=starts,
        readings=[*readings, *typed],
        now=when,
        trays=trays,
        shade_c=shade,
        seed=seed,
    )
    if json:
        show_json({**origin(inputs, seed), **found.as_dict()})
        return
    show(_watch_words(found))


def _in_trays(
    path: Path, since: list[str], here: Camp, inputs: dict[str, str]
) -> tuple[tuple[Animal, ...], dict[str, datetime.datetime], InTrays | None]:
    """The animals in the trays, since when, and all that a book has of them."""
    if is_book(path):
        from keepfast.desk.books import open_book
        from keepfast.desk.tray_watch import in_trays

        with open_book(path, read_only=True) as book:
            held = in_trays(book)
        inputs[held.name] = held.sha256
        starts = {**held.since, **_starts(since, [a.field_number for a in held.animals], here)}
        return held.animals, starts, held
    animals, found, name, sha256 = animals_of(path, here)
    inputs[name] = sha256
    tell(found)
    starts = _starts(since, [a.field_number for a in animals], here)
    if not starts:
        wrong("--since", _("nobody has said when they were covered"), _("Say it, such as --since 2026-04-18T19:30."))
    return animals, starts, None


# What a watch asks of a camp that is no matter of the table.
_OF_THE_CAMP = (
    "time_zone",
    "temperature_c",
    "formalin_stock_percent",
    "formalin_stock_ml",
    "working_formalin_percent",
    "working_solution_ml",
)


def _camp_of_book(here: Camp, kept: Mapping[str, Any]) -> Camp:
    """The camp that the book's last evening was planned in, where no camp file was given."""
    told = {name: kept[name] for name in _OF_THE_CAMP if kept.get(name) is not None}
    if not told:
        return here
    say(_("No camp file was given: fixative, temperature and zone are those its evening was planned with."))
    return here.stating(**told)


def _tell_ahead(typed: list[Reading], now: datetime.datetime) -> None:
    """A reading of a later hour than the one looked at is no reading yet."""
    for one in typed:
        if one.at > now:
            say(_("The reading of {at} is after now and is left out.").format(at=one.at.isoformat(" ", "minutes")))


def _typed(text: str, here: Camp) -> Reading:
    import re

    from keepfast.plan.camp import Reading

    at, mark, warm = text.rpartition("=")
    found = re.fullmatch(r"\s*([-+\N{MINUS SIGN}]?\d+(?:[.,]\d+)?)\s*[°º]?\s*([CF]?)\s*", warm, re.IGNORECASE)
    figure = float(found[1].replace(",", ".").replace("\N{MINUS SIGN}", "-")) if found else float("nan")
    if found and found[2] in ("F", "f"):
        figure = (figure - 32.0) / 1.8
    if not mark or not -40 <= figure <= 80:
        wrong("--reading", _("this is no reading"), _("Write it like 2026-04-18T21:00=24.5 (°C) or =76F."), text)
    return Reading(moment_of("--reading", at, here.zone), figure)


def _starts(since: list[str], names: list[str], here: Camp) -> dict[str, datetime.datetime]:
    """When each animal went in; one word for all, a pair for one."""
    answer: dict[str, datetime.datetime] = {}
    for text in since:
        name, mark, at = text.rpartition("=")
        if not mark:
            when = moment_of("--since", text, here.zone)
            answer.update({n: when for n in names if n not in answer})
    for text in since:
        name, mark, at = text.rpartition("=")
        if mark:
            if name not in names:
                wrong("--since", _("the list has no such animal"), ", ".join(names) + ".", name)
            answer[name] = moment_of("--since", at, here.zone)
    return answer


def _long(hours: float) -> str:
    """Hours, or days where hours would say nothing."""
    return _("{hours:.1f} h").format(hours=hours) if hours < 100 else _("{days:.0f} d").format(days=hours / 24)


def _watch_words(found: Watch) -> str:
    """A table that a tired person can read."""
    from keepfast.plan.race_verdict import hours_words

    lines = [
        _("{now}: {warm:.1f} °C now, {high:.1f} °C at the most so far.").format(
            now=found.now.isoformat(" ", "minutes"), warm=found.temperature_c, high=found.highest_c
        )
    ]
    lines += [f"! {alarm}" for alarm in found.alarms]
    lines += [*found.assumptions, ""]
    width = max([len(a.field_number) for a in found.animals] + [6])
    lines.append(
        f"{_('Animal'):<{width}}  {_('in tray'):>8}  {_('stopped'):>8}  {_('half bound'):>10}  {_('free to'):>10}"
        f"  {_('bound to'):>10}  {_('of'):>5}  {_('sheet'):>5}  {_('may leave')}"
    )
    for one in found.animals:
        stopped = min(r.arrested for r in one.regions)
        half = min(r.half_bound for r in one.regions)
        free, bound = one.fronts_mm["free_tenth_mm"].median or 0.0, one.fronts_mm["bound_half_mm"].median or 0.0
        sheet = 100 * (one.sheet_strength.median or 0.0)
        if one.may_leave_now:
            leave = _("now")
        elif one.may_leave_at is not None:
            leave = one.may_leave_at.isoformat(" ", "minutes")[:16]
        elif one.practice_at <= found.now:
            leave = _("to the bath now: the tray alone will not do it")
        else:
            leave = _("not by the tray alone: bath after {time}").format(
                time=one.practice_at.isoformat(" ", "minutes")[:16]
            )
        lines.append(
            f"{one.field_number:<{width}}  {_long(one.hours):>8}  {100 * stopped:>6.0f} %  {100 * half:>8.0f} %"
            f"  {free:>7.1f} mm  {bound:>7.1f} mm  {one.radius_mm:>5.1f}  {sheet:>3.0f} %  {leave}"
        )
    lines += [
        "",
        _("Stopped and half bound: share of the draws, in the weakest region."),
        _("Free to (a tenth of bath strength), bound to (one half): depth below the skin, medians; 0 again once the"),
        _("sheet is spent. Sheet: what is left of its strength at the skin."),
    ]
    gains = [
        (a.field_number, a.shade_gain_h) for a in found.animals if a.shade_gain_h is not None and a.shade_gain_h >= 1
    ]
    if gains:
        lines.append(
            _("Moved to {shade:.0f} °C now, they gain: {gains}.").format(
                shade=found.shade_c, gains=", ".join(f"{n} {hours_words(g)} h" for n, g in gains)
            )
        )
    return "\n".join(lines)


def sun(
    camp: Path | None = typer.Option(None, "--camp", help=_("The camp file (TOML), for place, zone and record.")),
    place: str | None = typer.Option(None, "--place", help=_("LATITUDE,LONGITUDE in degrees instead of the camp's.")),
    date: str | None = typer.Option(None, "--date", help=_("The day, such as 2026-04-18; today if left out.")),
    zone: str | None = typer.Option(None, "--zone", help=_("Time zone such as Europe/Madrid instead of the camp's.")),
    height: float = typer.Option(2.0, "--height", help=_("Height of the tent's ridge, in metres.")),
    bearing: float = typer.Option(90.0, "--bearing", help=_("Bearing along which the ridge runs, in degrees.")),
    record: Path | None = typer.Option(None, "--record", help=_("A logger's CSV, for the coolest hours.")),
    table: float = typer.Option(3.0, "--table", help=_("How long the table takes, in hours.")),
    json: bool = typer.Option(False, "--json", help=_("Print JSON instead of the table.")),
) -> None:
    """Sun, shade and the best time to start."""
    from keepfast.exchange.files import origin

    here, findings, inputs = camp_of(camp, None, record)
    tell(findings)
    latitude, longitude = _place(place, here)
    clock = _zone(zone, here)
    day = _date(date, clock)
    ranged("--height", height, 0.1, 30)
    ranged("--bearing", bearing, 0, 360)
    ranged("--table", table, 0.25, 12)
    answer = _sun_answer(day, latitude, longitude, clock, height, bearing, table, here)
    if json:
        show_json({**origin(inputs), **answer})
        return
    show(_sun_words(answer))


def _place(text: str | None, here: Camp) -> tuple[float, float]:
    if text is None:
        if here.latitude is None or here.longitude is None:
            wrong(
                "--place",
                _("no place is known"),
                _("Give --place 37.93,-6.88, or a camp file with place.latitude and place.longitude."),
            )
        return here.latitude, here.longitude
    parts = text.replace(";", ",").split(",")
    try:
        latitude, longitude = (float(p) for p in parts)
    except ValueError:
        latitude = longitude = float("nan")
    if not (-90 <= latitude <= 90 and -180 <= longitude <= 180):
        wrong("--place", _("this is no place"), _("Write it as 37.93,-6.88: north and east positive."), text)
    return latitude, longitude


def _zone(text: str | None, here: Camp) -> Any:
    from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

    try:
        return ZoneInfo(text) if text is not None else here.zone
    except (ZoneInfoNotFoundError, ValueError):
        wrong("--zone", _("there is no such time zone"), _("Write it as Europe/Madrid, or as UTC."), text)


def _date(text: str | None, clock: Any) -> datetime.date:
    import datetime

    if text is None:
        return datetime.datetime.now(clock).date()
    try:
        day = datetime.date.fromisoformat(text.strip())
    except ValueError:
        wrong("--date", _("this is no date"), _("Write it like 2026-04-18."), text)
    if not 1900 <= day.year <= 2100:
        wrong("--date", _("the sun is reckoned for the years 1900 to 2100"), _("Mend the year."), text)
    return day


def _sun_answer(
    day: datetime.date,
    latitude: float,
    longitude: float,
    clock: Any,
    height: float,
    bearing: float,
    table: float,
    here: Camp,
) -> dict[str, Any]:
    import datetime

    from keepfast.plan.race_verdict import plain
    from keepfast.plan.watch import best_start
    from keepfast.science import sun as suns

    found = suns.day(day, latitude, longitude, clock)
    midnight = datetime.datetime.combine(day, datetime.time(), clock)
    hours = []
    for hour in range(24):
        at = (midnight.astimezone(datetime.UTC) + datetime.timedelta(hours=hour)).astimezone(clock)
        stands = suns.position(at, latitude, longitude)
        if stands.elevation_deg < suns.LOWEST_FOR_SHADE_DEG:
            continue
        falls = suns.shade(stands.azimuth_deg, stands.elevation_deg, height, bearing)
        hours.append(
            {
                "at": at.isoformat(timespec="minutes"),
                "azimuth_deg": round(stands.azimuth_deg, 1),
                "elevation_deg": round(stands.elevation_deg, 1),
                "shade_reach_m": round(falls.reach_m, 2),
                "shade_toward_deg": round(falls.toward_deg, 0),
                "pole_shadow_m": round(falls.length_m, 2),
            }
        )
    answer: dict[str, Any] = {
        "date": day.isoformat(),
        "latitude": latitude,
        "longitude": longitude,
        "time_zone": str(clock),
        "sunrise": found.sunrise,
        "noon": found.noon,
        "sunset": found.sunset,
        "always": found.always,
        "noon_elevation_deg": found.noon_elevation_deg,
        "ridge": {"height_m": height, "bearing_deg": bearing},
        "hours": hours,
        "coolest": None,
    }
    readings = here.temperature_record
    if readings:
        try:
            start, mean = best_start(readings, table, midnight, midnight + datetime.timedelta(hours=24 - table))
        except ValueError:
            return dict(plain(answer))
        answer["coolest"] = {"start": start, "hours": table, "mean_c": mean}
        light = (found.sunrise, found.sunset)
        if light[0] is not None and light[1] is not None:
            latest = light[1] - datetime.timedelta(hours=table)
            if latest > light[0]:
                start, mean = best_start(readings, table, light[0], latest)
                answer["coolest_by_daylight"] = {"start": start, "hours": table, "mean_c": mean}
    return dict(plain(answer))


def compass(bearing_deg: float) -> str:
    """A bearing in words of eight points."""
    points = (
        _("north"),
        _("north-east"),
        _("east"),
        _("south-east"),
        _("south"),
        _("south-west"),
        _("west"),
        _("north-west"),
    )
    return points[round(bearing_deg / 45.0) % 8]


def _sun_words(answer: dict[str, Any]) -> str:
    def clock(text: str | None) -> str:
        return _("none") if text is None else text[11:16]

    lines = [
        _("{date} at {latitude:.3f}, {longitude:.3f} ({zone}): sunrise {up}, noon {noon}, sunset {down}.").format(
            date=answer["date"],
            latitude=answer["latitude"],
            longitude=answer["longitude"],
            zone=answer["time_zone"],
            up=clock(answer["sunrise"]),
            noon=clock(answer["noon"]),
            down=clock(answer["sunset"]),
        )
    ]
    if answer["always"] == "up":
        lines.append(_("The sun does not set on this day."))
    if answer["always"] == "down":
        lines.append(_("The sun does not rise on this day."))
    ridge = answer["ridge"]
    if not answer["hours"]:
        lines.append(_("It never stands high enough for a shade to speak of."))
    else:
        lines += [
            _("Shade of a ridge {height:g} m high that runs along {bearing:.0f}°, level ground:").format(
                height=ridge["height_m"], bearing=ridge["bearing_deg"]
            ),
            "",
        ]
        lines.append(
            f"{_('time'):>6}  {_('sun'):>6}  {_('height'):>7}  {_('shade reaches'):>14}  {_('on the side to')}"
        )
    for one in answer["hours"]:
        side = f"{one['shade_toward_deg']:.0f}° ({compass(one['shade_toward_deg'])})"
        lines.append(
            f"{one['at'][11:16]:>6}  {one['azimuth_deg']:>5.0f}°  {one['elevation_deg']:>6.0f}°"
            f"  {one['shade_reach_m']:>12.1f} m  {side}"
        )
    lines.append("")
    coolest = answer["coolest"]
    if coolest is None:
        lines.append(_("Coolest hours: without a day's record nobody can say; as a rule the last ones before sunrise."))
    else:
        lines.append(
            _("Coolest {hours:g} h: from {start}, {mean:.1f} °C on the mean of the days recorded.").format(
                hours=coolest["hours"], start=clock(coolest["start"]), mean=coolest["mean_c"]
            )
        )
    light = answer.get("coolest_by_daylight")
    if light is not None:
        lines.append(
            _("Coolest by daylight: from {start}, {mean:.1f} °C.").format(
                start=clock(light["start"]), mean=light["mean_c"]
            )
        )
    lines.append(
        _(
            "What lies dead does not wait for a cool hour: start those at once, and keep the rest on ice or alive"
            " till then."
        )
    )
    return "\n".join(lines)
