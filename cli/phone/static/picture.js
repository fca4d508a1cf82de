// The picture of the card: larger and smaller, by buttons or two fingers, and to the place of a problem.
const LARGEST = 6;
const STEP = 1.5;
const CLOSE_UP = 2.5;
const LEAST_TARGET_PX = 44;
const NEAREST_LIGHTS_MM = 7; // the rule's; the button at a mark is as wide as the way to the next mark

export function watchPicture() {
  const stage = document.querySelector(".stage");
  const sheet = stage.querySelector(".sheet");
  const zoom = () => (parseFloat(sheet.style.width) || 100) / 100;

  // `at`: the place in the stage that stays where it is, in pixels.
  function setZoom(factor, at = [stage.clientWidth / 2, stage.clientHeight / 2]) {
    const was = zoom();
    const now = Math.min(Math.max(factor, 1), LARGEST);
    const left = ((stage.scrollLeft + at[0]) / was) * now - at[0];
    const top = ((stage.scrollTop + at[1]) / was) * now - at[1];
    sheet.style.width = `${now * 100}%`;
    stage.scrollTo({ left, top, behavior: "instant" });
  }

  function goTo(element) {
    if (!element) return;
    const nearestPx = (NEAREST_LIGHTS_MM / sheet.dataset.box.split(" ")[2]) * stage.clientWidth;
    const close = Math.max(CLOSE_UP, LEAST_TARGET_PX / nearestPx);
    if (zoom() < close) setZoom(close);
    const frame = stage.getBoundingClientRect();
    // A number with the line to its place, so that both are seen.
    const box = (element.querySelector(".spot > i") || element).getBoundingClientRect();
    stage.scrollTo({
      left: stage.scrollLeft + box.left + box.width / 2 - frame.left - frame.width / 2,
      top: stage.scrollTop + box.top + box.height / 2 - frame.top - frame.height / 2,
    });
    stage.scrollIntoView({ block: "nearest" });
    stage.querySelectorAll(".shown, .chosen").forEach((one) => one.classList.remove("shown", "chosen"));
    element.classList.add(element.classList.contains("mark") ? "chosen" : "shown");
    element.focus({ preventScroll: true });
  }

  document.querySelectorAll("[data-zoom]").forEach((button) => {
    button.onclick = () => setZoom(zoom() * (button.dataset.zoom === "in" ? STEP : 1 / STEP));
  });
  document.querySelectorAll("[data-goto], .question a[href^='#doubt-']").forEach((link) => {
    link.onclick = (event) => {
      event.preventDefault();
      goTo(document.getElementById(link.getAttribute("href").slice(1)));
    };
  });
  stage.querySelectorAll(".spot").forEach((spot) => {
    spot.onclick = (event) => {
      const told = document.getElementById(spot.getAttribute("href").slice(1));
      if (!told) return;
      event.preventDefault();
      goTo(spot);
      told.scrollIntoView({ block: "nearest" });
    };
  });
  // A number is smaller than a thumb: what comes down beside it means the nearest one.
  stage.addEventListener("click", (event) => {
    if (event.target.closest(".mark, .spot")) return;
    const reach = (spot) => {
      const box = spot.getBoundingClientRect();
      return Math.hypot(event.clientX - box.left - box.width / 2, event.clientY - box.top - box.height / 2);
    };
    const [nearest] = [...stage.querySelectorAll(".spot")].sort((a, b) => reach(a) - reach(b));
    if (nearest && reach(nearest) <= LEAST_TARGET_PX / 2) nearest.click();
  });
  pinch(stage, zoom, setZoom);
  return { stage, sheet, zoom, setZoom, goTo };
}

function pinch(stage, zoom, setZoom) {
  const fingers = new Map();
  let began = null;
  const spread = () => {
    const [a, b] = [...fingers.values()];
    return Math.hypot(a.clientX - b.clientX, a.clientY - b.clientY);
  };
  stage.addEventListener("pointerdown", (event) => {
    if (event.pointerType !== "touch") return;
    fingers.set(event.pointerId, event);
    if (fingers.size === 2) began = { spread: spread(), zoom: zoom() };
  });
  stage.addEventListener("pointermove", (event) => {
    if (!fingers.has(event.pointerId)) return;
    fingers.set(event.pointerId, event);
    if (!began || fingers.size !== 2) return;
    const frame = stage.getBoundingClientRect();
    const [a, b] = [...fingers.values()];
    const middle = [(a.clientX + b.clientX) / 2 - frame.left, (a.clientY + b.clientY) / 2 - frame.top];
    setZoom((began.zoom * spread()) / began.spread, middle);
  });
  for (const kind of ["pointerup", "pointercancel", "pointerleave"]) {
    stage.addEventListener(kind, (event) => {
      fingers.delete(event.pointerId);
      if (fingers.size < 2) began = null;
    });
  }
}
