// Two readers of calendars that share nothing with the program under test: ical.js and node-ical. Reads one
// question from standard input, {text}, and writes what each of them reads to standard output.
import {readFileSync} from 'node:fs';
import ICAL from 'ical.js';
import nodeIcal from 'node-ical';

const {text} = JSON.parse(readFileSync(0, 'utf8'));

function byIcalJs() {
  const calendar = new ICAL.Component(ICAL.parse(text));
  const method = calendar.getFirstPropertyValue('method');
  return calendar.getAllSubcomponents('vevent').map((component) => {
    const event = new ICAL.Event(component, {strictExceptions: true});
    return {
      method,
      uid: event.uid,
      sequence: event.sequence,
      status: component.getFirstPropertyValue('status'),
      starts: event.startDate.toJSDate().toISOString(),
      ends: event.endDate.toJSDate().toISOString(),
      summary: event.summary,
      location: event.location,
    };
  });
}

function byNodeIcal() {
  const read = nodeIcal.sync.parseICS(text);
  return Object.values(read).filter((each) => each.type === 'VEVENT').map((event) => ({
    method: event.method ?? read.vcalendar?.method ?? null,
    uid: event.uid,
    sequence: Number(event.sequence),
    status: event.status,
    starts: event.start.toISOString(),
    ends: event.end.toISOString(),
    summary: event.summary,
    location: event.location,
  }));
}

process.stdout.write(JSON.stringify({'ical.js': byIcalJs(), 'node-ical': byNodeIcal()}));
