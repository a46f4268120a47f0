"""The report in a real browser, opened from disk: it fits, logs no error, and is accessible."""

from itertools import pairwise

import pytest

from pipeline.report.page import render_page
from tests.fixtures.reports import grainy_picture, repeated, with_ground

SERIOUS = {"serious", "critical"}


@pytest.fixture
def opened(chromium, tmp_path):
    """Open a page from disk; what it complains of is kept in ``wrong``."""
    contexts = []

    def open_(html, width=390, scheme="light"):
        path = tmp_path / "report.html"
        path.write_text(html, encoding="utf-8")
        context = chromium.new_context(
            viewport={"width": width, "height": 844}, color_scheme=scheme
        )
        contexts.append(context)
        page = context.new_page()
        page.wrong = []
        page.on("pageerror", lambda error: page.wrong.append(str(error)))
        page.on("console", lambda line: page.wrong.append(line.text))
        page.on("requestfailed", lambda request: page.wrong.append(request.url))
        page.goto(path.as_uri())
        return page

    yield open_
    for context in contexts:
        context.close()


@pytest.fixture
def picture(film):
    frame, joints = film()
    return grainy_picture(frame, joints)


@pytest.fixture
def html(analysis, picture):
    return render_page(with_ground(analysis), {1: picture, 2: picture})


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize("width", [390, 1280])
def test_the_page_fits_is_silent_and_has_no_serious_fault_for_any_reader(
    opened, html, width, scheme
):
    axe = pytest.importorskip("axe_playwright_python.sync_playwright", reason="axe is missing")
    page = opened(html, width, scheme)
    page.evaluate("document.querySelectorAll('details').forEach(part => part.open = true)")
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    found = axe.Axe().run(page).response
    assert len(found["passes"]) > 20
    assert [rule["id"] for rule in found["violations"] if rule["impact"] in SERIOUS] == []
    assert page.wrong == []


def test_headings_come_in_order_and_landmarks_are_there(opened, html):
    page = opened(html)
    levels = page.evaluate(
        "[...document.querySelectorAll('h1,h2,h3,h4')].map(heading => +heading.tagName[1])"
    )
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    for landmark in ("banner", "main", "navigation", "contentinfo"):
        assert page.get_by_role(landmark).count() == 1


def test_a_tap_on_a_rep_goes_to_its_numbers(opened, html):
    page = opened(html)
    page.get_by_role("navigation").get_by_role("link", name="Rep 3").click()
    page.wait_for_function(
        "Math.abs(document.querySelector('#rep-3').getBoundingClientRect().top) < 60"
    )
    assert page.url.endswith("#rep-3")


def test_what_to_work_on_is_seen_without_scrolling_on_a_phone(opened, html):
    page = opened(html)
    box = page.locator(".block.work .headline").bounding_box()
    assert box["y"] + box["height"] <= 844


def luminance(colour):
    """Relative luminance of WCAG 2.2 of a colour such as ``#f4f3ee``."""
    digits = colour.lstrip("#")
    if len(digits) == 3:
        digits = "".join(2 * digit for digit in digits)
    parts = [int(digits[i : i + 2], 16) / 255 for i in (0, 2, 4)]
    linear = [p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts]
    return sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), linear, strict=True))


def contrast(one, other):
    """Contrast ratio of WCAG 2.2."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


# What is read, and what only has to be seen: 4.5 and 3 to 1 (WCAG 2.2, 1.4.3 and 1.4.11).
READ = [("ink", "card"), ("ink", "paper"), ("quiet", "card"), ("quiet", "paper"), ("quiet", "turf"),
        ("accent", "card"), ("accent", "paper"), ("ink", "care"), ("ink", "work"), ("ink", "well"),
        ("work-line", "work"), ("in", "well")]  # fmt: skip
SEEN = [("edge", "card"), ("care-line", "paper"), ("accent", "turf"), ("other", "turf"),
        ("ink", "turf"), ("out", "turf"), ("close", "turf"),
        *((mark, ground) for mark in ("in", "out", "close", "none") for ground in ("card", "band"))
        ]  # fmt: skip


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_drawn_colours_stand_out_from_what_they_are_drawn_on(opened, html, scheme):
    page = opened(html, scheme=scheme)
    page.wrong = []

    def colour(name):
        style = "getComputedStyle(document.documentElement)"
        return page.evaluate(f"{style}.getPropertyValue('--{name}').trim()")

    poor = {
        pair: round(ratio, 2)
        for least, pairs in ((4.5, READ), (3.0, SEEN))
        for pair in pairs
        if (ratio := contrast(*map(colour, pair))) < least
    }
    assert poor == {}


def test_a_chart_has_words_for_who_cannot_see_it(opened, html):
    page = opened(html)
    charts = page.locator(".chart svg[role=img]")
    assert charts.count() > 3
    for name in charts.evaluate_all("all => all.map(one => one.getAttribute('aria-label'))"):
        assert "over 4 reps" in name


def test_on_paper_nothing_is_folded_away_or_cut_off(opened, html):
    page = opened(html, 1280)
    page.emulate_media(media="print")
    page.set_viewport_size({"width": 718, "height": 1000})  # A4 less its margins
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.locator("details.log td").first.evaluate(
        "cell => cell.getBoundingClientRect().height > 0"
    )
    assert page.pdf(format="A4").startswith(b"%PDF")


def test_a_report_of_sixty_reps_stays_under_six_megabytes(opened, make, film):
    frame, joints = film()
    analysis = repeated(with_ground(make(n_reps=4)), 60)
    pictures = {}
    for index in range(1, 61):
        pictures[index] = pictures.get(index - 4) or grainy_picture(frame, joints, index)
    assert sum(map(len, pictures.values())) > 6e6
    html = render_page(analysis, pictures)
    assert len(html.encode()) < 6e6
    page = opened(html)
    assert page.locator("article.rep img").count() == 60
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert page.wrong == []
