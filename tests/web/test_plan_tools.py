"""Tracing a sketch, joining rectangles, and moving what is drawn, with readings kept."""

import io
import urllib.error
import urllib.request

import pytest
import steps
from PIL import Image, ImageDraw
from steps import DESKTOP, PHONE, document

pytestmark = pytest.mark.browser


def tool(page, name):
    """Choose a tool of the plan."""
    page.get_by_role("group", name="What to do").get_by_role(
        "button", name=name, exact=True
    ).click()


def sketch():
    """Return a photograph of a sketch: a rectangle of 400 by 240 dots, turned by 6 degrees."""
    drawn = Image.new("RGB", (600, 450), "white")
    ImageDraw.Draw(drawn).rectangle((100, 100, 500, 340), outline="black", width=5)
    data = io.BytesIO()
    drawn.rotate(6, fillcolor="white").save(data, "JPEG")
    return data.getvalue()


def rectangle(page, width, depth, left, lower):
    """Type a rectangle and keep it."""
    page.get_by_label("Left side at").fill(left)
    page.get_by_label("Lower side at").fill(lower)
    page.get_by_label("Width").fill(width)
    page.get_by_label("Depth").fill(depth)
    page.get_by_role("button", name="Keep the rectangle").click()


def test_a_sketch_is_traced_without_a_network(server, device, faults):
    """A picture is laid under the plan, scaled and levelled by taps, locked, and sent later."""
    context = device(PHONE)
    page = context.new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.all_saved(page)
    page.evaluate("navigator.serviceWorker.ready.then(() => true)")
    context.set_offline(offline=True)
    tool(page, "Trace a picture")
    page.get_by_label("Choose a picture").set_input_files(
        {"name": "../<b>sketch.jpg", "mimeType": "image/jpeg", "buffer": sketch()}
    )
    page.locator(".plan-sheet img").wait_for()
    plan = page.locator(".plan-map")
    page.wait_for_timeout(400)
    box = page.locator(".plan-sheet img").bounding_box()
    own = plan.bounding_box()
    scale = box["width"] / 600

    def tap(x, y):
        """Tap the picture at a dot of it."""
        plan.click(
            position={
                "x": box["x"] - own["x"] + x * scale,
                "y": box["y"] - own["y"] + y * scale,
            }
        )

    page.get_by_role("button", name="Make level").click()
    tap(114, 121)
    page.get_by_text("Now the other end").wait_for()
    tap(488, 121 - (488 - 114) * 0.1051)
    page.get_by_text("Tap both ends of a wall").wait_for()
    page.get_by_role("button", name="Scale", exact=True).click()
    tap(114, 121)
    tap(314, 121)
    page.get_by_label("Length between the taps").fill("20'")
    page.get_by_role("button", name="Scale", exact=True).last.click()
    page.get_by_role("button", name="Lock").click()
    page.get_by_role("button", name="Make level").wait_for(state="detached")
    page.get_by_label("Strength").fill("0.3")
    context.set_offline(offline=False)
    page.evaluate("dispatchEvent(new Event('online'))")
    (photo,) = document(server, page)["photos"]
    placed = photo["extra"]["sheet"]
    assert photo["of"] == "sheet"
    assert photo["name"].endswith("sketch.jpg")
    assert placed["turned"] == pytest.approx(354, abs=1)
    assert placed["per"] == pytest.approx(0.1, rel=0.02)
    assert (placed["locked"], placed["hidden"], placed["opacity"]) == (True, False, 0.3)
    with urllib.request.urlopen(f"{server.address}api/photos/{photo['sha256']}") as answer:
        assert Image.open(io.BytesIO(answer.read())).size == (600, 450)


def test_a_sheet_comes_to_another_device_and_can_be_hidden(server, device, faults):
    """The picture is fetched once and then shown without a network; hidden, it is gone."""
    page = device(DESKTOP).new_page()
    steps.new_house(page, server.address)
    tool(page, "Trace a picture")
    page.get_by_label("Choose a picture").set_input_files(
        {"name": "s.jpg", "mimeType": "image/jpeg", "buffer": sketch()}
    )
    page.locator(".plan-sheet img").wait_for()
    steps.all_saved(page)
    other = device(DESKTOP).new_page()
    faults(other)
    other.goto(page.url)
    other.locator(".plan-sheet img").wait_for()
    tool(other, "Trace a picture")
    other.get_by_role("button", name="Hide").click()
    other.locator(".plan-sheet img").wait_for(state="detached")
    other.get_by_role("button", name="Undo").click()
    other.locator(".plan-sheet img").wait_for()


def test_rectangles_join_with_their_readings(server, device, faults):
    """Two rectangles with readings become one floor; corner to corner they are refused."""
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    tool(page, "Rectangle")
    rectangle(page, "40", "24", "0", "0")
    page.locator(".told", has_text="Type width and depth").wait_for()
    rectangle(page, "20", "12", "40", "24")
    tool(page, "Join")
    page.get_by_role("button", name="Join into one floor").click()
    page.get_by_text("touch at a corner only").wait_for()
    tool(page, "Rectangle")
    rectangle(page, "20", "12", "30", "20")
    steps.open_page(page, "Readings")
    page.get_by_role("button", name="Tile", exact=True).click()
    for _ in range(3):
        steps.key_in(page, "6")
    steps.count_readings(page, 3)
    before = document(server, page)
    steps.open_page(page, "Plan")
    tool(page, "Join")
    page.get_by_role("button", name="Join into one floor").click()
    page.get_by_text("There is one floor").wait_for()
    after = document(server, page)
    (area,) = after["areas"]
    assert area["id"] == "house"
    assert len(area["outline"]) == 12
    assert after["readings"] == before["readings"]
    assert [s["at"] for s in after["stations"]] == [s["at"] for s in before["stations"]]
    page.get_by_role("button", name="Undo").click()
    page.get_by_text("Choose the floors that are one in truth").wait_for()
    assert len(document(server, page)["areas"]) == 3


def test_a_wall_is_moved_by_keys_alone(server, device, faults):
    """The cross finds a wall, arrows move it, one undo takes the whole move back."""
    page = device(DESKTOP).new_page()
    faults(page)
    steps.new_house(page, server.address)
    steps.outline(page, steps.HOUSE)
    tool(page, "Move")
    page.locator(".plan-map canvas").first.wait_for()
    page.locator(".plan-map").focus()
    page.keyboard.press("ArrowRight")
    place = page.locator(".plan-at")
    for _ in range(60):
        x, y = (float(n) for n in place.inner_text().replace(" up", "").split(" right, "))
        if (x, y) == (40, 8):
            break
        across = "ArrowLeft" if x > 40 else "ArrowRight"
        page.keyboard.press(across if x != 40 else "ArrowDown" if y > 8 else "ArrowUp")
    page.keyboard.press("Enter")
    page.get_by_text("Wall 2 of house").wait_for()
    page.get_by_label("Step").select_option("1 ft")
    page.locator(".plan-map").focus()
    for _ in range(4):
        page.keyboard.press("ArrowRight")
    page.get_by_text("4 ft right").wait_for()
    page.locator(".told", has_text="4 ft right").wait_for(state="detached")
    assert document(server, page)["areas"][0]["outline"] == [
        [0, 0],
        [44, 0],
        [44, 24],
        [0, 24],
    ]
    page.get_by_role("button", name="Put a corner in").click()
    steps.all_saved(page)
    assert len(document(server, page)["areas"][0]["outline"]) == 5
    page.get_by_role("button", name="Undo").click()
    steps.all_saved(page)
    page.get_by_role("button", name="Undo").click()
    steps.all_saved(page)
    assert document(server, page)["areas"][0]["outline"] == [
        [0, 0],
        [40, 0],
        [40, 24],
        [0, 24],
    ]
