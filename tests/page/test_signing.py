"""Who signs at a screen: the while that a PIN opens, and what wrong ones cost."""

from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from pathlib import Path

import pytest

from logbook.office.pins import Pin, Pins
from logbook.page.signing import (
    FIRST_WAIT_S,
    FORGOTTEN_S,
    FREE_TRIES,
    IDLE_S,
    LONGEST_S,
    LONGEST_WAIT_S,
    Signing,
    WaitFirstError,
    WrongPinError,
)
from logbook.page.world import World
from tests.page.conftest import PIN, Clocks, Screen


@pytest.fixture
def signing(tmp_path: Path, clocks: Clocks) -> Signing:
    pins = Pins.beside(tmp_path / "clinic.ledger")
    pins.make("KO", "sign", PIN)
    return Signing(pins, lambda: clocks.ticks_s)


def wrong(signing: Signing, initials: str = "KO", device: str = "tablet") -> int:
    """Guess once; answers how long one must wait before the next guess is looked at."""
    try:
        signing.begin(initials, "999991", device)
    except WaitFirstError as error:
        return error.wait_s
    except WrongPinError:
        return 0
    raise AssertionError("the guess was right")


def test_a_while_ends_after_idle_time_and_after_half_a_day(
    signing: Signing, clocks: Clocks
) -> None:
    secret = signing.begin("KO", PIN, "tablet")
    clocks.ticks_s += IDLE_S
    assert signing.who(secret, acts=True) is not None
    clocks.ticks_s += IDLE_S + 1
    assert signing.who(secret, acts=True) is None
    secret = signing.begin("KO", PIN, "tablet")
    for _ in range(LONGEST_S // IDLE_S):
        clocks.ticks_s += IDLE_S
        assert signing.who(secret, acts=True) is not None
    clocks.ticks_s += 1
    assert signing.who(secret, acts=True) is None


def test_a_screen_that_renews_itself_keeps_nobody_signed_in(
    signing: Signing, clocks: Clocks
) -> None:
    secret = signing.begin("KO", PIN, "tablet")
    for _ in range(2):
        clocks.ticks_s += IDLE_S // 2 + 1
        found = signing.who(secret, acts=False)
    assert found is None


def test_wrong_pins_cost_a_wait_that_doubles(signing: Signing, clocks: Clocks) -> None:
    assert [wrong(signing) for _ in range(FREE_TRIES)] == [0] * FREE_TRIES
    assert wrong(signing) == FIRST_WAIT_S + 1
    with pytest.raises(WaitFirstError):
        signing.begin("KO", PIN, "tablet")
    waited = []
    for _ in range(8):
        clocks.ticks_s += wrong(signing)
        waited.append(wrong(signing) or wrong(signing) - 1)
    assert waited == [60, 120, 240, 480, 900, 900, 900, 900]
    assert max(waited) == LONGEST_WAIT_S


def test_two_hundred_guesses_take_more_than_a_day(
    signing: Signing, clocks: Clocks, monkeypatch: pytest.MonkeyPatch
) -> None:
    # The waits are counted alone: to try a PIN is made slow, and two hundred took a minute.
    monkeypatch.setattr(Pin, "fits", lambda _pin, _typed: False)
    for _ in range(2 * 200):  # Every second one is told to wait, and not looked at.
        clocks.ticks_s += wrong(signing)
    assert clocks.ticks_s > 86_400


@pytest.mark.parametrize("changes", ["person", "device"])
def test_neither_another_device_nor_another_person_guesses_on_without_waiting(
    signing: Signing, changes: str
) -> None:
    signing.pins.make("RT", "sign")
    for number in range(FREE_TRIES):
        wrong(signing, device=f"d{number}" if changes == "device" else "tablet")
    other = ("RT", "tablet") if changes == "person" else ("KO", "phone")
    assert wrong(signing, *other) > 0


def test_guesses_from_ever_new_devices_are_not_kept_and_a_day_without_one_begins_anew(
    signing: Signing, clocks: Clocks
) -> None:
    for number in range(500):
        wrong(signing, device=f"d{number}")
    assert len(signing._tries) == FREE_TRIES + 1
    clocks.ticks_s += FORGOTTEN_S
    assert wrong(signing, device="d500") == 0
    assert wrong(signing, device="d501") > 0
    clocks.ticks_s += FORGOTTEN_S + 1
    assert [wrong(signing) for _ in range(FREE_TRIES)] == [0] * FREE_TRIES
    assert len(signing._tries) == 2


def test_many_guesses_at_once_all_count(signing: Signing) -> None:
    with ThreadPoolExecutor(8) as pool:
        waits = list(pool.map(lambda _: wrong(signing), range(12)))
    assert waits.count(0) == FREE_TRIES


def test_the_right_pin_and_a_new_pin_begin_to_count_anew(signing: Signing) -> None:
    for _ in range(FREE_TRIES - 1):
        wrong(signing)
    signing.begin("KO", PIN, "tablet")
    assert [wrong(signing) for _ in range(FREE_TRIES)] == [0] * FREE_TRIES
    signing.pins.make("KO", "sign", "719305")
    assert signing.begin("KO", "719305", "phone")


def test_unknown_initials_take_as_long_and_sign_nowhere(signing: Signing) -> None:
    for initials in ("ZZ", "", "'; --", "K" * 9000):
        with pytest.raises((WrongPinError, WaitFirstError)):
            signing.begin(initials, "000000", "tablet")


def test_a_pin_that_was_taken_away_or_changed_ends_what_it_began(screen: Screen) -> None:
    screen.sign()
    screen.send("/machine/bay1/begin", pop_off="open", circuit="adult")
    assert "Saved entry" in screen.says
    signing = screen.client.application.extensions["logbook"].signing
    signing.pins.make("KO", "sign", "719305")
    assert screen.send("/machine/bay1/end") == 401


def test_whoever_may_only_look_signs_nothing(screen: Screen, world: World) -> None:
    world.signing.pins.make("KO", "look", PIN)
    screen.sign()
    assert screen.send("/machine/bay1/begin", pop_off="open", circuit="adult") == 403
    assert "may only look" in screen.says


def test_each_sign_in_has_a_fresh_secret_that_no_page_and_no_script_sees(screen: Screen) -> None:
    screen.client.set_cookie("signed", "chosen-by-somebody-else")
    screen.sign(follow=False)
    assert screen.answer is not None
    (first,) = [one for one in screen.answer.headers.getlist("Set-Cookie") if "signed=" in one]
    assert "chosen-by-somebody-else" not in first
    assert all(flag in first for flag in ("HttpOnly", "SameSite=Lax", "Path=/"))
    assert "Secure" not in first
    secret = first.partition("=")[2].partition(";")[0]
    screen.get("/")
    assert "KO signs" in screen.says
    assert secret not in screen.html
    screen.send("/leave")
    assert "Sign in" in screen.says
    screen.client.set_cookie("signed", secret)
    screen.get("/")
    assert "Sign in" in screen.says


def test_over_tls_no_cookie_leaves_it(world: World, screen_of: object, bay1: object) -> None:
    screen = screen_of(replace(world, secure=True))  # type: ignore[operator]
    screen.sign(follow=False)
    cookies = screen.answer.headers.getlist("Set-Cookie")
    assert cookies
    assert all("Secure" in one for one in cookies)


def test_signing_in_leads_only_to_pages_of_this_place(screen: Screen) -> None:
    assert screen.sign(follow=False, then="/machine/bay1?x=1") == 303
    assert screen.answer is not None
    assert screen.answer.location == "/machine/bay1?x=1"
    for bad in ("https://evil.example/", "//evil.example", "/\\evil.example", "evil", "", "/\t/x"):
        screen.sign(follow=False, then=bad)
        assert screen.answer is not None
        assert screen.answer.location == "/", bad
