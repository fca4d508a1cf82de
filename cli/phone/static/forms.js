// Forms about a card are sent without leaving the page: what comes back takes the place of the main part.
const ASK_EVERY_MS = 700;
const DOUBLE_TAP_MS = 350; // chosen: a second tap that comes later is meant
const CHANGED_MEANWHILE = 409; // HTTP's word for it: conflict
const NOT_IN = 403; // HTTP's word for it: forbidden
let again = () => {};

export function tell(words, forSeconds = 7) {
  const told = document.getElementById("told");
  told.textContent = words;
  clearTimeout(tell.timer);
  if (words && forSeconds) tell.timer = setTimeout(() => (told.textContent = ""), forSeconds * 1000);
}

export function watchForms(enliven) {
  again = enliven;
  document.addEventListener("submit", (event) => {
    const form = event.target;
    if (form.method !== "post" || !form.closest("[data-mending], .two") || !form.action.includes("/cards/") || form.action.endsWith("/keep")) return;
    event.preventDefault();
    if (document.querySelector("main[aria-busy]")) return; // the second tap of two: what lies under it may have changed
    const fields = new FormData(form, event.submitter);
    post(event.submitter?.getAttribute("formaction") || form.action, new URLSearchParams(fields));
  });
}

export async function post(address, fields) {
  const main = document.getElementById("main");
  main.classList.add("busy");
  main.setAttribute("aria-busy", "true");
  tell("Planning …", 0);
  try {
    const answer = await fetch(address, { method: "POST", body: fields, headers: { accept: "text/html" } });
    const { page, fresh, rules } = parted(await answer.text());
    if (!fresh && answer.status === NOT_IN) {
      tell(page.body.textContent.trim(), 12);
      return false;
    }
    if (!fresh) throw new Error("no page");
    if (!answer.ok) {
      if (answer.status === CHANGED_MEANWHILE) await takeAnew();
      tell(fresh.querySelector(".say")?.textContent || "That did not work.", 12);
      return false;
    }
    if (!fresh.querySelector(".two")) {
      location.href = answer.url;
      return true;
    }
    take(page, fresh, main, rules);
    tell(page.getElementById("told").textContent.trim());
    await new Promise((done) => setTimeout(done, DOUBLE_TAP_MS));
    return true;
  } catch {
    tell("The computer doesn't answer. Is the page still running there? Nothing was changed.", 12);
    return false;
  } finally {
    main.classList.remove("busy");
    main.removeAttribute("aria-busy");
  }
}

// The moves that would mend a card are looked for while one looks at it; once found, the main part is taken anew.
export function watchDraft() {
  const note = document.querySelector("[data-draft]");
  if (!note) return;
  setTimeout(async () => {
    if (!note.isConnected) return;
    try {
      const state = await (await fetch(note.dataset.draft, { headers: { accept: "application/json" } })).json();
      if (state.draft || inUse()) return watchDraft();
      await takeAnew();
    } catch {
      watchDraft();
    }
  }, ASK_EVERY_MS);
}

async function takeAnew() {
  const answer = await fetch(location.pathname, { headers: { accept: "text/html" } });
  const { page, fresh, rules } = parted(await answer.text());
  if (answer.ok && fresh && !inUse()) take(page, fresh, document.getElementById("main"), rules);
}

// What a hand holds, or has typed, must not be taken away under it.
function inUse() {
  const typed = [...document.querySelectorAll("main input")].some((one) => one.type !== "hidden" && one.value !== one.defaultValue);
  return typed || document.querySelector(".held, main input:focus, main select:focus, main .adding");
}

function parted(text) {
  // A style's number counts for its own page only: the places in it are set by the script instead.
  let rules = "";
  const html = text.replace(/<style[^>]*>([^]*?)<\/style>/g, (_, inside) => ((rules += inside), ""));
  const page = new DOMParser().parseFromString(html, "text/html");
  return { page, fresh: page.getElementById("main"), rules };
}

function take(page, fresh, main, rules) {
  const stage = main.querySelector(".stage");
  const was = stage && { wide: stage.firstElementChild.style.width, left: stage.scrollLeft, top: stage.scrollTop, above: stage.getBoundingClientRect().top };
  const open = [...main.querySelectorAll("details")].map((one) => one.open);
  const focused = document.activeElement?.id;
  main.replaceChildren(...fresh.childNodes);
  document.title = page.title;
  place(main, rules);
  main.querySelectorAll("details").forEach((one, at) => (one.open = open[at] || false));
  const now = main.querySelector(".stage");
  if (was && now) {
    now.firstElementChild.style.width = was.wide;
    now.scrollTo({ left: was.left, top: was.top, behavior: "instant" });
    // Words that come or go above it must not move what the eye or a finger rests on.
    scrollBy({ top: now.getBoundingClientRect().top - was.above, behavior: "instant" });
  }
  if (focused) document.getElementById(focused)?.focus({ preventScroll: true });
  again();
}

function place(main, rules) {
  for (const [, selector, body] of rules.matchAll(/([.#][\w-]+)\{([^}]*)\}/g)) {
    const found = main.querySelector(selector);
    if (!found) continue;
    for (const one of body.split(";")) {
      const colon = one.indexOf(":");
      if (colon > 0) found.style.setProperty(one.slice(0, colon), one.slice(colon + 1));
    }
  }
}
