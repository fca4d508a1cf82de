// Before anything is drawn: say that scripts run, so that what is for without them does not flash up.
document.documentElement.classList.add("scripts");
// The key in the scanned address has done its work; it need not stand there any longer.
if (location.pathname.startsWith("/in/")) history.replaceState(null, "", "/");
