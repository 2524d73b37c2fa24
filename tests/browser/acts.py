"""What a person does on a page: type, choose, take a file."""


def fill(visit, key: str, value: object) -> None:
    box = visit.page.locator(f".st-key-{key} input")
    box.fill(str(value))
    visit.does(lambda: box.press("Enter"))


def pick(visit, key: str, value: str) -> None:
    visit.page.locator(f".st-key-{key} input").click()
    visit.does(lambda: visit.page.get_by_role("option", name=value, exact=True).click())


def look_up(visit, key: str, value: str) -> None:
    """Pick from a list too long to be on the page whole, by typing."""
    visit.page.locator(f".st-key-{key} input").fill(value)
    visit.does(lambda: visit.page.get_by_role("option", name=value, exact=True).click())


def downloaded(visit, key: str) -> bytes:
    with visit.page.expect_download() as waiting:
        visit.page.locator(f".st-key-{key} button").click()
    return waiting.value.path().read_bytes()
