// Before anything is drawn: say that scripts run, so that what is for without them does not flash up.
const SCRIPTS_COME_WITHIN_MS = 8000;
const page = document.documentElement;
page.classList.add("scripts");
// Where the other scripts got lost on the way, the plain form is better than a button that does nothing.
setTimeout(() => page.dataset.ready || page.classList.remove("scripts"), SCRIPTS_COME_WITHIN_MS);
// The key in the scanned address has done its work; it need not stand there any longer.
if (location.pathname.startsWith("/in/")) history.replaceState(null, "", "/");
