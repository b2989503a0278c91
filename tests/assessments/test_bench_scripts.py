"""The reasoning of the bench scripts, run in Chromium from their files; no server and no database.

The page is served from a plain-http origin, where browsers withhold ``crypto.randomUUID`` and locks.
"""

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any
from uuid import UUID

import pytest
from playwright.sync_api import Page, Route

import assessments
from assessments.scoring.timing import Event, EventKind, read_clock

SCRIPTS = Path(assessments.__file__).parent / "static" / "assessments" / "bench"
SITE = "http://bench.test"
NINE = datetime(2026, 3, 2, 9, 0, tzinfo=UTC)


@pytest.fixture
def run(page: Page):
    """Call it with a module, an expression over its names and a value for ``given``: it gives the result."""
    page.route(f"{SITE}/**", _serve)
    page.goto(f"{SITE}/")

    def evaluate(module: str, expression: str, given: object = None) -> Any:
        names = _exports(module)
        body = (
            f"async (given) => {{ const {{ {names} }} = await import('{SITE}/{module}.js'); {expression} }}"
        )
        return page.evaluate(body, given)

    return evaluate


def _serve(route: Route) -> None:
    script = SCRIPTS / route.request.url.removeprefix(f"{SITE}/")
    if script.suffix == ".js":
        route.fulfill(body=script.read_text(encoding="utf-8"), content_type="text/javascript")
    else:
        route.fulfill(body="<!doctype html><title>bench</title>", content_type="text/html")


def _exports(module: str) -> str:
    lines = (SCRIPTS / f"{module}.js").read_text(encoding="utf-8").splitlines()
    found = [line.split()[2 + ("async" in line)] for line in lines if line.startswith("export ")]
    return ", ".join(name.split("(")[0] for name in found)


def at(minutes: float) -> str:
    return (NINE + timedelta(minutes=minutes)).isoformat()


def ready_set(**changes: Any) -> dict[str, Any]:
    clock = {"worked_s": 0, "paused_s": 0, "running_since": None, "started_at": None, "finished_at": None}
    document = {"state": "ready", "target_s": 3600, "server_now": at(0), "faults": [], "inspection": None}
    return {**document, "clock": {**clock, "splits": []}, **changes}


def position(index: int, finding: str = "unseen", faults: list[str] | None = None) -> dict[str, Any]:
    measures = {"gap_mm": None, "direction_deg": None}
    return {"index": index, "finding": finding, "faults": faults or [], **measures}


def finished_set(*findings: str) -> dict[str, Any]:
    positions = [
        position(index, finding, ["STK"] if finding == "faulty" else [])
        for index, finding in enumerate(findings)
    ]
    return ready_set(state="finished", inspection={"closed": False, "positions": positions})


# --- Words ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("number", "written"),  # English ordinals: 11 to 13 take -th, whatever their last digit
    [(1, "1st"), (2, "2nd"), (3, "3rd"), (4, "4th"), (11, "11th"), (12, "12th"), (13, "13th"), (22, "22nd")],
)
def test_ordinals_are_english(run, number: int, written: str):
    assert run("words", "return ordinal(given);", number) == written


def test_a_place_is_told_from_the_eye_to_the_length(run):
    place = {"eye": "right", "zone": "outer_mid", "layer": "top", "fan": 7, "length_mm": 12}
    told = "Right eye · outer-mid · top layer · 7th fan from the inner corner · 12 mm"
    assert run("words", "return placeWords(given);", place) == told
    assert run("words", "return placeWords(given);", place | {"fan_shape": "closed"}) == f"{told} closed fan"


# --- Clock ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("seconds", "face"),
    [(0, "0:00:00"), (59.9, "0:00:59"), (3909, "1:05:09"), (36000, "10:00:00"), (-3, "0:00:00")],
)
def test_the_face_counts_whole_seconds(run, seconds: float, face: str):
    assert run("clock", "return face(given);", seconds) == face


def test_only_the_last_of_several_milestones_passed_at_once_is_told(run):
    stretches = [[0, 3599], [3599, 3601], [3601, 9000]]
    told = run("clock", "return given.map(([from, to]) => milestonePassed(from, to, 3600));", stretches)
    assert told[0].startswith("5 minutes left")
    assert told[1].startswith("The target time is reached")
    assert told[2] is None


BENCH_DAY = (  # minutes after nine: what happened
    (0, "start"),
    (30, "pause"),
    (42, "resume"),
    (70, "split"),
    (75, "pause"),
    (90, "resume"),
    (110, "finish"),
)


@pytest.mark.parametrize("seen", range(len(BENCH_DAY) + 1))
def test_the_browsers_clock_agrees_with_the_servers_however_much_it_knew(run, seen: int):
    """The server has heard ``seen`` events when the page is read at eleven; the rest wait in the browser."""
    document = _document_of(BENCH_DAY[:seen], read_at=120)
    waiting = [
        {"kind": kind, "at": at(minute), "eye": "right", "layer": "top"} for minute, kind in BENCH_DAY[seen:]
    ]
    shown = run("state", "return withEvents(given.set, given.events);", {"set": document, "events": waiting})
    # By hand: worked 30 + 33 + 20 minutes, paused 12 + 15.
    assert shown["state"] == "finished"
    assert shown["clock"]["worked_s"] == pytest.approx(83 * 60)
    assert shown["clock"]["paused_s"] == pytest.approx(27 * 60)
    # The split at 70: worked 30 + 28 minutes.
    assert shown["clock"]["splits"][0]["total_s"] == pytest.approx(58 * 60)


def _document_of(events: Sequence[tuple[int, str]], *, read_at: int) -> dict[str, Any]:
    """What the server answers at ``read_at`` minutes, worked out by the server's own clock."""
    timeline = [
        Event(EventKind(kind), NINE + timedelta(minutes=minute), eye="right", layer="top")
        for minute, kind in events
    ]
    clock = read_clock(timeline, now=NINE + timedelta(minutes=read_at))
    splits = [
        {"eye": split.eye, "layer": split.layer, "worked_s": split.worked_s, "total_s": split.total_s}
        for split in clock.splits
    ]
    told = {"worked_s": clock.worked_s, "paused_s": clock.paused_s, "splits": splits}
    return ready_set(state=clock.state.value, server_now=at(read_at), clock=told)


# --- What is shown -------------------------------------------------------------------------------


def test_an_event_that_does_not_fit_changes_nothing(run):
    twice = [{"kind": "start", "at": at(0)}, {"kind": "start", "at": at(5)}, {"kind": "resume", "at": at(6)}]
    shown = run("state", "return withEvents(given.set, given.events);", {"set": ready_set(), "events": twice})
    assert (shown["state"], shown["clock"]["started_at"]) == ("working", at(0))


def test_an_inspection_cannot_close_while_a_position_is_unseen(run):
    allowed = "return given.map((set) => isAllowed(set, 'inspect'));"
    assert run("state", allowed, [finished_set("clean", "unseen"), finished_set("clean", "bare")]) == [
        False,
        True,
    ]


@pytest.mark.parametrize(("after", "expected"), [(-1, 1), (1, 3), (3, 1), (2, 3)])
def test_the_next_unseen_position_is_the_nearest_ahead_else_the_first(run, after: int, expected: int):
    document = finished_set("clean", "unseen", "faulty", "unseen")
    assert (
        run("state", "return nextUnseen(given.set, given.after);", {"set": document, "after": after})
        == expected
    )


def test_there_is_no_next_when_all_are_seen(run):
    assert run("state", "return nextUnseen(given);", finished_set("clean", "bare")) is None


def test_faults_are_counted_by_fan(run):
    document = finished_set("faulty", "clean", "faulty", "bare")
    document["faults"] = [{"code": "STK", "name": "Sticky"}, {"code": "BED", "name": "Bead"}]
    tally = run("state", "return [counts(given), faultCounts(given)];", document)
    assert tally[0] == {"clean": 1, "faulty": 2, "bare": 1, "unseen": 0}
    assert [(fault["code"], fault["count"]) for fault in tally[1]] == [("STK", 2)]


@pytest.mark.parametrize(
    ("name", "typed", "read"),
    [
        ("gap_mm", "1,85", {"value": 1.85}),
        ("gap_mm", " ", {"value": None}),
        ("gap_mm", "21", {"problem": "Enter a number from 0 to 20."}),
        ("gap_mm", "half", {"problem": "Enter a number from 0 to 20."}),
        ("direction_deg", "12.6", {"value": 13}),
        ("direction_deg", "-1", {"problem": "Enter a number from 0 to 180."}),
        ("found_length_mm", "10,46", {"value": 10.5}),
        ("found_length_mm", "2", {"problem": "Enter a number from 3 to 25."}),
    ],
)
def test_a_typed_measure_is_read_or_told_what_to_type(run, name: str, typed: str, read: dict[str, Any]):
    assert run("finding", "return readMeasure(...given);", [name, typed]) == read


def test_a_second_tap_takes_a_tick_or_a_measure_off(run):
    script = """
      const empty = findingAt({ faults: [], gap_mm: null, direction_deg: null });
      const once = withMeasure(withFault(empty, "STK"), "gap_mm", 0.5);
      return [once, withMeasure(withFault(once, "STK"), "gap_mm", 0.5), empty];
    """
    once, twice, empty = run("finding", script)
    assert once == {"faults": ["STK"], "gap_mm": 0.5, "direction_deg": None, "found_length_mm": None}
    assert twice == empty


@pytest.mark.parametrize(
    ("found", "planned", "is_off"),
    # Off by 1 mm or more; 8.2 - 7.2 is less than 1 in binary floating point (IEEE 754).
    [
        (9, 9, False),
        (9.9, 9, False),
        (10, 9, True),
        (8, 9, True),
        (8.1, 9, False),
        (8.2, 7.2, True),
        (None, 9, False),
    ],
)
def test_a_fan_is_off_its_map_by_a_millimetre(run, found: float | None, planned: float, is_off: bool):
    assert run("finding", "return isOffMap({ length_mm: given[1] }, given[0]);", [found, planned]) is is_off


def test_a_length_off_the_map_ticks_its_fault_and_a_corrected_one_takes_it_back(run):
    script = """
      const place = { length_mm: 9 };
      const off = withLength(withFault(findingAt(given), "STK"), place, 11);
      return [off, withLength(off, place, 9), withLength(off, place, 11)].map(({ faults }) => faults);
    """
    assert run("finding", script, position(0)) == [["STK", "MAP"], ["STK"], ["STK"]]


def test_a_wrong_length_ticked_by_hand_stays_ticked(run):
    script = """
      const ticked = withFault(findingAt(given), "MAP");
      return withLength(ticked, { length_mm: 9 }, 9).faults;
    """
    assert run("finding", script, position(0)) == ["MAP"]


@pytest.mark.parametrize(
    ("faults", "found", "kind"),
    [(["MAP"], 11, "long"), (["MAP"], 7, "short"), (["MAP", "STK"], 11, "faulty"), (["MAP"], None, "faulty")],
)
def test_a_fan_whose_only_fault_is_its_length_points_the_way_it_errs(run, faults, found, kind: str):
    seen = position(0, "faulty", faults) | {"length_mm": 9, "found_length_mm": found}
    assert run("finding", "return markKind(given);", seen) == kind


# --- On the way to the server --------------------------------------------------------------------


def test_an_event_gets_a_random_uuid_without_https(run):
    uids = run("queue", "return [typeof crypto.randomUUID, newUid(), newUid()];")
    assert uids[0] == "undefined"  # the fallback is what ran
    assert all(UUID(uid).version == 4 and str(UUID(uid)) == uid for uid in uids[1:])  # RFC 9562, section 5.4
    assert uids[1] != uids[2]


QUEUE = """
  const kept = new Map();
  const store = {
    all: async () => [...kept.values()],
    add: async (event) => { kept.set(event.uid, event); return true; },
    remove: async (events) => events.forEach(({ uid }) => kept.delete(uid)),
  };
  const sent = [], answers = given ?? [], refused = [], sets = [];
  let inFlight = 0, mostInFlight = 0;
  const send = async (events) => {
    mostInFlight = Math.max(mostInFlight, ++inFlight);
    sent.push(events.map(({ uid }) => uid));
    await new Promise((done) => setTimeout(done, 5));
    inFlight -= 1;
    const answer = answers.shift() ?? 200;
    if (answer === "lost") throw new TypeError("no network");
    if (answer !== 200) return { status: answer, body: { detail: `status ${answer}` } };
    return { status: 200, body: { set: {}, results: events.map(({ uid }) => ({ uid, status: "applied" })) } };
  };
  const waits = [];
  const queue = new EventQueue({
    store, send,
    onChange: () => {},
    onAnswer: (set, problems) => refused.push(...problems),
    later: (work, ms) => { waits.push(ms); return setTimeout(work, 1); },
  });
  const settle = () => new Promise((done) => setTimeout(done, 120));
"""
REPORT = """
  const left = queue.events.map(({ uid }) => uid);
  return { sent, refused, waits, mostInFlight, left, kept: kept.size, trouble: queue.trouble };
"""


def test_events_are_sent_in_order_with_one_request_in_flight(run):
    steps = 'for (const uid of ["a", "b", "c", "d"]) queue.add({ uid }); await settle();'
    report = run("queue", QUEUE + steps + REPORT)
    assert [uid for batch in report["sent"] for uid in batch] == ["a", "b", "c", "d"]
    assert (report["mostInFlight"], report["left"], report["kept"]) == (1, [], 0)


def test_a_lost_connection_waits_longer_each_time_and_sends_the_same_events(run):
    steps = 'queue.add({ uid: "a" }); await settle();'
    report = run("queue", QUEUE + steps + REPORT, ["lost", 503, "lost"])
    assert report["sent"] == [["a"]] * 4
    assert report["waits"] == [1000, 2000, 4000]
    assert (report["left"], report["trouble"]) == ([], None)


def test_a_signed_out_queue_keeps_everything_and_waits_for_the_person(run):
    steps = 'queue.add({ uid: "a" }); await settle(); queue.add({ uid: "b" }); await settle();'
    report = run("queue", QUEUE + steps + REPORT, [403, 401])
    assert (report["left"], report["kept"], report["trouble"]) == (["a", "b"], 2, "signed_out")
    assert report["waits"] == []


def test_one_event_the_server_cannot_read_does_not_hold_up_the_others(run):
    """Three go together and are refused as a whole; sent one by one, the second is at fault."""
    steps = 'for (const uid of ["a", "b", "c"]) queue.add({ uid }); await settle();'
    report = run("queue", QUEUE + steps + REPORT, [400, 200, 400, 200])
    assert report["sent"] == [["a", "b", "c"], ["a"], ["b"], ["c"]]
    assert [problem["event"]["uid"] for problem in report["refused"]] == ["b"]
    assert report["left"] == []


def test_two_tabs_keep_their_events_beside_each_other_in_order(run):
    script = """
      const [one, other] = [new EventStore(localStorage, "set"), new EventStore(localStorage, "set")];
      const elsewhere = new EventStore(localStorage, "another");
      await one.add({ uid: "b", order: "00000000000002-000000" });
      await other.add({ uid: "a", order: "00000000000001-000000" });
      await elsewhere.add({ uid: "z", order: "00000000000000-000000" });
      const before = (await other.all()).map(({ uid }) => uid);
      await other.remove([{ uid: "a", order: "00000000000001-000000" }]);
      return [before, (await one.all()).map(({ uid }) => uid)];
    """
    assert run("store", script) == [["a", "b"], ["b"]]


def test_a_full_storage_is_told(run):
    script = """
      const full = { setItem: () => { throw new DOMException("full", "QuotaExceededError"); } };
      return new EventStore(full, "set").add({ uid: "a", order: "1" });
    """
    assert run("store", script) is False


def test_every_script_is_a_module_the_browser_can_read(run, page: Page):
    names = sorted(script.name for script in SCRIPTS.glob("*.js"))
    entries = {"clock_page.js", "inspect.js", "marks.js", "new_set.js"}  # these need their page
    assert entries < set(names)
    failed = page.evaluate(
        """async (names) => {
          const read = (name) => import(`./${name}`).then(() => null, (error) => `${name}: ${error}`);
          return (await Promise.all(names.map(read))).filter(Boolean);
        }""",
        [name for name in names if name not in entries],
    )
    assert failed == [], json.dumps(failed)
