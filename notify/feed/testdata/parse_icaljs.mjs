// Reads a calendar from standard input, or those in the files named, with ical.js
// and prints one JSON object a line for each event, as feed_parsers_test.go
// expects it. ical.js is taken from the folder that BELLBUOY_NPM names.
import { readFileSync } from "node:fs";
import { createRequire } from "node:module";
import { join } from "node:path";

const require = createRequire(join(process.env.BELLBUOY_NPM, "package.json"));
const { default: loaded, ...rest } = await import(require.resolve("ical.js"));
const ICAL = loaded ?? rest;

const moment = (time) => {
  if (!time) return "";
  if (!time.isDate && time.zone.tzid !== "UTC") throw new Error(`not in UTC: ${time}`);
  return time.toICALString();
};

const show = (feed, body) => {
  const calendar = new ICAL.Component(ICAL.parse(body));
  for (const event of calendar.getAllSubcomponents("vevent")) print(feed, event);
};

const print = (feed, event) => {
  const get = (name) => event.getFirstPropertyValue(name);
  console.log(JSON.stringify({
    feed,
    uid: get("uid"),
    summary: get("summary") ?? "",
    description: get("description") ?? "",
    location: get("location") ?? "",
    status: get("status") ?? "",
    start: moment(get("dtstart")),
    end: moment(get("dtend")),
    sequence: get("sequence"),
    lastmod: moment(get("last-modified")),
  }));
};

const files = process.argv.slice(2);
if (files.length === 0) show("", readFileSync(0, "utf8"));
for (const file of files) show(file, readFileSync(file, "utf8"));
