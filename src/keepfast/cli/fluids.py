"""``mix``: cards for alcohol and formalin, and the reading that proves them."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import typer

from keepfast.cli.fluid_check import mix_check, mix_together, read_strength
from keepfast.cli.fluid_input import Reader, refusing
from keepfast.cli.saying import say, show, show_json, wrong
from keepfast.words import _

if TYPE_CHECKING:
    from keepfast.plan.mixing import MixingCard
    from keepfast.rules.cautions import Caution
    from keepfast.rules.fluids import FluidRules, Vessel

_VESSEL_HELP = _("A measure at hand, such as 2L or 2L/20mL (holds/finest mark); repeat it. The rules' own if left out.")
_RULES_HELP = _("A fluids file of your own.")
_JSON_HELP = _("Print the answer as JSON.")
_TEMPERATURE_HELP = _("Temperature of everything, in °C.")
_PDF_HELP = _("Also write the card as a printable PDF, and the same in plain words beside it as .txt.")


def register(app: typer.Typer) -> None:
    """Add the commands of fluids."""
    group = typer.Typer(
        help=_("Mix alcohol or formalin, and prove the mix by a reading."), no_args_is_help=True, rich_markup_mode=None
    )
    group.command("alcohol", help=_("A card for diluting alcohol with water."))(mix_alcohol)
    group.command("formalin", help=_("A card for working formalin, buffered, from a bottle or from powder."))(
        mix_formalin
    )
    group.command("check", help=_("What a reading of strength or pH means, and what mends it."))(mix_check)
    group.command("together", help=_("What several liquids make together, and what mends it."))(mix_together)
    app.add_typer(group, name="mix")


def mix_alcohol(
    stock: str | None = typer.Option(None, "--stock", help=_("Strength of the stock by its label, % vol.")),
    target: str = typer.Option(..., "--target", help=_("Strength wanted, % vol.")),
    volume: str | None = typer.Option(None, "--volume", help=_("How much is wanted, such as 12L, as it stands.")),
    use_up: str | None = typer.Option(None, "--use-up", help=_("Or: how much stock to use up, such as 5L.")),
    temperature: str = typer.Option("20", "--temperature", help=_TEMPERATURE_HELP),
    stock_density: str | None = typer.Option(
        None, "--stock-density", help=_("Instead of the label: the stock's density in kg/m³ at this temperature.")
    ),
    stock_hydrometer: str | None = typer.Option(
        None, "--stock-hydrometer", help=_("Instead of the label: what a glass hydrometer shows in the stock now.")
    ),
    glass: str = typer.Option("soda-lime", "--glass", help=_("Glass of the hydrometer: soda-lime or borosilicate.")),
    denatured: bool = typer.Option(False, "--denatured", help=_("The stock holds more than ethanol and water.")),
    vessel: list[str] = typer.Option([], "--vessel", help=_VESSEL_HELP),
    pdf: Path | None = typer.Option(None, "--pdf", help=_PDF_HELP),
    paper: str = typer.Option("a4", "--paper", help=_("Paper of the PDF: a4 or letter.")),
    rules: str = typer.Option("field", "--rules", help=_RULES_HELP),
    json: bool = typer.Option(False, "--json", help=_JSON_HELP),
) -> None:
    """A card for diluting alcohol."""
    from keepfast.plan import mixing
    from keepfast.rules import fluids
    from keepfast.science import alcohol

    reader = Reader()
    t = reader.temperature_c("--temperature", temperature, 0.0, alcohol.HIGHEST_C)
    q_target = reader.strength("--target", target)
    q_stock, known = _stock_strength(reader, stock, stock_density, stock_hydrometer, t, glass, denatured)
    if (volume is None) == (use_up is None):
        reader.wrong(
            "--volume",
            _("say how much is wanted, or how much stock to use up"),
            _("Such as --volume 12L."),
            "nothing" if volume is None else f"{volume}, {use_up}",
        )
    wanted = reader.volume_ml("--volume", volume) if volume is not None else float("nan")
    spare = reader.volume_ml("--use-up", use_up) if use_up is not None else float("nan")
    measures = _vessels(reader, vessel)
    if not reader.found and q_target > q_stock:
        reader.wrong(
            "--target",
            _("the stock ({stock:g} %) is weaker than what is wanted; with it 1 to {stock:g} % can be made").format(
                stock=round(q_stock, 2)
            ),
            _("Take a stronger stock, or check that the two were not swapped."),
            target,
        )
    reader.done()
    practice = fluids.load(rules)
    if use_up is not None:
        wanted = spare / float(refusing(lambda: alcohol.dilute(q_stock, q_target, 1.0, t).stock_ml))
    card = refusing(
        lambda: mixing.alcohol_card(
            q_stock,
            q_target,
            wanted,
            t,
            practice,
            measures or practice.vessels,
            _cautions("alcohol", ("mix", "decant")),
            stock_known=known,
            denatured=denatured,
            glass=glass,
        ),
    )
    _answer(card, practice, pdf, paper, json)


def _stock_strength(
    reader: Reader,
    stock: str | None,
    density: str | None,
    hydrometer: str | None,
    t: float,
    glass: str,
    denatured: bool,
) -> tuple[float, str]:
    from keepfast.science import alcohol

    given = [
        name
        for name, value in (("--stock", stock), ("--stock-density", density), ("--stock-hydrometer", hydrometer))
        if value is not None
    ]
    if glass not in alcohol.GLASSES:
        reader.wrong("--glass", _("the glass is soda-lime or borosilicate"), _("Most are soda-lime."), glass)
        return float("nan"), ""
    if len(given) != 1:
        reader.wrong(
            "--stock",
            _("one of --stock, --stock-density and --stock-hydrometer is wanted"),
            _("Give the label's strength, or one reading."),
            ", ".join(given) or "nothing",
        )
        return float("nan"), ""
    if stock is not None:
        return reader.strength("--stock", stock), _("certificate") if denatured else _("by its label")
    if denatured:
        reader.wrong(
            given[0],
            _("a reading cannot tell the strength of denatured alcohol"),
            _("Give the ethanol content of the certificate with --stock."),
            density or hydrometer,
        )
        return float("nan"), ""
    value = (
        reader.density("--stock-density", density)
        if density is not None
        else reader.strength("--stock-hydrometer", hydrometer or "", low=0.0)
    )
    if reader.found:
        return float("nan"), ""
    return read_strength(reader, given[0], value, t, glass, density is not None)


def mix_formalin(
    volume: str = typer.Option(..., "--volume", help=_("How much is wanted, such as 5L.")),
    formalin: str | None = typer.Option(
        None, "--formalin", help=_("Strength as formalin: volumes of stock in 100. 10 if neither strength is given.")
    ),
    formaldehyde: str | None = typer.Option(
        None, "--formaldehyde", help=_("Or: strength as formaldehyde, grams in 100 mL, such as 4.")
    ),
    label: str | None = typer.Option(None, "--label", help=_("The figure on the bottle, such as 37.")),
    basis: str | None = typer.Option(None, "--basis", help=_("What the label's figure is: w/w or w/v.")),
    minimum: bool = typer.Option(False, "--minimum", help=_("The label says 'not less than'.")),
    methanol: str | None = typer.Option(None, "--methanol", help=_("Methanol in the bottle, % by weight.")),
    stock_density: str | None = typer.Option(
        None, "--stock-density", help=_("The bottle's density by its certificate, g/mL.")
    ),
    buffer: str = typer.Option("phosphate", "--buffer", help=_("phosphate, borax, marble, seawater or none.")),
    monobasic: str = typer.Option("", "--monobasic", help=_("Formula on the acid salt's tin, such as NaH2PO4.H2O.")),
    dibasic: str = typer.Option("", "--dibasic", help=_("Formula on the other tin, such as Na2HPO4.7H2O.")),
    ph: str | None = typer.Option(None, "--ph", help=_("Another pH than the recipe's, 6 to 8.")),
    paraformaldehyde: bool = typer.Option(False, "--paraformaldehyde", help=_("From powder instead of a bottle.")),
    assay: str = typer.Option("95", "--assay", help=_("Formaldehyde in the powder by its label, %.")),
    temperature: str = typer.Option("20", "--temperature", help=_TEMPERATURE_HELP),
    vessel: list[str] = typer.Option([], "--vessel", help=_VESSEL_HELP),
    pdf: Path | None = typer.Option(None, "--pdf", help=_PDF_HELP),
    paper: str = typer.Option("a4", "--paper", help=_("Paper of the PDF: a4 or letter.")),
    rules: str = typer.Option("field", "--rules", help=_RULES_HELP),
    json: bool = typer.Option(False, "--json", help=_JSON_HELP),
) -> None:
    """A card for working formalin."""
    from keepfast.plan import mixing_formalin
    from keepfast.rules import fluids

    reader = Reader()
    practice = fluids.load(rules)
    t = reader.temperature_c("--temperature", temperature, 0.0, 40.0)
    much = reader.volume_ml("--volume", volume)
    measures = _vessels(reader, vessel)
    if formalin is not None and formaldehyde is not None:
        reader.wrong(
            "--formalin",
            _("formalin and formaldehyde are two names of one strength"),
            _("Give one of them: 10 % formalin is about 4 % formaldehyde."),
            f"{formalin}, {formaldehyde}",
        )
    usual = practice.number("formalin", "usual_percent")
    as_formalin = None if formaldehyde is not None else usual
    if formalin is not None:
        as_formalin = reader.percent("--formalin", formalin, 0.5, 100.0, _("formalin"))
        if as_formalin > mixing_formalin.MOST_FORMALIN_PERCENT:
            reader.wrong(
                "--formalin",
                _("working formalin is at most {most:g} % formalin").format(most=mixing_formalin.MOST_FORMALIN_PERCENT),
                _("The figure on the bottle belongs to --label; 10 % formalin is usual."),
                formalin,
            )
    as_formaldehyde = None
    if as_formalin is not None and as_formalin > 20.0:
        say(_("Note: most work is done with 10 % formalin; the figure on the bottle belongs to --label."))
    if formaldehyde is not None:
        as_formaldehyde = reader.percent("--formaldehyde", formaldehyde, 0.2, 45.0, _("formaldehyde"))
        if as_formaldehyde == 10.0:
            say(_("Note: 10 % formaldehyde is more than twice as strong as what is called 10 % formalin."))
    wanted_ph = reader.plain("--ph", ph, 5.8, 8.2, _("a phosphate buffer holds pH 5.8 to 8.2")) if ph else None
    recipe = next((b for b in practice.buffers if b.key == buffer), None)
    if recipe is None:
        reader.wrong(
            "--buffer",
            _("there is no such buffer"),
            _("Known: {list}.").format(list=", ".join(b.key for b in practice.buffers)),
            buffer,
        )
    salts = [reader.salt("--monobasic", monobasic, "monobasic"), reader.salt("--dibasic", dibasic, "dibasic")]
    if recipe is not None and not recipe.monobasic and (monobasic or dibasic or ph):
        reader.wrong(
            "--buffer", _("salts and pH belong to a phosphate buffer"), _("Leave them out, or take phosphate."), buffer
        )
    bottled = {
        "--label": label,
        "--basis": basis,
        "--minimum": minimum or None,
        "--methanol": methanol,
        "--stock-density": stock_density,
    }
    if paraformaldehyde and any(value is not None for value in bottled.values()):
        reader.wrong(
            "--paraformaldehyde",
            _("it is made from powder or from a bottle"),
            _("Leave one of the two out; --assay is the figure on the powder."),
            ", ".join(name for name, value in bottled.items() if value is not None),
        )
    if paraformaldehyde and buffer == "seawater":
        reader.wrong(
            "--buffer",
            _("powder is dissolved in fresh water: the lye that clears it clouds sea water"),
            _("Take phosphate, borax or none."),
            buffer,
        )
    if paraformaldehyde:
        percent = as_formaldehyde if as_formaldehyde is not None else 0.4 * (as_formalin or usual)
        pure = reader.percent("--assay", assay, 80.0, 100.0, _("the powder's assay"))
        if percent > 20.0:
            reader.wrong(
                "--formaldehyde",
                _("from powder up to 20 % formaldehyde can be made"),
                _("Check the figure."),
                f"{percent:g}",
            )
        reader.done()
        assert recipe is not None
        made = refusing(lambda: mixing_formalin.buffer_for(recipe, salts[0], salts[1], wanted_ph, t))
        card = refusing(
            lambda: mixing_formalin.paraformaldehyde_card(
                percent, much, pure, t, made, practice, measures or practice.vessels, _cautions("formalin", ("mix",))
            ),
        )
        _answer(card, practice, pdf, paper, json)
        return
    bottle, words, assumed = _bottle(reader, practice, label, basis, minimum, methanol, stock_density)
    if not reader.found and as_formaldehyde is not None and as_formaldehyde > bottle.percent_w_v:
        reader.wrong(
            "--formaldehyde",
            _("the bottle ({stock:.1f} % formaldehyde, g in 100 mL) is weaker than what is wanted").format(
                stock=bottle.percent_w_v
            ),
            _("10 % formalin is about 4 % formaldehyde: was formalin meant?"),
            formaldehyde,
        )
    most = 0.01 * mixing_formalin.MOST_FORMALIN_PERCENT * bottle.percent_w_v if not reader.found else float("inf")
    if as_formaldehyde is not None and as_formaldehyde > most:
        reader.wrong(
            "--formaldehyde",
            _("with this bottle a working solution has at most {most:.0f} % formaldehyde").format(most=most),
            _("10 % formalin is about 4 % formaldehyde: was formalin meant?"),
            formaldehyde,
        )
    reader.done()
    assert recipe is not None
    made = refusing(lambda: mixing_formalin.buffer_for(recipe, salts[0], salts[1], wanted_ph, t))
    card = refusing(
        lambda: mixing_formalin.formalin_card(
            bottle,
            much,
            t,
            made,
            practice,
            measures or practice.vessels,
            _cautions("formalin", ("mix",)),
            formalin_percent=as_formalin,
            formaldehyde_percent=as_formaldehyde,
            assumed=assumed,
            bottle=words,
        ),
    )
    _answer(card, practice, pdf, paper, json)


def _bottle(
    reader: Reader,
    practice: FluidRules,
    label: str | None,
    basis: str | None,
    minimum: bool,
    methanol: str | None,
    stock_density: str | None,
) -> tuple[Any, str, list[str]]:
    from keepfast.science import formalin as science

    assumed: list[str] = []
    usual_methanol = practice.number("formalin", "methanol_percent")
    if label is None:
        figure, basis = 37.0, basis or "w/w"
        assumed.append(
            _("No label was given: taken as 37 % {basis}. Read the bottle and give --label and --basis.").format(
                basis=basis
            )
        )
    else:
        by_weight = basis is not None and basis.lower() in ("w/w", "m/m")
        top = science.HIGHEST_W_W if by_weight else science.HIGHEST_W_V
        figure = reader.percent("--label", label, 30.0, top, _("a bottle's figure"))
        if basis is None:
            reader.wrong(
                "--basis",
                _("the label's figure is by weight (w/w) or in volume (w/v); the two differ by a tenth"),
                _("Read the label: '37 % w/w' or '37 g in 100 mL' (w/v)."),
                "nothing",
            )
    kind = (basis or "w/w").lower().replace("m/m", "w/w").replace("m/v", "w/v")
    if kind not in science.BASES:
        reader.wrong("--basis", _("the basis is w/w or w/v"), _("Read the label again."), basis)
        kind = "w/w"
    if methanol is None:
        spirit = usual_methanol
        assumed.append(_("Methanol was not given: taken as {m:g} % by weight (9 to 15 is usual).").format(m=spirit))
    else:
        spirit = reader.percent("--methanol", methanol, 0.0, 20.0, _("methanol in a bottle"))
    density = None
    if stock_density is not None:
        density = reader.plain(
            "--stock-density", stock_density, 1.0, 1.2, _("stock formalin has 1.0 to 1.2 g/mL (kg/m³ divided by 1000)")
        )
    if reader.found:
        return None, "", assumed
    try:
        bottle = science.stock(figure, kind, spirit, minimum=minimum, density_g_ml=density)
    except ValueError as problem:
        reader.wrong("--label", str(problem), _("Read the bottle again."), label or f"{figure:g}")
        return None, "", assumed
    words = _("{least}{figure:g} % {basis}, {m:g} % methanol").format(
        least=_("at least ") if minimum else "", figure=figure, basis=kind, m=spirit
    )
    return bottle, words, assumed


def _vessels(reader: Reader, given: list[str]) -> tuple[Vessel, ...]:
    from keepfast.rules.fluids import Vessel

    made = []
    for text in given:
        holds, _slash, mark = text.partition("/")
        capacity = reader.volume_ml("--vessel", holds)
        finest = reader.volume_ml("--vessel", mark) if mark else capacity / 100.0
        if finest > capacity:
            reader.wrong("--vessel", _("the finest mark is larger than the vessel"), _("Write it like 2L/20mL."), text)
        made.append(Vessel(holds.strip(), capacity, finest))
    return tuple(made)


def _cautions(fluid: str, doing: tuple[str, ...]) -> tuple[Caution, ...]:
    """What mixing this fluid calls up; the lines of first aid have their own sheet."""
    from keepfast.rules import cautions

    return cautions.called_up(cautions.load(), step=doing, fluid=fluid)


def _answer(card: MixingCard, practice: FluidRules, pdf: Path | None, paper: str, json: bool) -> None:
    from keepfast.cli import fluid_words
    from keepfast.exchange.files import origin

    if pdf is not None:
        from keepfast.exchange.files import write_whole
        from keepfast.paper import mixing_card
        from keepfast.paper import pdf as pdf_

        if pdf.suffix.lower() != ".pdf":
            wrong("--pdf", _("the file must end in .pdf"), _("Name it, for instance, card.pdf."), str(pdf))
        sheet = pdf_.render(mixing_card.pages(card, paper), title=card.title)
        beside = pdf.with_suffix(".txt")
        write_whole(pdf.parent, {pdf.name: sheet, beside.name: fluid_words.card_text(card).encode()})
        say(_("Card written: {file}; in plain words: {beside}").format(file=pdf, beside=beside))
    if json:
        made = origin({practice.identity["name"]: practice.identity["sha256"]})
        show_json({**card.extra, **card.as_dict(), "origin": made})
    else:
        show(fluid_words.card_text(card))
