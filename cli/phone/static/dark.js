// Tapping a light on the picture ticks it in the list as dark, and the other way round.
export function watchDark({ stage }) {
  const ticks = new Map([...document.querySelectorAll("input[name=dark]")].map((one) => [one.value, one]));
  for (const mark of stage.querySelectorAll(".mark")) {
    const tick = ticks.get(mark.dataset.about);
    if (!tick) continue;
    const show = () => {
      mark.setAttribute("aria-pressed", String(tick.checked));
      mark.classList.toggle("out", tick.checked);
    };
    mark.onclick = () => {
      tick.checked = !tick.checked;
      show();
    };
    tick.onchange = show;
    show();
  }
}
