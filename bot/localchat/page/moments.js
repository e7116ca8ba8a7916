// Moments in words. Moments come as ISO 8601 with an offset; each person reads them in their own
// IANA zone, the bot's clock in UTC. This file knows no clock: "now" is always an argument.

const LANGUAGE = "en-GB";
const DAY_MS = 24 * 60 * 60 * 1000;
const formats = new Map();

function format(zone, options) {
  const key = JSON.stringify([zone, options]);
  if (!formats.has(key)) formats.set(key, makeFormat(zone, options));
  return formats.get(key);
}

function makeFormat(zone, options) {
  try {
    return new Intl.DateTimeFormat(LANGUAGE, { ...options, timeZone: zone });
  } catch (error) {
    // A browser may know fewer zones than the bot; a wrong local time would be worse than UTC.
    if (error instanceof RangeError) return new Intl.DateTimeFormat(LANGUAGE, { ...options, timeZone: "UTC" });
    throw error;
  }
}

/** "08:31" in the zone. */
export function clockTime(moment, zone) {
  return format(zone, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" }).format(new Date(moment));
}

/** "2026-03-02": the local day as a key that sorts. */
export function dayKey(moment, zone) {
  const parts = format(zone, { year: "numeric", month: "2-digit", day: "2-digit" })
    .formatToParts(new Date(moment));
  const part = (type) => parts.find((each) => each.type === type).value;
  return `${part("year")}-${part("month")}-${part("day")}`;
}

/** "Monday 2 March 2026" in the zone. */
export function dayName(moment, zone) {
  return format(zone, { weekday: "long", day: "numeric", month: "long", year: "numeric" })
    .format(new Date(moment)).replace(",", "");
}

/** "Mon 08:31" in the zone. */
export function shortMoment(moment, zone) {
  const weekday = format(zone, { weekday: "short" }).format(new Date(moment));
  return `${weekday} ${clockTime(moment, zone)}`;
}

/** "Monday 2 March 2026, 07:30 UTC". */
export function barMoment(moment) {
  return `${dayName(moment, "UTC")}, ${clockTime(moment, "UTC")} UTC`;
}

/** "07:30 UTC" today, "Tue 07:30 UTC" within six days, "17 Mar, 07:30 UTC" later. */
export function dueMoment(due, now) {
  const away = new Date(due) - new Date(now);
  if (dayKey(due, "UTC") === dayKey(now, "UTC")) return `${clockTime(due, "UTC")} UTC`;
  if (away < 6 * DAY_MS) return `${shortMoment(due, "UTC")} UTC`;
  const day = format("UTC", { day: "numeric", month: "short" }).format(new Date(due));
  return `${day}, ${clockTime(due, "UTC")} UTC`;
}

/** "Lisbon" for Europe/Lisbon. */
export function zonePlace(zone) {
  return zone.split("/").at(-1).replaceAll("_", " ");
}
