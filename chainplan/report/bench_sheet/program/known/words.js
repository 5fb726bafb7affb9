// Texts by their keys, with numbers put in; times and durations in words.

const now = () => Date.now();              // for spans of time on this device
const clock = () => now() + link.offset_ms;   // the time that counts for everybody

const plural = () => new Intl.PluralRules(content.language);

// The text of a key; {name} in it is replaced by values. Texts that depend on a number n have one
// form for "one" and another for all else.
function t(key, values = {}) {
  const table = content.texts;
  let text = table[key];
  if (text === undefined && values.n !== undefined) {
    text = table[`${key}.${plural().select(values.n) === "one" ? "one" : "other"}`];
  }
  if (text === undefined) throw new Error(`no text ${key}`);
  return text.replace(/\{(\w+)\}/g, (whole, name) => (name in values ? String(values[name]) : whole));
}

function showDuration(seconds) {
  const whole = Math.max(0, Math.round(seconds));
  if (whole < 60) return `${whole} s`;
  if (whole < 300) return whole % 60 ? `${Math.floor(whole / 60)} min ${whole % 60} s` : `${whole / 60} min`;
  const minutes = Math.round(whole / 60);
  if (minutes < 60) return `${minutes} min`;
  return minutes % 60 ? `${Math.floor(minutes / 60)} h ${minutes % 60} min` : `${minutes / 60} h`;
}

// Date and time with the offset from UTC, to the second.
function timeStamp(date) {
  const two = (number) => String(number).padStart(2, "0");
  const offset = -date.getTimezoneOffset();
  const sign = offset < 0 ? "-" : "+";
  const away = Math.abs(offset);
  return `${date.getFullYear()}-${two(date.getMonth() + 1)}-${two(date.getDate())}` +
    `T${two(date.getHours())}:${two(date.getMinutes())}:${two(date.getSeconds())}` +
    `${sign}${two(Math.floor(away / 60))}:${two(away % 60)}`;
}

function clockTime(ms) {
  return new Date(ms).toLocaleTimeString(content.language, { hour: "2-digit", minute: "2-digit", hourCycle: "h23" });
}

// Day and time of a moment of the plan, such as "2027-01-12T14:30".
function dayTime(text) {
  const at = new Date(text);
  const day = at.toLocaleDateString(content.language, { weekday: "short", day: "numeric", month: "short" });
  return `${day}, ${clockTime(at.getTime())}`;
}

function today() {
  return timeStamp(new Date()).slice(0, 10);
}

// 36 letters that nobody else draws; works where a page is no secure context too.
function newId() {
  const bytes = crypto.getRandomValues(new Uint8Array(16));
  bytes[6] = (bytes[6] & 0x0f) | 0x40;
  bytes[8] = (bytes[8] & 0x3f) | 0x80;
  const hex = [...bytes].map((byte) => byte.toString(16).padStart(2, "0")).join("");
  return `${hex.slice(0, 8)}-${hex.slice(8, 12)}-${hex.slice(12, 16)}-${hex.slice(16, 20)}-${hex.slice(20)}`;
}

function element(tag, text, name) {
  const made = document.createElement(tag);
  if (text !== undefined) made.textContent = text;
  if (name) made.className = name;
  return made;
}

// A name that is the same in every language: a lot, a column of the log.
function planText(tag, text, name) {
  const made = element(tag, text, name);
  if (content.language !== "en") made.lang = "en";
  return made;
}
