// Drag marks with their distances told live; keys do the same; what is set down is planned anew.
import { post } from "./forms.js";

const KEY_STEP_MM = 0.5;
const FINE_STEP_MM = 0.1;
const STILL_A_TAP_PX = 5;
const MM_PER_INCH = 25.4;

export function watchMending({ stage, sheet, zoom, setZoom }) {
  const two = document.querySelector("[data-mending]");
  const { limits, units, card } = JSON.parse(two.dataset.mending);
  const address = two.dataset.change;
  const box = sheet.dataset.box.split(" ").map(Number);
  const out = document.querySelector(".reading-out");
  const drop = document.querySelector("[data-drop]");
  const marks = [...sheet.querySelectorAll(".mark")].map((element) => ({
    element,
    about: element.dataset.about,
    name: element.getAttribute("aria-label"),
    at: [Number(element.dataset.x), Number(element.dataset.y)],
  }));
  let chosen = null;
  let adding = false;

  const round = (value) => Math.round(value * 10) / 10;
  const length = (mm) => (units === "in" ? `${(mm / MM_PER_INCH).toFixed(2)} in` : `${mm.toFixed(1)} mm`);
  const inside = ([x, y]) => [Math.min(Math.max(x, 0), card[0]), Math.min(Math.max(y, 0), card[1])];

  function placeOf(event) {
    const frame = sheet.getBoundingClientRect();
    return [
      box[0] + ((event.clientX - frame.left) / frame.width) * box[2],
      box[1] + ((event.clientY - frame.top) / frame.height) * box[3],
    ];
  }

  function draw(mark) {
    mark.element.style.left = `${((mark.at[0] - box[0]) / box[2]) * 100}%`;
    mark.element.style.top = `${((mark.at[1] - box[1]) / box[3]) * 100}%`;
  }

  // Nearest neighbours and the nearest edge, each held against its limit; what is too near is said in words.
  function tellDistances(mark) {
    const [x, y] = mark.at;
    const cell = mark.about === "battery";
    const near = marks
      .filter((other) => other !== mark)
      .map((other) => {
        const distance = Math.hypot(x - other.at[0], y - other.at[1]);
        const withCell = cell || other.about === "battery";
        const limit = withCell ? limits.zone + limits.half_light : limits.lights;
        return { name: other.name, distance, limit };
      })
      .sort((a, b) => a.distance - a.limit - (b.distance - b.limit))
      .slice(0, 2)
      .map((one) => part(`to ${one.name}`, one.distance, one.limit));
    const edges = { left: x, right: card[0] - x, top: y, bottom: card[1] - y };
    const [side, distance] = Object.entries(edges).sort((a, b) => a[1] - b[1])[0];
    const reach = cell ? limits.cell : limits.half_light;
    near.push(part(`to the ${side} edge`, distance - reach, cell ? 0 : limits.edge));
    out.textContent = `${mark.name}: ${near.join("; ")}.`;
  }

  const part = (where, distance, limit) =>
    `${length(distance)} ${where}${distance < limit - 0.05 ? `, too near (needs ${length(limit)})` : ""}`;

  function choose(mark) {
    marks.forEach((one) => one.element.classList.toggle("chosen", one === mark));
    chosen = mark;
    if (drop) {
      drop.disabled = !mark || mark.about === "battery";
      drop.textContent = mark && mark.about !== "battery" ? `Drop ${mark.name}` : "Drop";
    }
    const select = document.getElementById("about");
    if (mark && select) select.value = mark.about;
  }

  const plan = (fields) => post(address, new URLSearchParams({ view: "mend", ...fields }));
  // Numbers go as millimetres whatever the page shows.
  const mm = (value) => `${value.toFixed(2)}mm`;

  async function setDown(mark) {
    mark.element.classList.remove("held");
    const from = mark.from;
    mark.from = null;
    if (!from || Math.hypot(mark.at[0] - from[0], mark.at[1] - from[1]) < 0.05) return;
    const done = await plan({ kind: "move", about: mark.about, across: mm(mark.at[0]), down: mm(mark.at[1]) });
    if (!done) {
      mark.at = from;
      draw(mark);
    }
  }

  for (const mark of marks) {
    const element = mark.element;
    element.onpointerdown = (event) => {
      if (adding || !event.isPrimary || event.button) return;
      event.preventDefault();
      element.focus({ preventScroll: true });
      element.setPointerCapture(event.pointerId);
      choose(mark);
      const grip = placeOf(event);
      const start = { x: event.clientX, y: event.clientY, at: mark.at };
      let moved = false;
      element.onpointermove = (move) => {
        if (!moved && Math.hypot(move.clientX - start.x, move.clientY - start.y) < STILL_A_TAP_PX) return;
        if (!moved) mark.from = start.at;
        element.classList.add("held"); // nothing else takes the picture's place meanwhile
        moved = true;
        const now = placeOf(move);
        mark.at = inside([start.at[0] + now[0] - grip[0], start.at[1] + now[1] - grip[1]]);
        draw(mark);
        tellDistances(mark);
      };
      element.onpointerup = element.onpointercancel = (end) => {
        element.onpointermove = element.onpointerup = element.onpointercancel = null;
        element.classList.remove("held");
        if (end.type === "pointercancel" && moved) {
          mark.at = start.at;
          mark.from = null;
          draw(mark);
        } else if (moved) setDown(mark);
        else tellDistances(mark);
      };
    };
    element.onfocus = () => {
      choose(mark);
      tellDistances(mark);
    };
    element.onkeydown = (event) => {
      const way = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (way) {
        event.preventDefault();
        const step = event.shiftKey ? FINE_STEP_MM : KEY_STEP_MM;
        mark.from ??= mark.at;
        element.classList.add("held");
        mark.at = inside([round(mark.at[0] + way[0] * step), round(mark.at[1] + way[1] * step)]);
        draw(mark);
        tellDistances(mark);
        out.setAttribute("aria-live", "polite");
      } else if (event.key === "Enter" && mark.from) {
        event.preventDefault();
        setDown(mark);
      } else if (event.key === "Escape" && mark.from) {
        mark.at = mark.from;
        mark.from = null;
        element.classList.remove("held");
        draw(mark);
        tellDistances(mark);
      }
    };
  }

  document.querySelector("[data-add]").onclick = (event) => {
    adding = !adding;
    event.target.textContent = adding ? "Don't add" : "Add a light";
    if (adding) stage.scrollIntoView({ block: "nearest" });
    out.textContent = adding ? "Tap the card where the new light goes." : "";
    stage.classList.toggle("adding", adding);
  };
  sheet.onclick = (event) => {
    if (!adding) return;
    event.preventDefault();
    event.stopPropagation();
    const [x, y] = inside(placeOf(event));
    plan({ kind: "add", across: mm(x), down: mm(y) });
  };
  if (drop) drop.onclick = () => chosen && plan({ kind: "drop", about: chosen.about });
}
