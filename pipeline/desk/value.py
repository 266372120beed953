"""The value of one pair as it is described: the page of `pairband appraise`, and whether to buy it."""

from collections.abc import Mapping
from dataclasses import dataclass, replace
from pathlib import Path
from tempfile import TemporaryDirectory

from markupsafe import Markup
from starlette.exceptions import HTTPException
from starlette.requests import Request
from starlette.responses import HTMLResponse, RedirectResponse, Response
from starlette.routing import Route

from pipeline.answers.sheet import Sheet
from pipeline.desk.answers import download
from pipeline.desk.calls import NOT_WRITTEN, Called, call
from pipeline.desk.described import (
    BESIDES,
    WORDS,
    Group,
    form_of_pair,
    groups_of,
    in_words_of_the_desk,
    query_of,
    query_of_words,
    say_kept,
    with_fault,
)
from pipeline.desk.desk import Desk
from pipeline.desk.forms import Form
from pipeline.desk.offered import Offered, offer_sheet_of, offered
from pipeline.desk.pages import desk_of, show, show_alone, show_html, show_sentences_of
from pipeline.market.bands import Band
from reports.desk.strip import Strip, strip_of
from reports.page import render_fragment

SEEN = ("era_odds", "stamp", "made", "factory_code", "lasting")
FIGURES = ("band", "waterfall", "comparables")
DOUBT_FIGURES = ("eras",)
"""The figures of the page, and of that of a pair whose era is in doubt."""

FORMATS = {"svg": "image/svg+xml", "png": "image/png", "pdf": "application/pdf"}
SCRIPTS = ("desk/value.js",)
NOTHING: Mapping[str, str] = {}
PAGE = f"--page={NOT_WRITTEN / 'pair.html'}"


def routes() -> list[Route]:
    """Return the routes of the value of a pair."""
    return [
        Route("/value", _page),
        Route("/value/glance", _glance),
        Route("/value/page", _alone),
        Route("/value/file/page", _file),
        Route("/value/figure/{name}/{kind}", _figure),
        Route("/value/keep", _keep, methods=["POST"]),
    ]


@dataclass(frozen=True)
class Asked:
    """What is asked of a pair: the words of the command's form, and where it is offered at what price."""

    form: Form
    offer: Offered
    currency: str

    def __bool__(self) -> bool:
        return any(one.value for one in self.form.fields)

    def value_of(self, name: str) -> str:
        """Return what a field holds."""
        return next(one.value for one in self.form.fields if one.name == name)

    @property
    def is_list(self) -> bool:
        """Whether all pairs of a list are asked for."""
        return bool(self.value_of("file")) and not self.value_of("row")


def _asked(request: Request) -> Asked:
    market = desk_of(request).market()
    return Asked(
        form_of_pair(request, "appraise", without=("at_price",)),
        offered(request),
        "" if market is None else market.base_currency,
    )


def _said(desk: Desk, asked: Asked, *, page: bool) -> tuple[Called, Sheet | None, str]:
    """Return what `pairband appraise` says, whether to buy where that is asked, and what is wrong with the offer."""
    moment = desk.moment()
    with desk.kept.lent(moment):
        judged, fault = offer_sheet_of(desk, asked.form, asked.offer)
        typed = asked.form.arguments()
        if judged is not None and judged.landed is not None and asked.value_of("era_odds"):
            typed = [f"--at-price={judged.landed}", *typed]
        if page:
            key = ("appraise", (PAGE, *typed), moment)
            called = desk.answers.once(key, lambda: call("appraise", [PAGE, *typed]))
        else:
            called = call("appraise", typed)
    return called, None if judged is None else judged.sheet, fault


def _page(request: Request) -> Response:
    """Answer with the form, and the value of the pair that it describes."""
    asked, desk = _asked(request), desk_of(request)
    if not asked:
        return _show(request, asked, draft=desk.drafts.get("value"))
    called, judged, wrong = _said(desk, asked, page=not asked.is_list)
    if called.fault or asked.is_list:
        return _show(request, asked, called)
    before = _describe(asked, called, judged, wrong=wrong)
    return show_html(request, next(iter(called.pages.values())), before=before, scripts=SCRIPTS)


def _show(
    request: Request, asked: Asked, called: Called | None = None, *, draft: Mapping[str, str] = NOTHING
) -> Response:
    """Answer with the form where there is no page of one pair: nothing said yet, an error, or all pairs of a list."""
    form, fault = with_fault(asked.form, called.fault if called is not None else "")
    sheet = called.sheets[0] if called is not None and called.sheets and not called.fault else None
    return show(
        request,
        "desk/value.html.j2",
        title="The value of a pair",
        scripts=SCRIPTS,
        status=400 if called is not None and called.fault else 200,
        before=_describe(replace(asked, form=form), None, None),
        fault=show_sentences_of(fault),
        wrong=form.fields_wrong,
        pairs=[] if sheet is None else _pairs(sheet, asked),
        action="/value",
        again=query_of_words(draft),
    )


def _pairs(sheet: Sheet, asked: Asked) -> list[dict[str, str]]:
    """Return the pairs of a list, each with the address of its own value."""
    listed = next((one for one in sheet.tables if one.key == "pairs"), None)
    if listed is None:
        return []
    texts = [listed.texts_of(key) for key in ("pair", "median", "band")]
    return [
        {
            "pair": pair,
            "median": median,
            "band": band,
            "href": f"/value{query_of(asked.form, 'file', 'as_of', row=str(row))}",
        }
        for row, pair, median, band in zip(listed.rows["row"], *texts, strict=True)
    ]


def _describe(asked: Asked, called: Called | None, judged: Sheet | None, *, wrong: str = "") -> Markup:
    """Return the form and what stands beside it: the value at a glance, whether to buy, what to do with it."""
    form = asked.form
    answered = called is not None and not called.fault
    return render_fragment(
        "desk/describe.html.j2",
        action="/value",
        draft="value",
        glances=True,
        groups=groups_of(
            form,
            ("The pair", WORDS, True),
            ("With it, and its state", BESIDES, True),
            ("When and where", ("venue", "as_of", "label"), True),
            Group("Buy or pass", asked.offer.fields(wrong)),
            ("Its era is in doubt", SEEN, False),
            ("From a list", ("file", "row"), False),
            ("Other", ("as_written",), False),
        ),
        glance=None if called is None else _glance_of(called, judged, asked.currency),
        judged=judged if answered else None,
        ways_out=_ways_out(form) if answered else (),
        keep=f"/value/keep{query_of(form)}" if answered and not asked.value_of("era_odds") else "",
        figures=_figures_of(asked) if answered else (),
    )


def _figures_of(asked: Asked) -> list[tuple[str, list[tuple[str, str]]]]:
    """Return the figures of the page by name, each with its formats and their addresses."""
    names = DOUBT_FIGURES if asked.value_of("era_odds") else FIGURES
    query = query_of(asked.form)
    return [(name, [(kind, f"/value/figure/{name}/{kind}{query}") for kind in FORMATS]) for name in names]


def _ways_out(form: Form) -> tuple[tuple[str, str, bool], ...]:
    """Return what else there is of a value: words, address, whether it is a page of its own."""
    query = query_of(form)
    words = query_of(form, *WORDS, *BESIDES, "label", "as_of", "file", "row", "as_written")
    return (
        ("Print the page", f"/value/page{query}", True),
        ("Save the page", f"/value/file/page{query}", False),
        ("Price a consignment of it", f"/consign{words}", False),
        ("Price ticket", f"/consign/tickets{words}", True),
    )


@dataclass(frozen=True)
class Glance:
    """A value in few words: its figures, its bands as a strip, the verdict, or what is wrong."""

    figures: tuple[tuple[str, str], ...] = ()
    weak: str = ""
    strip: Strip | None = None
    verdict: str = ""
    fault: str = ""


def _glance(request: Request) -> Response:
    """Answer with the value at a glance, as fast as can be: a part of the page, for the script."""
    asked, desk = _asked(request), desk_of(request)
    if not asked or asked.is_list:
        return HTMLResponse("")
    called, judged, _ = _said(desk, asked, page=False)
    return HTMLResponse(
        render_fragment("desk/glance.html.j2", glance=_glance_of(called, judged, asked.currency))
    )


def _glance_of(called: Called, judged: Sheet | None, currency: str) -> Glance:
    if called.fault or not called.sheets:
        return Glance(fault=show_sentences_of(in_words_of_the_desk(called.fault)))
    sheet = called.sheets[0]
    tables = {one.key: one for one in sheet.tables}
    bands = [Band(*row) for row in tables["bands"].rows.select("level", "low", "high").iter_rows()]
    steps = tables.get("steps")
    return Glance(
        figures=sheet.figures,
        weak=sheet.weak,
        strip=strip_of(bands, None if steps is None else steps.rows["after"][-1], currency),
        verdict="" if judged is None else judged.sentences[0],
    )


def _page_of(request: Request) -> tuple[Asked, str]:
    """Return what is asked and the page of its answer alone; raises HTTPException where there is none."""
    asked = _asked(request)
    called, _, _ = _said(desk_of(request), asked, page=True)
    if called.fault or len(called.pages) != 1:
        raise HTTPException(400, called.fault or "There is no page of one pair: name its row.")
    return asked, next(iter(called.pages.values()))


def _alone(request: Request) -> Response:
    """Answer with the page as it would be written to a file, to print."""
    return show_alone(_page_of(request)[1])


def _file(request: Request) -> Response:
    """Answer with the page as a file to keep."""
    return download(_page_of(request)[1].encode(), "pair.html", "text/html; charset=utf-8")


def _figure(request: Request) -> Response:
    """Answer with one figure of the page as a file."""
    name, kind = request.path_params["name"], request.path_params["kind"]
    if name not in (*FIGURES, *DOUBT_FIGURES) or kind not in FORMATS:
        raise HTTPException(404, "There is no such figure.")
    with TemporaryDirectory(prefix="pairband-figure-") as folder:
        file = Path(folder) / f"{name}.{kind}"
        called = call(
            "appraise",
            [f"--figure={name}", f"--format={kind}", f"--to={file}", *_asked(request).form.arguments()],
        )
        if called.fault:
            raise HTTPException(400, called.fault)
        return download(file.read_bytes(), file.name, FORMATS[kind])


def _keep(request: Request) -> Response:
    """Keep the value of the pair, as `--keep` does, and show it again."""
    called = call("appraise", ["--keep", *_asked(request).form.arguments()])
    say_kept(desk_of(request), called)
    return RedirectResponse(f"/value?{request.url.query}", 303)
