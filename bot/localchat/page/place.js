// The dialog in which a place is chosen that the person is to send: a town from a short list or
// latitude and longitude in degrees.

import { make } from "./dom.js";

const TOWNS = [
  ["Lisbon", 38.7223, -9.1393],
  ["Halifax, Nova Scotia", 44.6488, -63.5752],
  ["Kolkata", 22.5726, 88.3639],
  ["Reykjavík", 64.1466, -21.9426],
  ["Auckland", -36.8509, 174.7645],
];

let opened = 0;

/** Ask for a place; gives `{latitude, longitude}` in degrees, or null when it was put away. */
export function askForPlace(name) {
  opened += 1;
  const latitude = degrees(`latitude-${opened}`, 90, TOWNS[0][1]);
  const longitude = degrees(`longitude-${opened}`, 180, TOWNS[0][2]);
  const town = make("select", {
    id: `town-${opened}`,
    onchange: () => {
      [, latitude.value, longitude.value] = TOWNS[Number(town.value)];
    },
  }, ...TOWNS.map(([label], place) => make("option", { value: place }, label)));
  const dialog = make("dialog", { class: "place", "aria-labelledby": `place-${opened}` });
  const form = make("form", { method: "dialog" },
    make("h2", { id: `place-${opened}` }, `Send a place as ${name}`),
    field("Town", town), field("Latitude in degrees", latitude), field("Longitude in degrees", longitude),
    make("div", { class: "place-tools" },
      make("button", { type: "button", class: "quiet", onclick: () => dialog.close() }, "Cancel"),
      make("button", { class: "send", value: "send" }, "Send this place")));
  dialog.append(form);
  document.body.append(dialog);
  dialog.showModal();
  return new Promise((resolve) => {
    dialog.addEventListener("close", () => {
      dialog.remove();
      const chosen = { latitude: Number(latitude.value), longitude: Number(longitude.value) };
      resolve(dialog.returnValue === "send" ? chosen : null);
    });
  });
}

function degrees(id, limit, value) {
  return make("input", { id, type: "number", min: -limit, max: limit, step: "any", required: true, value });
}

function field(label, input) {
  return make("p", { class: "field" }, make("label", { for: input.id }, label), input);
}
