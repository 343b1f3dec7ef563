"""Another tool of the shop that follows its changes, is killed in the middle, and goes on where it was."""

import json
import multiprocessing
import tempfile
import uuid

from google.protobuf import json_format, message_factory

from wire import Wire, day, decimal

SECONDS = 20


def watch(wire, caller, after, count):
    """So many changes after a revision, as they come; the call is cut when they are here."""
    method = wire.method("ChangeService", "WatchChanges")
    request = json_format.ParseDict({"after_revision": str(after)}, message_factory.GetMessageClass(method.input_type)())
    call = wire.channel.unary_stream(
        f"/{method.containing_service.full_name}/WatchChanges",
        request_serializer=lambda message: message.SerializeToString(),
        response_deserializer=message_factory.GetMessageClass(method.output_type).FromString,
    )(request, metadata=caller.metadata, timeout=SECONDS)
    seen = []
    for message in call:
        seen += [change.revision for change in message.changes]
        if len(seen) >= count:
            call.cancel()
            return seen
    return seen


def tool(address, token, after, file):
    """The other tool: writes each revision down before it asks for more, until it is killed."""
    wire = Wire(address)
    while True:
        for revision in watch(wire, wire.caller(token), after, 1):
            with open(file, "a", encoding="utf-8") as kept:
                kept.write(f"{revision}\n")
            after = revision


def revisions(file):
    """What the tool wrote down."""
    try:
        with open(file, encoding="utf-8") as kept:
            return [int(line) for line in kept.read().splitlines()]
    except FileNotFoundError:
        return []


def a_tool_follows_the_shop(today):
    """A tool that follows the shop's changes is killed, and misses nothing"""
    parts, token = today.person("PARTS"), today.person("READ_ONLY").metadata[0][1].removeprefix("Bearer ")
    newest = parts.call("ChangeService", "ListChanges", page_size=1)["changes"][0]
    begun = int(newest["revision"])
    file = f"{tempfile.mkdtemp()}/{uuid.uuid4()}.txt"
    address = today.wire.address

    def note(number):
        parts.change("LedgerService", "AdjustStock", part={"number": "EL-1010"}, bin={"code": "A1"}, change=decimal(1),
                     reason=f"note {number}", occurred_on=day(today.as_of))

    def run_until(after, count):
        process = multiprocessing.get_context("spawn").Process(target=tool, args=(address, token, after, file))
        process.start()
        process.join(timeout=0.1)
        waited = 0.0
        while len(revisions(file)) < count and waited < SECONDS:
            process.join(timeout=0.1)
            waited += 0.1
        process.kill()
        process.join()

    for number in range(5):
        note(number)
    run_until(begun, 3)
    for number in range(5, 10):
        note(number)
    seen = revisions(file)
    run_until(seen[-1] if seen else begun, 10)
    expected = list(range(begun + 1, begun + 11))
    today.equal("each change once, in order, across a kill", revisions(file)[:10], expected)
    own = parts.call("ChangeService", "ListChanges", part={"number": "EL-1010"}, page_size=3)["changes"]
    today.check("who did it is said", own[0]["recorded_by"] == "PARTS of the day", json.dumps(own[0]["recorded_by"]))
    entries = own[0]["movements"][0]["entries"]
    today.check("and what was booked", any(entry["part_number"] == "EL-1010" for entry in entries), len(entries))
    refusal = parts.refused("ChangeService", "WatchChanges", after_revision=str(begun + 10_000))
    today.equal("ahead of the shop", (refusal.code, refusal.reason), ("OUT_OF_RANGE", "REVISION_AHEAD"))


STEPS = [a_tool_follows_the_shop]
