// Reads calendars with ical.js: a line of base64 comes in, a line of JSON goes out.
//
// What it makes of a value is printed as it is; whether that is right is judged by the test.

import { createInterface } from "node:readline";
import ICAL from "ical.js";

const text = new TextDecoder("utf-8", { fatal: true });

// A day as 2026-12-04, an instant as 2026-12-04T10:00:00Z; without the Z where it has no zone.
const written = (value) => (value === null ? null : value.toString());

function alarm(component) {
  const trigger = component.getFirstPropertyValue("trigger");
  if (trigger === null) {
    throw new Error("an alarm without a trigger");
  }
  return trigger instanceof ICAL.Time ? written(trigger) : `relative: ${trigger}`;
}

function event(component) {
  const read = new ICAL.Event(component);
  return {
    uid: read.uid,
    sequence: read.sequence,
    start: written(read.startDate),
    end: written(read.endDate),
    summary: read.summary,
    description: read.description,
    location: read.location,
    status: component.getFirstPropertyValue("status"),
    organizer: component.getFirstPropertyValue("organizer"),
    alarms: component.getAllSubcomponents("valarm").map(alarm),
  };
}

function calendar(base64) {
  try {
    const root = new ICAL.Component(ICAL.parse(text.decode(Buffer.from(base64, "base64"))));
    const method = root.getFirstPropertyValue("method");
    return { method, events: root.getAllSubcomponents("vevent").map(event), errors: [] };
  } catch (error) {
    return { method: null, events: [], errors: [`${error.name}: ${error.message}`] };
  }
}

for await (const line of createInterface({ input: process.stdin })) {
  process.stdout.write(`${JSON.stringify(calendar(line))}\n`);
}
