// A list with cards that are still being read is taken anew until all have been.
const ASK_EVERY_MS = 2000;

export function watchList() {
  const list = document.querySelector("[data-waiting]");
  if (!list) return;
  setTimeout(async () => {
    try {
      const answer = await fetch(location.href, { headers: { accept: "text/html" } });
      const page = new DOMParser().parseFromString(await answer.text(), "text/html");
      const fresh = answer.ok && page.getElementById(list.id);
      // Not while somebody is about to press something in it.
      if (fresh && !list.contains(document.activeElement)) list.replaceWith(fresh);
    } catch {
      // The next time, perhaps.
    }
    watchList();
  }, ASK_EVERY_MS);
}
