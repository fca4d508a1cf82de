// What every page needs; the rest is fetched where a page has use for it.
import { tell, watchDraft, watchForms } from "./forms.js";

const SOON_MS = 150; // most pages are there before that

export async function enliven() {
  const send = document.querySelector("form.send");
  if (send) (await import("./send.js")).watchSending(send);
  if (document.querySelector("[data-waiting]")) (await import("./list.js")).watchList();
  if (document.querySelector(".stage")) {
    const picture = (await import("./picture.js")).watchPicture();
    if (document.querySelector("[data-dark]")) (await import("./dark.js")).watchDark(picture);
    if (document.querySelector("[data-mending]")) (await import("./mend.js")).watchMending(picture);
  }
  watchDraft();
  document.documentElement.classList.add("scripts");
  document.documentElement.dataset.ready = "yes";
}

// A page that the browser kept for going back shows what was true then.
addEventListener("pageshow", (event) => event.persisted && location.reload());

// Making a page to print takes its time, and a phone shows little of that by itself.
document.addEventListener("click", (event) => {
  const link = event.target.closest?.("a[href]");
  if (!link || event.defaultPrevented || link.pathname === location.pathname) return;
  const words = link.pathname.endsWith(".pdf") ? "Making the page to print …" : "One moment …";
  setTimeout(() => tell(words), SOON_MS);
});

watchForms(enliven);
if (document.getElementById("told").textContent.trim()) tell(document.getElementById("told").textContent.trim());
enliven();
