"""The inspector's own words, and words that look like markup."""

import json
import urllib.request

import pytest
import steps
from steps import PHONE

from levelbook.demo import house

pytestmark = pytest.mark.browser
MARKUP = '<img src=x onerror="document.title=1"><b>bold</b>'


def test_a_sentence_is_replaced_with_a_reason(server, device, faults):
    """Own words stand in the findings as text, and the reason is kept in the book."""
    with urllib.request.urlopen(f"{server.address}api/import", data=house()) as answer:
        visit = json.load(answer)["visit"]
    page = device(PHONE).new_page()
    faults(page)
    page.goto(f"{server.address}#/{visit}/report")
    page.get_by_text("Change the wording").click()
    choice = page.get_by_label("Sentence")
    choice.select_option("limits.future")
    page.get_by_label("Your words").fill(MARKUP)
    page.get_by_role("button", name="Keep these words").click()
    page.get_by_text("only with words and a reason").wait_for()
    page.get_by_label("Reason").fill("<i>plainer</i>")
    page.get_by_role("button", name="Keep these words").click()
    page.locator(".wording .list", has_text="plainer").wait_for()
    steps.all_saved(page)
    page.get_by_text("What one visit cannot tell").click()
    page.locator(".outcome li", has_text=MARKUP).wait_for()
    assert page.locator("b, .outcome img").count() == 0
    with urllib.request.urlopen(f"{server.address}api/visits/{visit}/book") as answer:
        (wish,) = json.load(answer)["visit"]["extra"]["wording"]
    assert wish == {"key": "limits.future", "text": MARKUP, "reason": "<i>plainer</i>"}
